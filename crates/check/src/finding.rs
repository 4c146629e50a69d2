//! What a rule says.

use keyon_circuit::{Fix, model::Loc};

/// How bad it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)]
pub enum Level {
    Hint,
    Warning,
    Error,
}

impl Level {
    /// As people and JSON read it.
    pub fn words(self) -> &'static str {
        match self {
            Self::Hint => "hint",
            Self::Warning => "warning",
            Self::Error => "error",
        }
    }
}

/// One finding.
#[derive(Clone, Debug)]
pub struct Finding {
    /// The rule's name.
    pub rule: &'static str,
    #[allow(missing_docs)]
    pub level: Level,
    /// Where; a syntax error's place is inside its item too.
    pub loc: Loc,
    /// What is wrong here and why it matters on the vehicle.
    pub message: String,
    /// What to do.
    pub help: Option<String>,
    /// Other places, each with a word on it.
    pub related: Vec<(Loc, String)>,
    /// Edits that mend it.
    pub fixes: Vec<Fix>,
}
