//! Two versions of a library as people and programs read what differs: for a review, in place of reading two answers.

mod json;
mod markdown;
mod text;
mod words;

pub use json::comparison_json;
pub use markdown::comparison_markdown;
pub use text::comparison_text;

use crate::reports::Placed;
use keyon_check::{Level, Verdict, compare::Difference};
use std::collections::BTreeMap;

/// What differs between two versions.
#[derive(Clone, Debug, Default)]
pub struct Comparison {
    /// How the old version is called.
    pub old: String,
    /// How the new version is called.
    pub new: String,
    /// Parts whose text differs.
    pub parts: Vec<PartChange>,
    /// Circuits of which anything differs that their answers come from; in order of their files.
    pub circuits: Vec<CircuitChange>,
    /// Files that are the same with all they use and their settings: nothing of them was computed.
    pub untouched: Vec<String>,
    /// Files with circuits that only the new version has.
    pub added: Vec<String>,
    /// … and that only the old one has.
    pub removed: Vec<String>,
}

/// A part of a library.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PartChange {
    #[allow(missing_docs)]
    pub file: String,
    #[allow(missing_docs)]
    pub part: String,
    /// Lines that only the old version has, blanks joined.
    pub old: Vec<String>,
    /// Lines that only the new version has.
    pub new: Vec<String>,
}

/// A circuit that may have changed.
#[derive(Clone, Debug)]
pub struct CircuitChange {
    #[allow(missing_docs)]
    pub file: String,
    /// The file was another one.
    pub moved: Option<Moved>,
    /// Its name.
    pub circuit: String,
    #[allow(missing_docs)]
    pub difference: Difference,
    /// Findings that only the new version has.
    pub new_findings: Vec<Placed>,
    /// … and that only the old one has.
    pub gone_findings: Vec<Placed>,
    /// Rows of `expect` blocks whose verdict changed.
    pub expectations: Vec<ExpectationChange>,
    /// Rows that hold in the new version, by scenario and what they measure.
    pub holding: BTreeMap<(String, String), String>,
}

/// From where a file was moved.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Moved {
    #[allow(missing_docs)]
    pub from: String,
}

/// A row of an `expect` block; `None` where that version does not have it.
#[derive(Clone, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub struct ExpectationChange {
    pub scenario: String,
    pub text: String,
    pub old: Option<Verdict>,
    pub new: Option<Verdict>,
}

impl ExpectationChange {
    /// It held, or was not there, and does not hold now.
    pub fn fails(&self) -> bool {
        let bad =
            |verdict: &Option<Verdict>| matches!(verdict, Some(Verdict::Fails(_) | Verdict::Refused(_)));
        bad(&self.new) && !bad(&self.old)
    }
}

impl CircuitChange {
    /// Nothing that is compared came out otherwise.
    pub fn is_same(&self) -> bool {
        self.difference.is_empty()
            && self.new_findings.is_empty()
            && self.gone_findings.is_empty()
            && self.expectations.is_empty()
            && self.moved.is_none()
    }

    /// A new error, or an expectation that fails now.
    fn is_worse(&self) -> bool {
        self.new_findings.iter().any(|f| f.level == Level::Error)
            || self.expectations.iter().any(ExpectationChange::fails)
    }

    /// Exercises with answers that changed, and how many: their sheets have to be printed anew.
    fn sheets(&self) -> impl Iterator<Item = (&str, usize)> {
        let exercises = self.difference.states.iter().filter(|state| state.exercise);
        exercises.map(|state| {
            let count = state.readings.iter().map(|change| 1 + change.alike.len()).sum();
            (state.name.strip_prefix("exercise ").unwrap_or(&state.name), count)
        })
    }
}

impl Comparison {
    /// Something got worse: a new error, or an expectation that fails now.
    pub fn is_worse(&self) -> bool {
        self.circuits.iter().any(CircuitChange::is_worse)
    }
}
