//! How a legend's entries look beyond those of the states, and which of them a load is drawn as. What works, has stopped or
//! works in both states is told by outline and filling: on grey paper, and to whom no hue speaks.

use super::{View, states};
use keyon_circuit::{
    ids::{ElementId, PointId},
    model::*,
};
use keyon_draw::Pen;
use keyon_solve::{ElementState, NodeState, Solution, fault::same_readings};

/// Loads that operate, and that operate weakly; of a comparison: that do so now.
pub(super) const OPERATES: usize = states::ALL.len();
pub(super) const WEAK: usize = OPERATES + 1;
/// Of a comparison: a load that works before and after, that turns the other way, that has stopped.
pub(super) const BOTH: usize = OPERATES + 2;
pub(super) const TURNED: usize = OPERATES + 3;
pub(super) const STOPPED: usize = OPERATES + 4;
/// Of a comparison: what is the same in both states, and what only reads otherwise.
pub(super) const SAME: usize = OPERATES + 5;
pub(super) const OTHER: usize = OPERATES + 6;
/// Of a comparison: a contact as it stands, and as it stood.
pub(super) const STANDS: usize = OPERATES + 7;
pub(super) const STOOD: usize = OPERATES + 8;

/// What is said of each load's entry.
pub(super) fn of_loads(compared: bool) -> &'static [(usize, &'static str)] {
    if compared {
        &[
            (OPERATES, "operates now"),
            (WEAK, "weak now"),
            (TURNED, "turns the other way now"),
            (STOPPED, "has stopped"),
            (BOTH, "works in both"),
        ]
    } else {
        &[(OPERATES, "operates"), (WEAK, "weak")]
    }
}

/// The pen of an entry, and what fills it: in the states' colours, or in black.
pub(super) fn sample(index: usize, black: bool) -> (Pen, &'static str) {
    let ink = "#111111";
    match states::ALL.get(index) {
        Some(&state) if black => (Pen { ink: ink.to_owned(), ..states::pen(state) }, PAPER),
        Some(&state) => (states::pen(state), PAPER),
        None => match index {
            SAME => (states::same(), PAPER),
            OTHER => (states::other_volts(), PAPER),
            OPERATES => (Pen::new(ink, 2.2, ""), FULL),
            WEAK => (Pen::new(ink, 2.2, ""), PALE),
            TURNED => (Pen::new(ink, 2.2, "9 2 2 2"), FULL),
            STOPPED => (Pen::new(ink, 2.2, "3 2.5"), PAPER),
            BOTH => (Pen::new(ink, 1.3, ""), GREY),
            STANDS => (Pen::new(ink, 3.0, ""), PAPER),
            STOOD => (Pen::new("#4d4d4d", 1.2, "2 2"), PAPER),
            _ => (Pen::new(ink, 1.3, ""), PAPER),
        },
    }
}

/// The entry that what a point carries is drawn as. Volts that differ by no more than a reading may be off stand back: a sag
/// behind a heavier load is no change.
pub(super) fn of_point(view: View<'_>, point: PointId) -> Option<usize> {
    let state = |solution: &Solution| solution.node_states.get(point.index()).copied();
    let index = |state: NodeState| states::ALL.iter().position(|s| *s == state);
    match view {
        View::State(solution) => index(state(solution)?),
        View::Difference(before, after) if state(before) != state(after) => index(state(after)?),
        View::Difference(before, after) => {
            Some(if same_readings(before, after, point) { SAME } else { OTHER })
        }
        _ => None,
    }
}

/// Whether a contact stands otherwise than before.
pub(super) fn has_moved(view: View<'_>, contact: ElementId) -> bool {
    let closed = |solution: &Solution| solution.conducts.get(contact.index()).copied();
    matches!(view, View::Difference(before, after) if closed(before) != closed(after))
}

/// The entry that a load is drawn as; `None`: it does not work.
pub(super) fn of_load(circuit: &Circuit, view: View<'_>, load: ElementId) -> Option<usize> {
    use ElementState::{Chatters, OperatesForward, OperatesReverse, Weak};
    let Owner::Device(device) = circuit.elements.get(load.index())?.owner else { return None };
    let state = |solution: &Solution| {
        let states = &solution.devices.get(device.index())?.elements;
        states.iter().find(|(e, _)| *e == load).map(|(_, state)| *state)
    };
    let entry = |state: ElementState| {
        if state.operates() { Some(OPERATES) } else { (state == Weak).then_some(WEAK) }
    };
    match view {
        View::State(solution) => entry(state(solution)?),
        View::Difference(before, after) => match (state(before)?, state(after)?) {
            (OperatesForward, OperatesReverse) | (OperatesReverse, OperatesForward) => Some(TURNED),
            (before, Chatters) if entry(before).is_some() => None,
            (before, after) => match (entry(before), entry(after)) {
                (None, now) => now,
                (Some(_), None) => Some(STOPPED),
                (Some(before), Some(now)) => Some(if before == now { BOTH } else { now }),
            },
        },
        _ => None,
    }
}

const PAPER: &str = "#ffffff";
/// Fill what operates, what operates weakly, what works before and after.
const FULL: &str = "#ffd24d";
const PALE: &str = "#fff0c2";
const GREY: &str = "#dcdcdc";
