//! `keyon probe`.

use crate::{
    args::{PlanFormat, ProbeArgs},
    load::{self, Loaded},
    output::{self, Failure, Outcome},
    subjects,
};
use keyon_circuit::ids::ScenarioId;
use keyon_present::probe_plan;
use keyon_solve::{ElementState, Never, State, fault::Complaint, solve};

pub(crate) fn run(args: &ProbeArgs) -> Result<Outcome, Failure> {
    let loaded = load::load(&args.situation)?;
    let circuit = &loaded.elaboration.circuit;
    let complaint = subjects::complaint(&loaded.elaboration, &args.subject)?;
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
        PlanFormat::Text => probe_plan::probe_plan_text(&page, args.width),
        PlanFormat::Markdown => probe_plan::probe_plan_markdown(&page),
        PlanFormat::Html => probe_plan::probe_plan_html(&page),
    };
    output::deliver(args.output.as_deref(), text.as_bytes())?;
    Ok(if loaded.doubtful { Outcome::Findings } else { Outcome::Sound })
}

/// The state asked for; where none is, the view's, or the first scenario in which the device works.
fn state(loaded: &Loaded, complaint: Complaint) -> (State, Option<ScenarioId>) {
    let circuit = &loaded.elaboration.circuit;
    let asked = &loaded.asked;
    if asked.scenario.is_some() || !asked.held.is_empty() || !asked.said.is_empty() {
        return (loaded.state.clone(), asked.scenario);
    }
    let all = (0..circuit.scenarios.len()).map(ScenarioId::from);
    let works = |scenario: &ScenarioId| match complaint {
        Complaint::Point(_) => true,
        Complaint::Device(device) => {
            let solution = solve(circuit, &State::scenario(circuit, *scenario));
            solution.devices.get(device.index()).is_some_and(|d| d.state != ElementState::Rests)
        }
    };
    match circuit.view.into_iter().chain(all).find(works) {
        Some(scenario) => (State::scenario(circuit, scenario), Some(scenario)),
        None => (loaded.state.clone(), None),
    }
}
