//! A rule's manual page.

use crate::{Rule, rules};
use std::fmt::Write;

/// The page of the rule of this name, as Markdown: what it says, why it matters, a wrong and a right example, how to
/// silence it. `None` if there is no such rule.
pub fn explain(rule: &str) -> Option<String> {
    if rule == crate::settings::RULE {
        return Some(crate::settings::page());
    }
    rules::find(rule).map(page)
}

fn page(rule: &Rule) -> String {
    let mut page = format!("# {}\n\n", rule.name());
    let article = if rule.level().words().starts_with(['a', 'e', 'i', 'o', 'u']) { "An" } else { "A" };
    let _ = writeln!(
        page,
        "{article} {} of the group {}. {}\n",
        rule.level().words(),
        rule.group(),
        rule.summary()
    );
    let _ = writeln!(page, "## Why it matters\n\n{}\n", rule.why().trim());
    let _ = writeln!(page, "## Wrong\n\n```keyon\n{}\n```\n", rule.wrong().trim_end());
    let _ = writeln!(page, "## Right\n\n```keyon\n{}\n```\n", rule.right().trim_end());
    if crate::allow::can_be_allowed(rule.name()) {
        let _ = writeln!(
            page,
            "## Where it is meant\n\nWrite on the line before the item, with the reason:\n\n```keyon\nallow {} \"…\"\n```",
            rule.name()
        );
    } else {
        let _ = writeln!(page, "It cannot be silenced with `allow`.");
    }
    page
}
