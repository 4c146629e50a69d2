//! Heating elements in series that somebody meant: low heat by two of them, a slow fan by one before its motor.

use super::sneak_path::{Way, own_path, way};
use crate::{Context, facts::paths::state_of};
use keyon_circuit::{
    ids::*,
    model::{Element, ElementKind, Law},
};
use keyon_solve::{Cancelled, ElementState, Solution};
use std::collections::BTreeSet;

/// Whether what a current passes is heating elements, at most with a motor behind them, that whoever set these controls wanted in
/// series: what of it can work by itself does so by the same controls, in other positions, and with its current the same way round.
pub(super) fn heats_in_series(
    context: &Context<'_>,
    solution: &Solution,
    device: DeviceId,
    load: ElementId,
    way: &Way,
) -> Result<bool, Cancelled> {
    let facts = context.facts;
    let element = |id: ElementId| context.circuit.elements.get(id.index());
    let members = || way.others.iter().copied().chain([(device, load)]);
    let kind = |kind: ElementKind| {
        members().filter(move |(_, e)| element(*e).is_some_and(|e| e.kind == kind)).count()
    };
    let (heaters, motors) = (kind(ElementKind::Heater), kind(ElementKind::Winding));
    if way.others.is_empty() || heaters == 0 || heaters + motors < members().count() {
        return Ok(false);
    }
    let set: BTreeSet<ControlId> = away(solution);
    let amps = |s: &Solution, e: ElementId| s.amps.get(e.index()).and_then(|a| a.known()).unwrap_or_default();
    let mut by_itself = false;
    for (device, load) in members() {
        let Some(e) = element(load) else { return Ok(false) };
        let own = |s: &Solution| own_path(facts, s, device, load, e) && amps(s, load).abs() > 1e-6;
        let cases = facts.device_cases(device)?;
        let Some(case) = cases.cases.iter().find(|case| own(&case.solution)) else {
            // A motor that never works by itself is in series with something by mistake.
            if e.kind != ElementKind::Heater {
                return Ok(false);
            }
            continue;
        };
        by_itself = true;
        let (_, best) = facts.fewest(&case.solution.state, own);
        let same_way = (amps(&best, load) > 0.0) == (amps(solution, load) > 0.0);
        if !same_way || !set.is_subset(&away(&best)) {
            return Ok(false);
        }
    }
    Ok(by_itself)
}

/// Whether a heating element or a lamp is there to be in series: the element with something that works by itself otherwise, the
/// lamp with a motor that gets by it what it is said to draw.
pub(in crate::rules) fn is_ballast(
    context: &Context<'_>,
    device: DeviceId,
    load: ElementId,
    e: &Element,
) -> Result<bool, Cancelled> {
    if !matches!(e.kind, ElementKind::Heater | ElementKind::Lamp) {
        return Ok(false);
    }
    let cases = context.facts.device_cases(device)?;
    let amps = |s: &Solution| s.amps.get(load.index()).and_then(|a| a.known()).unwrap_or_default();
    let carries = |s: &Solution| amps(s).abs() > 1e-6;
    let Some(case) = cases.cases.iter().find(|case| carries(&case.solution)) else { return Ok(false) };
    let (_, solution) = context.facts.fewest(&case.solution.state, carries);
    let way = way(context, &solution, device, load, amps(&solution) >= 0.0);
    if e.kind == ElementKind::Lamp {
        return Ok(slows_a_motor(context, &solution, &way));
    }
    heats_in_series(context, &solution, device, load, &way)
}

/// Whether all that a current passes operates by it, a motor that says what it `runs` at among it: somebody has reckoned with what
/// stands before it.
fn slows_a_motor(context: &Context<'_>, solution: &Solution, way: &Way) -> bool {
    let runs = |&(_, id): &(DeviceId, ElementId)| {
        let e = context.circuit.elements.get(id.index());
        e.is_some_and(|e| matches!(&e.law, Law::Winding { runs: Some(_), .. }))
    };
    let operates =
        |&(device, id): &(DeviceId, ElementId)| state_of(solution, device, id) >= ElementState::Operates;
    way.others.iter().any(runs) && way.others.iter().all(operates)
}

/// The controls that are away from rest.
fn away(solution: &Solution) -> BTreeSet<ControlId> {
    let positions = solution.state.positions.iter().enumerate();
    positions.filter(|(_, p)| **p != 0).map(|(control, _)| ControlId::from(control)).collect()
}
