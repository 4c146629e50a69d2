//! What a probe plan is about, and the state that is held for it, where nobody says.

use keyon_circuit::{
    ids::*,
    model::{Circuit, Element, ElementKind, Role},
};
use keyon_solve::{ElementState, Never, State, cases_of_device, fault::Complaint, solve};

/// A sensor does nothing that could be seen: what is wrong with it shows at the input that reads it.
pub fn read_by(circuit: &Circuit, complaint: Complaint) -> Complaint {
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

/// The scenario that `view` names, or the first one in which the device works, or the fewest controls that make it work; else
/// `base`.
pub fn held_for(circuit: &Circuit, base: &State, complaint: Complaint) -> (State, Option<ScenarioId>) {
    let all = (0..circuit.scenarios.len()).map(ScenarioId::from);
    let works = |scenario: &ScenarioId| match complaint {
        Complaint::Point(_) => true,
        Complaint::Device(device) => {
            let solution = solve(circuit, &State::scenario(circuit, *scenario));
            solution.devices.get(device.index()).is_some_and(|d| d.state != ElementState::Rests)
        }
    };
    if let Some(scenario) = circuit.view.into_iter().chain(all).find(works) {
        return (State::scenario(circuit, scenario), Some(scenario));
    }
    let Complaint::Device(device) = complaint else { return (base.clone(), None) };
    let Ok(cases) = cases_of_device(circuit, base, device, &Never) else {
        return (base.clone(), None);
    };
    let moved = |s: &State| s.positions.iter().zip(&base.positions).filter(|(a, b)| a != b).count();
    let working = cases.cases.iter().filter(|case| {
        let state = case.solution.devices.get(device.index()).map(|d| d.state);
        state.is_some_and(ElementState::operates)
    });
    let found = working.min_by_key(|case| moved(&case.solution.state));
    (found.map_or_else(|| base.clone(), |case| case.solution.state.clone()), None)
}
