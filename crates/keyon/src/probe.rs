//! `keyon probe`.

use crate::{
    args::{PlanFormat, ProbeArgs},
    load::{self, Loaded},
    output::{self, Failure, Outcome},
    subjects,
};
use keyon_circuit::{
    ids::*,
    model::{Circuit, Element, ElementKind, Role},
};
use keyon_present::probe_plan;
use keyon_solve::{ElementState, Never, State, cases_of_device, fault::Complaint, solve};

pub(crate) fn run(args: &ProbeArgs) -> Result<Outcome, Failure> {
    let loaded = load::load(&args.situation)?;
    let circuit = &loaded.elaboration.circuit;
    let complaint = read_by(circuit, subjects::complaint(&loaded.elaboration, &args.subject)?);
    let (state, scenario) = state(&loaded, complaint)?;
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

/// A sensor does nothing that could be seen: what is wrong with it shows at the input that reads it.
fn read_by(circuit: &Circuit, complaint: Complaint) -> Complaint {
    let Complaint::Device(id) = complaint else { return complaint };
    let Some(device) = circuit.devices.get(id.index()) else { return complaint };
    let elements = || device.elements.iter().filter_map(|e| circuit.elements.get(e.index()));
    let works = |e: &Element| {
        use ElementKind::{Coil, Heater, Lamp, Winding};
        matches!(e.kind, Lamp | Heater | Coil | Winding)
    };
    if elements().any(works) || !elements().any(|e| e.law.stimulus().is_some()) {
        return complaint;
    }
    let solution = solve(circuit, &State::rest(circuit));
    let net = |p: PointId| solution.nets.get(p.index()).copied();
    let mut cavities = circuit.modules.iter().flat_map(|m| &m.connectors).flat_map(|c| &c.cavities);
    // Over wires, which have ohms: from net to net.
    let mut reached: Vec<Option<u32>> = device.pins.iter().map(|pin| net(pin.outside)).collect();
    let mut at = 0;
    while at < reached.len() {
        let here = reached.get(at).copied().flatten();
        at += 1;
        for e in circuit.elements.iter().filter(|e| {
            matches!(
                e.kind,
                ElementKind::Wire | ElementKind::Terminal | ElementKind::Inline | ElementKind::Tie
            )
        }) {
            let (a, b) = (net(e.from), net(e.to));
            for (near, far) in [(a, b), (b, a)] {
                if near == here && far.is_some() && !reached.contains(&far) {
                    reached.push(far);
                }
            }
        }
    }
    let input = cavities.find(|c| matches!(c.role, Role::Senses { .. }) && reached.contains(&net(c.outside)));
    input.map_or(complaint, |cavity| Complaint::Point(cavity.outside))
}

/// The state asked for; where none is, the view's, or the first scenario in which the device works, or the fewest
/// controls that make it work.
fn state(loaded: &Loaded, complaint: Complaint) -> Result<(State, Option<ScenarioId>), Failure> {
    let circuit = &loaded.elaboration.circuit;
    let asked = &loaded.asked;
    if asked.scenario.is_some() || !asked.held.is_empty() || !asked.said.is_empty() {
        return Ok((loaded.state.clone(), asked.scenario));
    }
    let all = (0..circuit.scenarios.len()).map(ScenarioId::from);
    let works = |scenario: &ScenarioId| match complaint {
        Complaint::Point(_) => true,
        Complaint::Device(device) => {
            let solution = solve(circuit, &State::scenario(circuit, *scenario));
            solution.devices.get(device.index()).is_some_and(|d| d.state != ElementState::Rests)
        }
    };
    if let Some(scenario) = circuit.view.into_iter().chain(all).find(works) {
        return Ok((State::scenario(circuit, scenario), Some(scenario)));
    }
    let Complaint::Device(device) = complaint else { return Ok((loaded.state.clone(), None)) };
    let Ok(cases) = cases_of_device(circuit, &loaded.state, device, &Never) else {
        return Ok((loaded.state.clone(), None));
    };
    let moved = |s: &State| s.positions.iter().zip(&loaded.state.positions).filter(|(a, b)| a != b).count();
    let working = cases.cases.iter().filter(|case| {
        let state = case.solution.devices.get(device.index()).map(|d| d.state);
        state.is_some_and(ElementState::operates)
    });
    let found = working.min_by_key(|case| moved(&case.solution.state));
    Ok((found.map_or_else(|| loaded.state.clone(), |case| case.solution.state.clone()), None))
}
