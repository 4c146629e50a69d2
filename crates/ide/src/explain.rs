//! What a rule is about, as Markdown.

/// The page of a rule; `None` if there is no rule of that name.
pub fn explain(rule: &str) -> Option<String> {
    keyon_check::explain(rule)
}

/// A rule in a list to choose from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub struct Rule {
    pub name: &'static str,
    /// Its usual level: `error`, `warning`, `hint`.
    pub level: &'static str,
    pub summary: &'static str,
}

/// All rules, by name.
pub fn rules() -> Vec<Rule> {
    let rules = keyon_check::rules::all();
    let mut all: Vec<Rule> =
        rules.map(|r| Rule { name: r.name(), level: r.level().words(), summary: r.summary() }).collect();
    all.sort_unstable_by_key(|rule| rule.name);
    all
}

/// The same in a few lines.
pub(crate) fn summary(rule: &str) -> Option<String> {
    let rule = keyon_check::rules::find(rule)?;
    Some(format!(
        "**{}** \u{b7} {}: {}\n\n{}",
        rule.name(),
        rule.level().words(),
        rule.summary(),
        rule.why().trim()
    ))
}
