//! `keyon state`.

use crate::{
    args::{Format, StateArgs, Vary},
    load::{self, Loaded},
    output::{self, Failure, Outcome},
    subjects,
};
use keyon_circuit::{ids::PointId, model::COMMON};
use keyon_present::{Answer, Wanted};
use keyon_solve::{
    Bands, Never,
    probe::{Instrument, TEST_LAMP},
};
use keyon_syntax::unit::{Dimension, Unit};

pub(crate) fn run(args: &StateArgs) -> Result<Outcome, Failure> {
    let loaded = load::load(&args.situation)?;
    let circuit = &loaded.elaboration.circuit;
    let wanted = Wanted { windows: args.windows.map(bands), probe: probe(args, &loaded)? };
    let solution = keyon_solve::solve(circuit, &loaded.state);
    // Nothing asks to stop.
    let Ok(answer) = Answer::new(circuit, &solution, wanted, &Never) else {
        return Err(Failure::Message("the computation was stopped".to_owned()));
    };
    match args.format {
        Format::Json => output::print_json(&keyon_present::state_json(circuit, &answer, &loaded.asked))?,
        Format::Text => output::print(&keyon_present::state_text(circuit, &answer, &loaded.asked))?,
    }
    Ok(if loaded.doubtful { Outcome::Findings } else { Outcome::Sound })
}

fn bands(vary: Vary) -> Bands {
    Bands { tolerances: vary != Vary::Ranges, ranges: vary != Vary::Tolerances }
}

/// The instrument and the point of its other lead.
fn probe(args: &StateArgs, loaded: &Loaded) -> Result<Option<(Instrument, PointId)>, Failure> {
    let Some(text) = &args.probe else { return Ok(None) };
    let lead = match &args.lead {
        Some(name) => subjects::point(&loaded.elaboration, name)?,
        None => COMMON,
    };
    let (word, rest) = text.trim().split_once(' ').unwrap_or((text.trim(), ""));
    let given = match rest.trim() {
        "" => None,
        rest => Some(ohms(rest).ok_or_else(|| {
            format!(
                "--probe '{text}': `{rest}` is no resistance; write it like 'lamp 20 ohm' or 'meter 20 kohm'"
            )
        })?),
    };
    let meter = loaded.state.options.meter;
    let instrument = match word {
        "lamp" => Instrument::Lamp(given.unwrap_or(TEST_LAMP)),
        "meter" => Instrument::Meter(given.unwrap_or(meter)),
        _ => return Err(Failure::Message(format!("--probe '{text}': an instrument is `lamp` or `meter`"))),
    };
    Ok(Some((instrument, lead)))
}

/// A resistance above zero: `20 ohm`, `20kohm`.
fn ohms(text: &str) -> Option<f64> {
    let digits = |c: char| c.is_ascii_digit() || c == '.';
    let at = text.find(|c| !digits(c)).unwrap_or(text.len());
    let (number, unit) = text.split_at(at);
    let unit = Unit::from_spelling(unit.trim()).filter(|unit| unit.dimension() == Dimension::Resistance)?;
    let ohms = number.parse::<f64>().ok()? * unit.factor();
    Some(ohms).filter(|ohms| *ohms > 0.0 && ohms.is_finite())
}
