//! What `keyon check` found, for people and for what runs in CI: JSON, SARIF, JUnit, workflow commands.

pub mod findings;
mod github;
pub mod ids;
mod junit;
mod sarif;

pub use findings::{Place, Placed, PlacedFix, findings_json, summary};
pub use github::github;
pub use junit::junit;
pub use sarif::{Tool, sarif};

/// Everything that a check has to say.
#[derive(Clone, Debug, Default)]
pub struct CheckReport {
    /// In the order of the files, then of their places.
    pub findings: Vec<Placed>,
    /// The files that were named, in order.
    pub files: Vec<CheckedFile>,
    /// What could not be read, and why.
    pub complaints: Vec<String>,
}

/// A file that was checked.
#[derive(Clone, Debug)]
pub struct CheckedFile {
    /// As shown to people.
    pub name: String,
    /// The circuit's name; `None` for a parts library.
    pub circuit: Option<String>,
    /// The rows of its `expect` blocks.
    pub expectations: Vec<ExpectationCase>,
}

/// A row of an `expect` block and what came of it.
#[derive(Clone, Debug)]
pub struct ExpectationCase {
    #[allow(missing_docs)]
    pub scenario: String,
    /// What is measured.
    pub probe: String,
    /// The row as written.
    pub text: String,
    #[allow(missing_docs)]
    pub line: usize,
    #[allow(missing_docs)]
    pub verdict: keyon_check::Verdict,
}
