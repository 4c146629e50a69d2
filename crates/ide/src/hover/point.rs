//! Hover on a point: what a meter reads there.

use super::{Page, capital, now};
use crate::{
    View, carries,
    display::volts,
    reason::{floats, probed, reason},
    shown,
};
use keyon_circuit::{
    ids::PointId,
    model::{Change, Circuit, PointKind},
};
use keyon_present::cautions;
use keyon_solve::{Cancelled, NodeState, Solution, solve};
use std::sync::Arc;

pub(super) fn page(view: &View<'_>, page: &mut Page, point: PointId) -> Result<(), Cancelled> {
    page_in(view, page, point, &now(view))
}

/// The same in a state that is solved already.
pub(super) fn page_in(
    view: &View<'_>,
    page: &mut Page,
    point: PointId,
    (solution, name): &(Arc<Solution>, String),
) -> Result<(), Cancelled> {
    let circuit = &view.elaboration.circuit;
    let landings = cautions::landings(circuit, point);
    if !landings.is_empty() {
        page.say(&landings.join("; "));
    }
    page.say(&format!(
        "{}: **{}**, {}",
        capital(name),
        reads(solution, point),
        reason(circuit, solution, point)
    ));
    unplugged(view, page, point, name);
    states(view, page, point)?;
    if probed(circuit, point) {
        page.list(cautions::at_point(circuit, solution, point).into_iter().map(|c| format!("\u{26a0} {c}")));
    }
    Ok(())
}

/// What the meter shows; a floating net is never a plain `0.00 V`.
pub(super) fn reads(solution: &Solution, point: PointId) -> String {
    if floats(solution, point) {
        return "floats".into();
    }
    match solution.volts.get(point.index()).copied().flatten() {
        Some(reading) => volts(reading),
        None => "no reading".into(),
    }
}

/// Controls above which states are not listed: nobody reads such a list, and it takes seconds.
const CONTROLS: usize = 24;

/// The states that matter, condensed. Where the voltage divides, also by how; elsewhere what else is on changes it by
/// the drops in the wiring only.
fn states(view: &View<'_>, page: &mut Page, point: PointId) -> Result<(), Cancelled> {
    let circuit = &view.elaboration.circuit;
    let base = shown::base(view);
    let survey = view.survey(&base);
    let controls = survey.controls_of(&[point], false).len();
    if controls > CONTROLS {
        page.say(&format!(
            "What it reads hangs on {controls} controls, more than a list of states can show: see the truth table."
        ));
        return Ok(());
    }
    let state =
        |solution: &Solution| solution.node_states.get(point.index()).copied().unwrap_or(NodeState::Open);
    let mut cases = survey.cases_of(&[point], &[], carries::limit(circuit), view.cancel)?;
    if cases.cases.iter().any(|case| state(&case.solution) == NodeState::Between)
        && survey.controls_of(&[point], true).len() <= CONTROLS
    {
        cases = survey.cases_of_point(point, carries::limit(circuit), view.cancel)?;
    }
    let figure = |solution: &Solution| solution.volts.get(point.index()).copied().flatten();
    let rows = carries::rows(circuit, &cases, state, figure, (0.03, 0.1));
    if rows.len() > 1 || cases.cut.is_some() {
        page.say(&carries::markdown(circuit, &cases, &rows, &["reads", "why"], |row| {
            let reads = match row.figures {
                Some(figures) if row.key != NodeState::Open => carries::range(figures, volts),
                _ => reads(&row.solution, point),
            };
            vec![reads, reason(circuit, &row.solution, point)]
        }));
    }
    Ok(())
}

/// The harness side of a device's pin with the device unplugged: the reading that tells wiring from device.
fn unplugged(view: &View<'_>, page: &mut Page, point: PointId, name: &str) {
    let circuit = &view.elaboration.circuit;
    let Some(opened) = opened(circuit, point) else { return };
    let (mut state, _) = shown::state(view);
    state.changes.extend(opened);
    let solution = solve(circuit, &state);
    page.say(&format!(
        "Unplugged, {name}, harness side: **{}**, {}",
        reads(&solution, point),
        reason(circuit, &solution, point)
    ));
}

fn opened(circuit: &Circuit, point: PointId) -> Option<Vec<Change>> {
    let PointKind::Pin(device, _) = circuit.points.get(point.index())?.kind else { return None };
    let pins = &circuit.devices.get(device.index())?.pins;
    Some(pins.iter().map(|pin| Change::Open(pin.terminal)).collect())
}
