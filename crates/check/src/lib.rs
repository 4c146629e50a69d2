//! Findings: rules, `allow`, settings. Reads no files, prints nothing.
//!
//! [`check()`] is syntax errors, what elaboration found, and every rule of [`rules`], less what an `allow` silences and
//! what the [`settings`] turn off.

mod allow;
pub mod compare;
mod explain;
pub mod facts;
pub mod finding;
pub mod fix;
pub mod library;
mod meant;
mod pieces;
mod report;
pub mod rule;
pub mod rules;
pub mod settings;
mod uses;
mod words;

pub use explain::{explain, manual};
pub use facts::Facts;
pub use finding::{Finding, Level};
pub use library::{Summary, conflicts};
pub use pieces::{Memo, Pieces};
pub use report::{Expectation, Report, Run, Verdict, probe_name};
pub use rule::{Context, Rule};
pub use settings::Settings;

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

/// Checks one file with its libraries, with the usual settings.
///
/// # Errors
/// When `cancel` asks for it.
pub fn check(
    world: &dyn World,
    source: &keyon_circuit::Source,
    cancel: &dyn Cancel,
) -> Result<Checked, Cancelled> {
    check_with(world, source, &Settings::default(), cancel)
}

/// Checks one file with its libraries; the settings hold for all of them.
///
/// # Errors
/// When `cancel` asks for it.
pub fn check_with(
    world: &dyn World,
    source: &keyon_circuit::Source,
    settings: &Settings,
    cancel: &dyn Cancel,
) -> Result<Checked, Cancelled> {
    let elaboration = keyon_circuit::elaborate(world, source);
    let findings = findings(&elaboration, settings, cancel)?;
    Ok(Checked { elaboration, findings })
}

/// The findings of what is elaborated already; the settings hold for all its files.
///
/// # Errors
/// When `cancel` asks for it.
pub fn findings(
    elaboration: &Elaboration,
    settings: &Settings,
    cancel: &dyn Cancel,
) -> Result<Vec<Finding>, Cancelled> {
    let run = Run { settings: &[settings], expectations: false, memo: None, done: None, threads: 1, cancel };
    Ok(run.report(elaboration)?.findings)
}
