//! What else changes from one step to the next.

use super::listed;
use keyon_circuit::{
    ids::*,
    model::{Circuit, Owner},
};
use keyon_solve::{Solution, sweep::Step};

/// What is different in each step from the one before; for the first, what is not as it should be.
pub(super) fn remarks(circuit: &Circuit, steps: &[Step]) -> Vec<Vec<String>> {
    let mut all = Vec::with_capacity(steps.len());
    let mut before: Option<&Solution> = None;
    for step in steps {
        all.push(changed(circuit, before, &step.solution));
        before = Some(&step.solution);
    }
    all
}

fn changed(circuit: &Circuit, before: Option<&Solution>, now: &Solution) -> Vec<String> {
    let mut words = Vec::new();
    let element =
        |id: ElementId| circuit.elements.get(id.index()).map_or_else(String::new, |e| e.name.to_string());
    let has_blown = |s: &Solution, fuse: ElementId| s.blown.iter().any(|(f, _)| *f == fuse);
    for &(fuse, _) in &now.blown {
        if !before.is_some_and(|b| has_blown(b, fuse)) {
            words.push(format!("{} blows", element(fuse)));
        }
    }
    for &(fuse, _) in before.iter().flat_map(|b| &b.blown) {
        if !has_blown(now, fuse) {
            words.push(format!("{} holds", element(fuse)));
        }
    }
    for (m, module) in circuit.modules.iter().enumerate() {
        let alive = |s: &Solution| s.lives(m.into());
        match (before.is_none_or(alive), alive(now)) {
            (true, false) => words.push(format!("{} is dead", module.name)),
            (false, true) => words.push(format!("{} is alive", module.name)),
            _ => {}
        }
    }
    // A coil of a device that is listed is told with it.
    let owned = |coil: &ElementId| {
        let owner = circuit.elements.get(coil.index()).map(|e| e.owner);
        matches!(owner, Some(Owner::Device(d)) if before.is_some() && crate::state::has_loads(circuit, d))
    };
    for &coil in now.chatters.iter().filter(|c| !owned(c)) {
        if !before.is_some_and(|b| b.chatters.contains(&coil)) {
            words.push(format!("{} chatters", element(coil)));
        }
    }
    for device in listed(circuit) {
        let of = |s: &Solution| s.devices.get(device.index()).map(|d| (d.state, d.holds));
        let (Some((state, holds)), Some(device)) = (of(now), circuit.devices.get(device.index())) else {
            continue;
        };
        if before.is_some_and(|b| of(b) != Some((state, holds))) {
            // Each step is solved from rest: a relay that came from higher volts would still hold.
            let would = if holds { " (would hold if energised)" } else { "" };
            words.push(format!("{} {}{would}", device.name, state.words()));
        }
    }
    words
}
