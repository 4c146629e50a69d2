//! A rule's manual page, and the manual of all of them.

use crate::{
    Rule, rules,
    settings::{TOP_KEYS, limits},
};
use std::fmt::Write;

/// The page of the rule of this name, as Markdown: what it says, why it matters, a wrong and a right example, what can be
/// set, how to silence it. `None` if there is no such rule.
pub fn explain(rule: &str) -> Option<String> {
    if rule == crate::settings::RULE {
        return Some(crate::settings::page());
    }
    rules::find(rule).map(page)
}

fn page(rule: &Rule) -> String {
    let mut page = format!("# {}\n\n", rule.name());
    let _ = writeln!(page, "{} of the group {}. {}\n", capital(&a_level(rule)), rule.group(), rule.summary());
    let _ = writeln!(page, "## Why it matters\n\n{}\n", rule.why().trim());
    let _ = writeln!(page, "## Wrong\n\n```keyon\n{}\n```\n", rule.wrong().trim_end());
    let _ = writeln!(page, "## Right\n\n```keyon\n{}\n```\n", rule.right().trim_end());
    let _ = writeln!(
        page,
        "## Settings\n\nIn `keyon.toml`: `[rules]` with `{} = \"off\"`, or another level.",
        rule.name()
    );
    for key in rule.settings() {
        let top = TOP_KEYS.iter().find(|(name, _)| name == key).map(|(_, what)| format!("- `{key}`: {what}"));
        let limit =
            limits::find(key).map(|l| format!("- `[limits]` with `{key} = \"{}\"`: {}", l.usual, l.what));
        let _ = writeln!(page, "{}", top.or(limit).unwrap_or_default());
    }
    if crate::allow::can_be_allowed(rule.name()) {
        let _ = writeln!(
            page,
            "\nWhere it is meant, write on the line before the item, with the reason:\n\n```keyon\nallow {} \"…\"\n```",
            rule.name()
        );
    } else {
        let _ = writeln!(page, "\nIt cannot be silenced with `allow`.");
    }
    page
}

/// "a warning".
fn a_level(rule: &Rule) -> String {
    let level = rule.level().words();
    let article = if level.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" };
    format!("{article} {level}")
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

/// All pages in one, as Markdown, with a list of what there is.
pub fn manual() -> String {
    let mut manual = String::from(
        "# Rules\n\nWhat `keyon check` and the editor report, by groups. `keyon explain RULE` prints one page, `keyon explain --all` \
         all of them; this file is made by that command.\n",
    );
    let mut group = "";
    for rule in rules::all() {
        if rule.group() != group {
            group = rule.group();
            let _ = writeln!(manual, "\n**{group}**\n");
        }
        let (name, level) = (rule.name(), rule.level().words());
        let _ = writeln!(manual, "- [`{name}`](#{name}) ({level}): {}", rule.summary());
    }
    let _ = writeln!(manual, "- [`settings`](#settings) (error): Something in a `keyon.toml` is wrong.");
    for page in rules::all().map(page).chain([crate::settings::page()]) {
        manual.push('\n');
        manual.push_str(&demoted(&page));
    }
    manual
}

/// A page with its headings a level down. What looks like one in a fenced block is a comment.
fn demoted(page: &str) -> String {
    let mut fenced = false;
    let mut out = String::with_capacity(page.len() + 16);
    for line in page.lines() {
        fenced ^= line.starts_with("```");
        if line.starts_with('#') && !fenced {
            out.push('#');
        }
        out.push_str(line);
        out.push('\n');
    }
    out
}
