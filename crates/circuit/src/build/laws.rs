//! How elements behave: from the clauses of a statement to [`Law`].

use super::{Builder, values::Want};
use crate::{model::*, units, value::Num};
use keyon_syntax::{
    tree::{self, Value},
    unit::Dimension,
};

/// A two-ended element before it has its ends.
pub(crate) struct Made {
    pub(crate) kind: ElementKind,
    pub(crate) law: Law,
    /// A required value was missing or wrong: a stand-in was taken, and what hangs on it is not to be trusted.
    pub(crate) stand_in: bool,
}

const WATTS: Want = Want::new(Dimension::Power, "the rated power", "21 W").above(0.0);
const RATED_VOLTS: Want = Want::volts("the rated voltage", "12 V");
const COLD: Want = Want::new(Dimension::Resistance, "the cold resistance", "0.7 ohm").above(0.0).to(1e6);
const COIL: Want = Want::load("a coil's resistance", "85 ohm", 999e3).from(0.05);
const PULLS_IN: Want = Want::amps("the current at which a coil pulls in", "0.10 A");
const DROPS_OUT: Want =
    Want::new(Dimension::Current, "the current at which a coil drops out", "0.04 A").from(0.0);
const WINDING: Want = Want::load("a winding's resistance", "6 ohm", 999e3);
const TURNS_AT: Want = Want::amps("the current from which a motor turns", "0.4 A");
const RUNS: Want = Want::amps("the current that a motor draws turning", "0.8 A");
const RATED_AMPS: Want = Want::amps("the rated current", "0.5 A");
const RESISTOR: Want = Want::load("a resistor's resistance", "470 ohm", 1e12);
const DROP: Want = Want::new(Dimension::Voltage, "a diode's drop", "0.7 V")
    .from(0.0)
    .to(100.0)
    .why_most("a silicon diode drops 0.7 V");

impl Builder<'_> {
    /// The law of an element with two ends; contacts, tracks and transducers are made elsewhere (`None`).
    pub(crate) fn law(&mut self, law: &tree::Law) -> Option<Made> {
        let made = |kind, law, stand_in| Some(Made { kind, law, stand_in });
        match law {
            tree::Law::Resistor { ohms } => {
                let ohms = self.num_of(ohms.as_ref(), RESISTOR);
                made(ElementKind::Resistor, Law::Resistance(ohms.unwrap_or(Num::exact(1e3))), ohms.is_none())
            }
            tree::Law::Lamp { watts, volts, cold } => {
                let (law, stand_in) = self.rated(watts.as_ref(), volts.as_ref(), cold.as_ref());
                made(ElementKind::Lamp, law, stand_in)
            }
            tree::Law::Heater { watts, volts, cold } => {
                let (law, stand_in) = self.rated(watts.as_ref(), volts.as_ref(), cold.as_ref());
                made(ElementKind::Heater, law, stand_in)
            }
            tree::Law::Coil { ohms, pulls_in, drops_out, rated } => {
                let resistance = self.num_of(ohms.as_ref(), COIL);
                let in_amps = self.num_of(pulls_in.as_ref(), PULLS_IN);
                let mut out_amps = self.num_of(drops_out.as_ref(), DROPS_OUT);
                let rated = self.rated_at(rated.as_ref());
                if let (Some(i), Some(o), Some(iv), Some(ov)) = (in_amps, out_amps, pulls_in, drops_out)
                    && o.nominal > i.nominal
                    && !self.is_placeholder(iv)
                    && !self.is_placeholder(ov)
                {
                    self.drops_out_above(ov, o, i);
                    // That it chatters so is no second finding.
                    out_amps = None;
                }
                let law = Law::Coil {
                    ohms: resistance.unwrap_or(Num::exact(85.0)),
                    pulls_in: in_amps,
                    drops_out: out_amps,
                    rated,
                };
                made(ElementKind::Coil, law, resistance.is_none())
            }
            tree::Law::Winding { ohms, turns_at, rated, runs } => {
                let resistance = self.num_of(ohms.as_ref(), WINDING);
                let law = Law::Winding {
                    ohms: resistance.unwrap_or(Num::exact(6.0)),
                    turns_at: self.num_of(turns_at.as_ref(), TURNS_AT),
                    rated: self.rated_at(rated.as_ref()),
                    runs: self.num_of(runs.as_ref(), RUNS),
                };
                made(ElementKind::Winding, law, resistance.is_none())
            }
            tree::Law::Diode { drop } => {
                let drop = self.num_of(drop.as_ref(), DROP);
                let law = Law::Diode { drop: drop.unwrap_or(Num::exact(0.7)) };
                made(ElementKind::Diode, law, drop.is_none())
            }
            tree::Law::Thermistor { curve, stimulus } => {
                let (law, stand_in) = self.thermistor(curve.as_ref(), stimulus);
                made(ElementKind::Thermistor, law, stand_in)
            }
            tree::Law::Variable { range, stimulus } => {
                let (law, stand_in) = self.variable(range.as_ref(), stimulus);
                made(ElementKind::Variable, law, stand_in)
            }
            tree::Law::Track { .. }
            | tree::Law::Transducer { .. }
            | tree::Law::Contact { .. }
            | tree::Law::Changeover { .. } => None,
        }
    }

    fn drops_out_above(&mut self, value: &Value, drops_out: Num, pulls_in: Num) {
        let argument = match &value.kind {
            tree::ValueKind::Parameter(name) => {
                self.env.iter().find(|b| b.name == name.text).and_then(|b| b.argument)
            }
            tree::ValueKind::Quantity(_) => None,
        };
        let message = format!(
            "the coil drops out at {}, above the {} at which it pulls in: it could never stay energised",
            units::show(drops_out.nominal, Dimension::Current),
            units::show(pulls_in.nominal, Dimension::Current)
        );
        let help = "a coil holds with less than it needs to pull in: make drops_out the smaller";
        match argument {
            Some(loc) => self.report_always("impossible-value", loc, message).help(help),
            None => {
                let loc = self.at(value.span);
                self.report("impossible-value", loc, message).help(help)
            }
        };
    }

    /// Watts and volts, in either order where parameters hide their dimensions from the parser.
    pub(crate) fn rated(
        &mut self,
        watts: Option<&Value>,
        volts: Option<&Value>,
        cold: Option<&Value>,
    ) -> (Law, bool) {
        let swapped = watts.and_then(|v| self.dimension_of(v)) == Some(Dimension::Voltage)
            && volts.and_then(|v| self.dimension_of(v)) != Some(Dimension::Voltage);
        let (watts, volts) = if swapped { (volts, watts) } else { (watts, volts) };
        let watts = self.num_of(watts, WATTS);
        let volts = self.num_of(volts, RATED_VOLTS);
        let cold = self.num_of(cold, COLD);
        let stand_in = watts.is_none() || volts.is_none();
        let law = Law::Rated {
            watts: watts.unwrap_or(Num::exact(10.0)),
            volts: volts.unwrap_or_else(|| Num::exact(self.nominal_volts())),
            cold,
        };
        (law, stand_in)
    }

    /// `rated`: a current or a voltage.
    fn rated_at(&mut self, value: Option<&Value>) -> Option<Rated> {
        let value = value?;
        if self.dimension_of(value) == Some(Dimension::Voltage) {
            return self.num(value, RATED_VOLTS).map(Rated::Volts);
        }
        self.num(value, RATED_AMPS).map(Rated::Amps)
    }
}
