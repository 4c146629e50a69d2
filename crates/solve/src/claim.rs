//! Whether what a row says is so: rows of `expect` and `readings`, symptoms.
//!
//! A row names something to measure or to look at ([`Probe`]) and says what is to be found ([`Assertion`]). What cannot
//! be judged is refused with a reason, never taken for true or false.

mod judge;
mod measure;
mod ohms;

pub use judge::{judge, judge_all, judge_row};
pub use measure::measure;

use keyon_circuit::{ids::*, model::*};
use keyon_syntax::unit::Dimension;
use smol_str::SmolStr;

/// What came of a row.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// The row is true. Never where it is refused.
    pub holds: bool,
    /// What is found instead, or just so.
    pub got: Got,
    /// Why it cannot be judged.
    pub refused: Option<Refusal>,
}

/// What is found.
#[derive(Clone, Debug, PartialEq)]
pub enum Got {
    /// Node state, device state, `blown`, `good`, `high`, `low`, `bright`, `unlimited`, `floating` …
    Words(SmolStr),
    /// SI units. A reading of an open net is 0 V and says so.
    Number {
        #[allow(missing_docs)]
        value: f64,
        #[allow(missing_docs)]
        dimension: Dimension,
        /// `open` where the meter reads nothing but itself.
        remark: Option<SmolStr>,
    },
    /// Nothing, for the row is refused.
    Nothing,
}

/// Why a row cannot be judged.
#[derive(Clone, Debug, PartialEq)]
pub enum Refusal {
    /// Ohms are asked for on a net that carries a voltage.
    Live(PointId),
    /// Ohms through a lamp or heater of which only the hot resistance is known.
    Cold(ElementId),
    /// This cannot be measured on that; what could be, is said.
    Unfit(String),
}

impl Refusal {
    /// For a person: what is wrong and what to do.
    pub fn words(&self, circuit: &Circuit) -> String {
        let point = |p: &PointId| circuit.points.get(p.index()).map_or("it", |p| p.name.as_str());
        let element = |e: &ElementId| circuit.elements.get(e.index()).map_or("a lamp", |e| e.name.as_str());
        match self {
            Self::Live(p) => format!(
                "`{}` is live in this state: an ohmmeter there reads nonsense and may be damaged; take the power off \
                 and isolate it, with `pull` or `unplug`",
                point(p)
            ),
            Self::Cold(e) => format!(
                "`{}` lies in the way, and its resistance when cold is not known; give it `cold`, or unplug it",
                element(e)
            ),
            Self::Unfit(why) => why.clone(),
        }
    }
}

impl Got {
    pub(crate) fn volts(value: f64) -> Self {
        Self::Number { value, dimension: Dimension::Voltage, remark: None }
    }
    pub(crate) fn number(value: f64, dimension: Dimension) -> Self {
        Self::Number { value, dimension, remark: None }
    }
    pub(crate) fn words(words: &str) -> Self {
        Self::Words(words.into())
    }
}

impl std::fmt::Display for Got {
    /// As a message shows it: `12.6 V`, `85 mA`, `0 V (open)`, `rests`.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Words(words) => f.write_str(words),
            Self::Nothing => f.write_str("nothing"),
            Self::Number { value, dimension, remark } => {
                f.write_str(&quantity(*value, *dimension))?;
                remark.as_ref().map_or(Ok(()), |words| write!(f, " ({words})"))
            }
        }
    }
}

/// A value with the unit that people would use: four digits, zeros at the end left off.
pub fn quantity(value: f64, dimension: Dimension) -> String {
    let (unit, small, large) = match dimension {
        Dimension::Voltage => ("V", Some(("mV", 1e-3)), None),
        Dimension::Current => ("A", Some(("mA", 1e-3)), None),
        Dimension::Resistance => ("ohm", Some(("mohm", 1e-3)), Some(("kohm", 1e3))),
        Dimension::Power => ("W", Some(("mW", 1e-3)), Some(("kW", 1e3))),
        Dimension::Pressure => ("Pa", None, Some(("kPa", 1e3))),
        Dimension::Frequency => ("Hz", None, Some(("kHz", 1e3))),
        Dimension::Temperature => ("degC", None, None),
        Dimension::Length => ("m", None, None),
        Dimension::Area => ("mm2", None, None),
        Dimension::Ratio => return format!("{} %", digits(value * 100.0)),
    };
    if dimension == Dimension::Resistance && value.is_infinite() {
        return "no continuity".into();
    }
    let size = value.abs();
    let (unit, factor) = match (small, large) {
        _ if size == 0.0 => (unit, 1.0),
        (Some(small), _) if (1e-6..0.1).contains(&size) => small,
        (_, Some(large)) if size >= 1e3 => large,
        _ => (unit, 1.0),
    };
    format!("{} {unit}", digits(value / factor))
}

/// Four significant digits at the most; what rounds to nothing is 0.
fn digits(value: f64) -> String {
    if value.abs() < 1e-9 {
        return "0".into();
    }
    let decimals = (3 - value.abs().log10().floor() as i32).clamp(0, 9) as usize;
    let text = format!("{value:.decimals$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if text == "-0" { "0".into() } else { text.into() }
}
