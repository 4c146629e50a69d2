//! The rules: a folder a group, a file a rule, a line each in its group's list.

pub mod driver;
pub mod files;
pub mod names;
pub mod power;
pub mod returns;
pub mod signal;
pub mod sneak;
pub mod teaching;
pub mod values;
pub mod wiring;

use crate::Rule;
use keyon_circuit::near::distance;

const GROUPS: &[&[&Rule]] = &[
    power::RULES,
    returns::RULES,
    driver::RULES,
    signal::RULES,
    sneak::RULES,
    wiring::RULES,
    names::RULES,
    values::RULES,
    files::RULES,
    teaching::RULES,
];

/// All rules, in the order of the manual.
pub fn all() -> impl Iterator<Item = &'static Rule> {
    GROUPS.iter().copied().flatten().copied()
}

/// The rule of this name.
pub fn find(name: &str) -> Option<&'static Rule> {
    all().find(|rule| rule.name() == name)
}

/// The rule whose name is nearest to a misspelt one, if any is near.
pub fn nearest(name: &str) -> Option<&'static str> {
    let most = (name.chars().count() / 3).clamp(1, 6);
    let edits = |rule: &&Rule| Some((distance(name, rule.name(), most)?, rule.name()));
    all().filter_map(|rule| edits(&rule)).min().map(|(_, name)| name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_unique_and_kebab_case() {
        let mut names: Vec<_> = all().map(Rule::name).collect();
        for name in &names {
            assert!(name.chars().all(|c| c.is_ascii_lowercase() || c == '-'), "{name}");
        }
        let count = names.len();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), count);
    }

    #[test]
    fn finds_the_nearest_name() {
        assert_eq!(nearest("no-feed-pth"), Some("no-feed-path"));
        assert_eq!(nearest("voltagedrop"), Some("voltage-drop"));
        assert_eq!(nearest("quite-another-thing"), None);
    }
}
