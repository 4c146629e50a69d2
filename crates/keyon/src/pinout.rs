//! `keyon pinout`.

use crate::{
    args::{PinoutArgs, PinoutFormat},
    load::{self, Loaded},
    output::{self, Failure, Outcome},
    subjects,
};
use keyon_present::pinout::{self, Pinout, PinoutState};
use keyon_solve::{Bands, Never, State};

pub(crate) fn run(args: &PinoutArgs) -> Result<Outcome, Failure> {
    let loaded = load::plain(&args.file, args.stdin_name.as_deref())?;
    let circuit = &loaded.elaboration.circuit;
    let subject = subjects::connected(&loaded.elaboration, &args.subject)?;
    let wanted = Pinout {
        states: states(&loaded, &args.scenarios)?,
        unplugged: args.unplugged,
        windows: args.windows.then_some(Bands { tolerances: true, ranges: true }),
    };
    // Nothing asks to stop.
    let Ok(tables) = pinout::pinout(circuit, subject, &wanted, &Never) else {
        return Err(Failure::Message("the computation was stopped".to_owned()));
    };
    let by_ending = || match args.output.as_ref().and_then(|p| p.extension()).and_then(|e| e.to_str()) {
        Some("csv") => PinoutFormat::Csv,
        Some("md") => PinoutFormat::Markdown,
        Some("html") => PinoutFormat::Html,
        _ => PinoutFormat::Text,
    };
    let text = match args.format.unwrap_or_else(by_ending) {
        PinoutFormat::Text => pinout::pinout_text(&tables, args.width),
        PinoutFormat::Markdown => pinout::pinout_markdown(&tables),
        PinoutFormat::Csv => pinout::pinout_csv(&tables),
        PinoutFormat::Html => keyon_present::pinout_page(circuit, &tables),
    };
    output::deliver(args.output.as_deref(), text.as_bytes())?;
    Ok(if loaded.doubtful { Outcome::Findings } else { Outcome::Sound })
}

/// The scenarios named; all of the file; rest where there is none.
pub(crate) fn states(loaded: &Loaded, names: &[String]) -> Result<Vec<PinoutState>, Failure> {
    let circuit = &loaded.elaboration.circuit;
    if names.is_empty() && circuit.scenarios.is_empty() {
        return Ok(vec![PinoutState { name: "at rest".to_owned(), state: State::rest(circuit) }]);
    }
    let mut wanted = Vec::new();
    for name in names {
        wanted.push(load::scenario_named(&loaded.elaboration, name)?);
    }
    if names.is_empty() {
        wanted = (0..circuit.scenarios.len()).map(keyon_circuit::ids::ScenarioId::from).collect();
    }
    let each = wanted.into_iter().map(|id| PinoutState {
        name: circuit.scenarios.get(id.index()).map_or_else(String::new, |s| s.name.to_string()),
        state: State::scenario(circuit, id),
    });
    Ok(each.collect())
}
