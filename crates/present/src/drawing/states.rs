//! The palette of node states: hue for eyes that tell hues, weight and dash for grey paper and for those that do not.

use keyon_draw::Pen;
use keyon_solve::{
    NodeState,
    fault::{Accuracy, fits},
};

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

/// The same in two states: it stands back.
pub(super) fn same() -> Pen {
    Pen::new("#b0b0b0", 1.0, "")
}

/// The same state, other volts: less than a change of state.
pub(super) fn other_volts() -> Pen {
    Pen::new("#777777", 2.0, "")
}

/// Whether a meter tells two readings apart: by more than half a percent and ten millivolts.
pub(super) fn reads_the_same(before: Option<f64>, after: Option<f64>) -> bool {
    match (before, after) {
        (Some(a), Some(b)) => fits(a, b, Accuracy { joints: 0.0, ..Accuracy::default() }),
        (a, b) => a.is_none() && b.is_none(),
    }
}
