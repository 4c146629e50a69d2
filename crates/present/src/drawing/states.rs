//! The palette of node states: hue for eyes that tell hues, weight and dash for grey paper and for those that do not.

use keyon_circuit::ids::PointId;
use keyon_draw::Pen;
use keyon_solve::{NodeState, Solution};

/// All states in the order of the legend.
pub(crate) const ALL: [NodeState; 9] = [
    NodeState::Fed,
    NodeState::FedViaLoad,
    NodeState::Grounded,
    NodeState::GroundedViaLoad,
    NodeState::Referenced,
    NodeState::Between,
    NodeState::Open,
    NodeState::Clash,
    NodeState::Chatters,
];

/// Ink, width and dashes of a state.
pub(crate) fn palette(state: NodeState) -> (&'static str, f64, &'static str) {
    match state {
        NodeState::Fed => ("#c1440e", 3.2, ""),
        NodeState::FedViaLoad => ("#c1440e", 3.2, "8 4"),
        NodeState::Grounded => ("#14508c", 1.6, ""),
        NodeState::GroundedViaLoad => ("#14508c", 1.6, "8 4"),
        NodeState::Referenced => ("#7b3294", 2.4, "12 2 2 2"),
        NodeState::Between => ("#75650a", 2.4, "3 3"),
        NodeState::Open => ("#808080", 1.0, "1 4"),
        NodeState::Clash => ("#c4006a", 4.6, "14 2"),
        NodeState::Chatters => ("#00785c", 2.6, "10 3 3 3 3 3"),
    }
}

pub(super) fn pen(state: NodeState) -> Pen {
    let (ink, width, dashes) = palette(state);
    Pen::new(ink, width, dashes)
}

pub(super) fn pen_of(solution: &Solution, point: PointId) -> Pen {
    solution.node_states.get(point.index()).map_or_else(super::thin, |&state| pen(state))
}

/// What is the same stands back.
pub(super) fn difference(before: &Solution, after: &Solution, point: PointId) -> Pen {
    let state = |s: &Solution| s.node_states.get(point.index()).copied();
    let volts = |s: &Solution| s.volts.get(point.index()).copied().flatten();
    let near = match (volts(before), volts(after)) {
        (Some(a), Some(b)) => (a - b).abs() < 0.005,
        (a, b) => a.is_none() && b.is_none(),
    };
    match (state(before), state(after)) {
        (Some(a), Some(b)) if a != b => pen(b),
        _ if near => Pen::new("#b0b0b0", 1.0, ""),
        _ => Pen::new("#333333", 2.4, ""),
    }
}
