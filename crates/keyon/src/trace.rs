//! `keyon trace`.

use crate::{
    args::{Format, TraceArgs},
    load,
    output::{self, Failure, Outcome},
    subjects,
};

pub(crate) fn run(args: &TraceArgs) -> Result<Outcome, Failure> {
    let loaded = load::load(&args.situation)?;
    let circuit = &loaded.elaboration.circuit;
    let point = subjects::point(&loaded.elaboration, &args.point)?;
    let solution = keyon_solve::solve(circuit, &loaded.state);
    let trace = keyon_present::trace(circuit, &solution, point);
    match args.format {
        Format::Json => {
            output::print_json(&keyon_present::trace_json(circuit, &solution, &trace, &loaded.asked))?;
        }
        Format::Text => {
            output::print(&keyon_present::trace_text(circuit, &solution, &trace, &loaded.asked))?;
        }
    }
    Ok(if loaded.doubtful { Outcome::Findings } else { Outcome::Sound })
}
