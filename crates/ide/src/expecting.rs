//! What is computed at a name, as an expectation: a check of tomorrow's edits.

use crate::{
    View,
    place::{end_of_path, name_at},
    shown,
};
use keyon_circuit::Entity;
use keyon_present::figure;
use keyon_solve::NodeState;
use keyon_syntax::{Span, tree::ItemKind};

/// An edit that adds an expectation.
#[derive(Clone, Debug, PartialEq)]
pub struct Expecting {
    /// What it does: "expect left_valve.2 about 0.108 V in spraying".
    pub title: String,
    /// Where it is written.
    pub at: Span,
    #[allow(missing_docs)]
    pub text: String,
}

/// The expectations that could be added for the name at an offset, in the shown scenario.
pub fn expecting(view: &View<'_>, offset: u32) -> Vec<Expecting> {
    let Some(scenario) = shown::shown(view.elaboration, view.held) else { return Vec::new() };
    let Some(found) = name_at(view, offset) else { return Vec::new() };
    let (last, _) = end_of_path(view, found);
    let (state, _) = shown::state(view);
    let rows = rows(view, last.entity, &state);
    rows.into_iter().map(|(name, claim)| edit(view, &scenario, &format!("{name}  {claim}"))).collect()
}

/// What could be claimed of a thing in a scenario: `about 12.4 V +- 10 mV`, `operates`.
pub(crate) fn claims(view: &View<'_>, entity: Entity, scenario: &str) -> Vec<String> {
    let circuit = &view.elaboration.circuit;
    let found = circuit.scenarios.iter().position(|known| known.name == scenario);
    let Some(id) = found.map(keyon_circuit::ids::ScenarioId::from) else { return Vec::new() };
    let rows = rows(view, entity, &keyon_solve::State::scenario(circuit, id));
    rows.into_iter().map(|(_, claim)| claim).collect()
}

/// What is so of a thing in a state: its name and the claim.
fn rows(view: &View<'_>, entity: Entity, state: &keyon_solve::State) -> Vec<(String, String)> {
    let circuit = &view.elaboration.circuit;
    let solution = view.solve(state);
    let mut rows = Vec::new();
    match entity {
        Entity::Device(d) => {
            let device = circuit.devices.get(d.index()).zip(solution.devices.get(d.index()));
            if let Some((device, state)) = device.filter(|(d, _)| crate::table::can_operate(circuit, d)) {
                rows.push((device.name.to_string(), state.state.words().to_string()));
            }
        }
        Entity::Fuse(e) => {
            let amps = solution.amps.get(e.index()).and_then(|a| a.known());
            let name = circuit.elements.get(e.index()).map(|e| e.name.clone());
            if let (Some(amps), Some(name)) = (amps, name) {
                rows.push((name.to_string(), format!("about {} A +- 5 mA", figure::short(amps, 4))));
            }
        }
        entity => {
            let point =
                circuit.point_of(entity).filter(|_| !matches!(entity, Entity::Wire(_) | Entity::Element(_)));
            let name = point.and_then(|p| circuit.points.get(p.index())).map(|p| p.name.clone());
            if let (Some(point), Some(name)) = (point, name) {
                let node = solution.node_states.get(point.index()).copied().unwrap_or(NodeState::Open);
                rows.push((name.to_string(), node.words().to_string()));
                if let Some(volts) = solution.volts.get(point.index()).copied().flatten() {
                    // Less than a millivolt says nothing beside ten.
                    let volts = (volts * 1e3).round() / 1e3 + 0.0;
                    rows.push((name.to_string(), format!("about {} V +- 10 mV", figure::short(volts, 4))));
                }
            }
        }
    }
    rows
}

/// Into a plain `expect` block of the scenario, else as a block of its own at the end.
fn edit(view: &View<'_>, scenario: &str, row: &str) -> Expecting {
    let text = view.text();
    let newline = crate::format::newline(text);
    let title = format!("expect {} in {scenario}", row.replacen("  ", " ", 1));
    let items = view.source().map_or(&[][..], |s| s.parse.file.items.as_slice());
    for placed in items {
        let ItemKind::Expect(expect) = &placed.item.kind else { continue };
        let named = expect.scenario.as_ref().is_some_and(|name| name.text == scenario);
        let span = placed.item.statement.moved(placed.start);
        let body = text.get(span.range()).unwrap_or("");
        // One with set-ups of its own speaks of another state.
        let plain = !["unplug", "pull", "jumper", "load", "fault"]
            .iter()
            .any(|w| body.lines().any(|l| l.trim_start().starts_with(w)));
        if let (true, true, Some(close)) = (named, plain, body.rfind('}')) {
            let line = body.get(..close).and_then(|b| b.rfind('\n'));
            // In one line: `expect in a { … }`.
            let Some(line) = line else { continue };
            let at = span.start as usize + line + 1;
            return Expecting { title, at: Span::new(at, at), text: format!("  {row}{newline}") };
        }
    }
    // Not at the very end: in a note the circuit ends before the text does.
    let end = text.trim_end().len();
    let text = format!("{newline}{newline}expect in {scenario} {{{newline}  {row}{newline}}}");
    Expecting { title, at: Span::new(end, end), text }
}
