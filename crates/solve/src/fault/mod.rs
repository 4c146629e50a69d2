//! Single faults: what can fail in a circuit, and which readings tell one fault from another.
//!
//! A fault is a change of the circuit ([`Change`]), said as exercises say it (decision 42): `open 431`, `short S12 to
//! ground`, `resistance 10 ohm in 431`, `stuck left_cmd on`, `drift temp +10 %`. A reading fits a fault when a meter could
//! not tell it from the computed one (decision 41).

mod catalogue;
mod near;
mod plan;
mod readings;

pub use catalogue::single_faults;
pub use near::Near;
pub use plan::{Complaint, Outcome, Plan, Step, plan};
pub use readings::{Accuracy, fits, same_readings, test_points, test_points_of};

use crate::State;
use keyon_circuit::{ids::*, model::Change};
use smol_str::SmolStr;

/// One thing that has failed.
#[derive(Clone, Debug)]
pub struct Fault {
    /// As an exercise would say it: `open 431`.
    pub words: SmolStr,
    #[allow(missing_docs)]
    pub changes: Vec<Change>,
    /// The elements that it is about.
    pub elements: Vec<ElementId>,
    /// A short joins these: it may matter far away, by the fuse that it blows.
    pub joins: Option<(PointId, PointId)>,
}

impl Fault {
    /// A state with this fault in it.
    pub fn in_state(&self, state: &State) -> State {
        let mut state = state.clone();
        state.changes.extend(self.changes.iter().cloned());
        state
    }
}
