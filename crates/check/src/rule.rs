//! What a rule is.

use crate::{Facts, Finding, Level, Settings};
use keyon_circuit::{
    Elaboration,
    model::{Circuit, Loc},
};
use keyon_solve::{Cancel, Cancelled};

/// One rule: what it is called, what its manual page says, and how it looks. One file each; made by [`rule!`].
pub struct Rule {
    pub(crate) name: &'static str,
    pub(crate) level: Level,
    pub(crate) group: &'static str,
    pub(crate) summary: &'static str,
    pub(crate) why: &'static str,
    pub(crate) wrong: &'static str,
    pub(crate) right: &'static str,
    pub(crate) settings: &'static [&'static str],
    /// It rests on a wire not being there.
    pub(crate) absence: bool,
    pub(crate) check: Check,
}

/// Looks, and says what it finds. Rules whose findings come from elsewhere (syntax, names, values) find nothing here.
pub(crate) type Check = fn(&Context<'_>, &mut Vec<Finding>) -> Result<(), Cancelled>;

impl Rule {
    /// Kebab-case; reads well after `allow`.
    pub fn name(&self) -> &'static str {
        self.name
    }
    /// The level of most of its findings; a single one may differ.
    pub fn level(&self) -> Level {
        self.level
    }
    /// `power`, `return`, `driver`, `signal`, `sneak`, `wiring`, `names`, `values`, `files`, `teaching`.
    pub fn group(&self) -> &'static str {
        self.group
    }
    /// What it says, in a line.
    pub fn summary(&self) -> &'static str {
        self.summary
    }
    /// Why it matters on the vehicle: a few sentences of Markdown.
    pub fn why(&self) -> &'static str {
        self.why
    }
    /// A whole circuit that it blames, each place marked with a comment `# here: rule-name` (this rule and no other).
    pub fn wrong(&self) -> &'static str {
        self.wrong
    }
    /// The same circuit mended: no finding at all.
    pub fn right(&self) -> &'static str {
        self.right
    }
    /// Keys of a `keyon.toml` that change what it finds, levels apart: limits, `fuses`, `ampacity`.
    pub fn settings(&self) -> &'static [&'static str] {
        self.settings
    }
    /// Whether it rests on a wire not being there, and cannot tell where: where a wire could not be read to its end, that may be
    /// the one, and the rule is not asked.
    pub fn rests_on_absence(&self) -> bool {
        self.absence
    }
    /// A finding of this rule at its usual level.
    pub(crate) fn at(&self, loc: Loc, message: impl Into<String>) -> Finding {
        Finding {
            rule: self.name,
            level: self.level,
            loc,
            message: message.into(),
            help: None,
            related: Vec::new(),
            fixes: Vec::new(),
        }
    }
}

impl std::fmt::Debug for Rule {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.name)
    }
}

/// What a rule sees.
pub struct Context<'a> {
    #[allow(missing_docs)]
    pub elaboration: &'a Elaboration,
    /// `elaboration.circuit`.
    pub circuit: &'a Circuit,
    /// Limits that a user can change.
    pub settings: &'a Settings,
    /// What several rules want to know, each computed once a check.
    pub facts: &'a Facts<'a>,
    #[allow(missing_docs)]
    pub cancel: &'a dyn Cancel,
}

/// Declares a rule as the constant `RULE` of its file. Its examples are `corpus/rules/NAME/wrong.keyon` and
/// `right.keyon`; without `check` its findings come from elsewhere.
macro_rules! rule {
    (name: $name:literal, level: $level:ident, group: $group:literal, summary: $summary:expr, why: $why:expr $(,)?) => {
        $crate::rule::rule!(name: $name, level: $level, group: $group, summary: $summary, why: $why, check: |_, _| Ok(()));
    };
    (
        name: $name:literal, level: $level:ident, group: $group:literal, summary: $summary:expr, why: $why:expr,
        $(settings: $settings:expr,)? $(absence: $absence:expr,)? check: $check:expr $(,)?
    ) => {
        #[allow(missing_docs)]
        pub const RULE: $crate::Rule = $crate::Rule {
            name: $name,
            level: $crate::Level::$level,
            group: $group,
            summary: $summary,
            why: $why,
            wrong: include_str!(concat!(
                env!("CARGO_MANIFEST_DIR"), "/../../corpus/rules/", $name, "/wrong.keyon"
            )),
            right: include_str!(concat!(
                env!("CARGO_MANIFEST_DIR"), "/../../corpus/rules/", $name, "/right.keyon"
            )),
            settings: [$(&$settings as &[&str],)? &[]][0],
            absence: [$($absence,)? false][0],
            check: $check,
        };
    };
}
pub(crate) use rule;
