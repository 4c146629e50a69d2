//! Findings: rules, `allow`, settings. Reads no files, prints nothing.

pub mod finding;
pub mod rule;

pub use finding::{Finding, Level};
pub use rule::{Context, Rule};

use keyon_circuit::{Elaboration, World};
use keyon_solve::{Cancel, Cancelled};

/// Everything known of one file: its elaboration and its findings.
#[derive(Clone, Debug)]
pub struct Checked {
    /// File 0 is the file asked about.
    pub elaboration: Elaboration,
    /// In source order, after `allow`. Those of a library stand at its file id.
    pub findings: Vec<Finding>,
}

/// Checks one file with its libraries.
///
/// # Errors
/// When `cancel` asks for it.
pub fn check(
    world: &dyn World,
    source: &keyon_circuit::Source,
    cancel: &dyn Cancel,
) -> Result<Checked, Cancelled> {
    let _ = (world, source, cancel);
    unimplemented!()
}
