//! What a rule is about, as Markdown.

/// The page of a rule; `None` if there is no rule of that name.
pub fn explain(rule: &str) -> Option<String> {
    keyon_check::explain(rule)
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
