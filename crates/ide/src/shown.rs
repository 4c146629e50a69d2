//! Which state is shown where nothing else is asked for: the held scenario, else the `view` scenario, else the first, else
//! rest.

use crate::View;
use keyon_circuit::{Elaboration, ids::ScenarioId};
use keyon_solve::State;

/// The scenarios' names, in source order.
pub fn scenarios(view: &View<'_>) -> Vec<String> {
    view.elaboration.circuit.scenarios.iter().map(|scenario| scenario.name.to_string()).collect()
}

/// The name of the scenario that is shown; `None` where the state at rest is.
pub fn shown(elaboration: &Elaboration, held: Option<&str>) -> Option<String> {
    let id = pick(elaboration, held)?;
    elaboration.circuit.scenarios.get(id.index()).map(|scenario| scenario.name.to_string())
}

fn pick(elaboration: &Elaboration, held: Option<&str>) -> Option<ScenarioId> {
    let circuit = &elaboration.circuit;
    let held = held.and_then(|name| circuit.scenarios.iter().position(|scenario| scenario.name == name));
    let first = || (!circuit.scenarios.is_empty()).then_some(ScenarioId(0));
    held.map(ScenarioId::from).or(circuit.view).or_else(first)
}

/// The state that is shown, and how to call it.
pub(crate) fn state(view: &View<'_>) -> (State, String) {
    let circuit = &view.elaboration.circuit;
    match pick(view.elaboration, view.held) {
        Some(id) => {
            let name = circuit.scenarios.get(id.index()).map(|s| s.name.to_string()).unwrap_or_default();
            (State::scenario(circuit, id), name)
        }
        None => (State::rest(circuit), "at rest".into()),
    }
}

/// The state on which tables stand: sensors and supplies as shown, nothing done to the circuit, all controls at rest.
pub(crate) fn base(view: &View<'_>) -> State {
    let (shown, _) = state(view);
    let mut base = State::rest(&view.elaboration.circuit);
    base.stimuli = shown.stimuli;
    base.supplies = shown.supplies;
    base
}
