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

impl Finding {
    /// With what to do.
    #[must_use]
    pub(crate) fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }
    /// With another place.
    #[must_use]
    pub(crate) fn see(mut self, loc: Loc, words: impl Into<String>) -> Self {
        self.related.push((loc, words.into()));
        self
    }
    /// With an edit that mends it.
    #[must_use]
    pub(crate) fn fix(mut self, fix: Fix) -> Self {
        self.fixes.push(fix);
        self
    }
    /// With edits that may be known.
    #[must_use]
    pub(crate) fn fixes(mut self, fixes: impl IntoIterator<Item = Fix>) -> Self {
        self.fixes.extend(fixes);
        self
    }
    /// At another level than the rule's usual one.
    #[must_use]
    pub(crate) fn level(mut self, level: Level) -> Self {
        self.level = level;
        self
    }
}
