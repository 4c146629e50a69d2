//! `keyon probe`.

use crate::{
    args::{PlanFormat, ProbeArgs},
    load::{self, Loaded},
    output::{self, Failure, Outcome},
    subjects,
};
use keyon_circuit::ids::ScenarioId;
use keyon_present::{probe_choice, probe_plan, probe_print};
use keyon_solve::{Never, State, fault::Complaint};

pub(crate) fn run(args: &ProbeArgs) -> Result<Outcome, Failure> {
    let loaded = load::load(&args.situation)?;
    let circuit = &loaded.elaboration.circuit;
    let complaint = probe_choice::read_by(circuit, subjects::complaint(&loaded.elaboration, &args.subject)?);
    let (state, scenario) = state(&loaded, complaint);
    let page = match probe_plan::probe_plan(circuit, &state, scenario, complaint, &Never) {
        Ok(page) => page,
        Err(refused) => return Err(output::refused(refused, "plan")),
    };
    let by_ending = || match args.output.as_ref().and_then(|p| p.extension()).and_then(|e| e.to_str()) {
        Some("md") => PlanFormat::Markdown,
        Some("html") => PlanFormat::Html,
        _ => PlanFormat::Text,
    };
    let text = match args.format.unwrap_or_else(by_ending) {
        PlanFormat::Text => probe_print::text(&page, args.width),
        PlanFormat::Markdown => probe_print::markdown(&page),
        PlanFormat::Html => keyon_present::probe_page(&page),
    };
    output::deliver(args.output.as_deref(), text.as_bytes())?;
    Ok(if loaded.doubtful { Outcome::Findings } else { Outcome::Sound })
}

/// The state asked for, or one in which there is something to see.
fn state(loaded: &Loaded, complaint: Complaint) -> (State, Option<ScenarioId>) {
    let asked = &loaded.asked;
    if asked.scenario.is_some() || !asked.held.is_empty() || !asked.said.is_empty() {
        return (loaded.state.clone(), asked.scenario);
    }
    probe_choice::held_for(&loaded.elaboration.circuit, &loaded.state, complaint)
}
