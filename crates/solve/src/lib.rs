//! What each point carries: tracing, the DC solution, cases and truth tables. Works on a
//! [`Circuit`](keyon_circuit::model::Circuit); knows source text only by the places it carries.

mod assemble;
pub mod cases;
pub mod claim;
mod clash;
mod conduct;
pub mod dc;
mod diagram;
mod electric;
pub mod fault;
mod holds;
pub mod lanes;
mod margins;
mod nets;
mod path;
mod phase;
mod plan;
pub mod probe;
mod rating;
mod readings;
pub mod sensor;
mod settle;
pub mod solution;
mod starting;
pub mod state;
mod stiff;
pub mod sweep;
pub mod table;
mod trace;
pub mod view;
pub mod window;

pub use cases::{
    Case, Cases, DEFAULT_LIMIT, Memory, Survey, Worst, cases_of, cases_of_device, cases_of_element,
    cases_of_point, worst_base, worst_current,
};
pub use claim::{Got, Outcome, Refusal, judge, judge_all, judge_row, measure, quantity};
pub use lanes::{Traced, Tracer};
pub use path::Ways;
pub use solution::{Amps, DeviceState, ElementState, NodeState, Path, Solution, difference, solve};
pub use starting::{Starting, starting};
pub use state::{Options, State};
pub use table::{Basis, Overload, Table, TableGroup, TableRow, device_words, table};
pub use view::{ModuleView, module_view, module_views};
pub use window::{Bands, Method, Reading, Window, window, windows};

/// Asked in every long loop; `true` means: stop, the answer is no longer wanted.
pub trait Cancel: Sync {
    #[allow(missing_docs)]
    fn cancelled(&self) -> bool;

    /// Told now and then: so much is done, of so much at the most.
    fn progress(&self, _done: u64, _most: u64) {}
}

/// Never cancels.
#[derive(Clone, Copy, Debug, Default)]
pub struct Never;

impl Cancel for Never {
    fn cancelled(&self) -> bool {
        false
    }
}

/// The work was cancelled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cancelled;
