//! `keyon state`.

use crate::{
    args::{Format, StateArgs},
    load,
    output::{self, Failure, Outcome},
};

pub(crate) fn run(args: &StateArgs) -> Result<Outcome, Failure> {
    let loaded = load::load(&args.situation)?;
    let circuit = &loaded.elaboration.circuit;
    let solution = keyon_solve::solve(circuit, &loaded.state);
    match args.format {
        Format::Json => output::print_json(&keyon_present::state_json(circuit, &solution, &loaded.asked))?,
        Format::Text => output::print(&keyon_present::state_text(circuit, &solution, &loaded.asked))?,
    }
    Ok(if loaded.doubtful { Outcome::Findings } else { Outcome::Sound })
}
