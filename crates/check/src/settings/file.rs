//! A `keyon.toml` as text: what it says, and where it is wrong.

use super::{
    Glob, Settings, built_in_ampacity, can_be_set,
    limits::{self, LIMITS, Limit},
    quantity,
};
use crate::{Level, rules};
use keyon_syntax::Span;
use std::collections::BTreeMap;
use toml::{
    Spanned,
    de::{DeArray, DeString, DeTable, DeValue},
};

/// The keys at the top of a `keyon.toml`, each with a sentence on it.
pub const TOP_KEYS: &[(&str, &str)] = &[
    ("rules", "The level of a rule: `error`, `warning`, `hint` or `off`."),
    ("limits", "What counts as too much; each with its unit, in quotes."),
    ("ampacity", "Amps that one conductor carries, by its size; replaces the built-in table."),
    ("fuses", "The fuse ratings that can be had, for what messages recommend."),
    ("override", "Other settings for some files; of several that match, the last wins."),
    ("exclude", "Files that are passed over when a folder is checked."),
    (
        "manual",
        "The address of the folder that holds your pages on the rules; reports link to `ADDRESS/RULE`.",
    ),
];

/// The keys of an `[[override]]`.
const OVERRIDE_KEYS: [&str; 5] = ["paths", "rules", "limits", "ampacity", "fuses"];

/// Something wrong in a `keyon.toml`. It is reported, and the rest of the file holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mistake {
    /// Bytes of the file.
    pub span: Span,
    /// What is wrong.
    pub message: String,
    /// What to do.
    pub help: Option<String>,
}

/// What a `keyon.toml` says.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Config {
    base: Part,
    /// In the order of the file.
    pub overrides: Vec<Override>,
    /// What is passed over when a folder is checked.
    pub exclude: Vec<Glob>,
    /// Where the pages of the rules are.
    pub manual: Option<String>,
}

/// Settings for some files.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Override {
    /// Any of them.
    pub paths: Vec<Glob>,
    part: Part,
}

/// What both a file and an override can say.
#[derive(Clone, Debug, Default, PartialEq)]
struct Part {
    levels: BTreeMap<&'static str, Option<Level>>,
    /// Indices into [`LIMITS`].
    limits: Vec<(usize, f64)>,
    ampacity: Option<Vec<(f64, f64)>>,
    fuses: Option<Vec<f64>>,
}

impl Config {
    /// Reads the text. What is wrong is left out of the settings and listed, in the order of the text.
    pub fn parse(text: &str) -> (Self, Vec<Mistake>) {
        let mut reader = Reader { mistakes: Vec::new() };
        let (table, errors) = DeTable::parse_recoverable(text);
        for error in errors {
            let span = error.span().unwrap_or(0..0);
            reader.blame(
                &span,
                error.message().trim().to_owned(),
                Some("see https://toml.io for how TOML is written"),
            );
        }
        let unread = reader.mistakes.len();
        let config = reader.config(table.get_ref());
        let mut mistakes = reader.mistakes;
        // What the reader of TOML put in the place of text that is none needs no second word.
        let told: Vec<Span> = mistakes.iter().take(unread).map(|m| m.span).collect();
        let mut index = 0;
        mistakes.retain(|mistake| {
            index += 1;
            index <= unread || told.iter().all(|t| mistake.span.end < t.start || t.end < mistake.span.start)
        });
        mistakes.sort_by_key(|m| (m.span.start, m.span.end));
        mistakes.dedup();
        (config, mistakes)
    }

    /// Which overrides hold for a path relative to the file's folder, `/` between names.
    pub fn matching(&self, path: &str) -> Vec<usize> {
        let all = self.overrides.iter().enumerate();
        all.filter(|(_, o)| o.paths.iter().any(|glob| glob.matches(path))).map(|(i, _)| i).collect()
    }

    /// Whether a folder's file is passed over.
    pub fn excludes(&self, path: &str) -> bool {
        self.exclude.iter().any(|glob| glob.matches(path))
    }

    /// The settings with these overrides.
    pub fn settings(&self, overrides: &[usize]) -> Settings {
        let mut settings = Settings::default();
        let mut ampacity = built_in_ampacity();
        let parts = overrides.iter().filter_map(|&i| self.overrides.get(i)).map(|o| &o.part);
        for part in std::iter::once(&self.base).chain(parts) {
            settings.levels.extend(part.levels.iter().map(|(&rule, &level)| (rule, level)));
            for &(limit, value) in &part.limits {
                if let Some(limit) = LIMITS.get(limit) {
                    (limit.set)(&mut settings, value);
                }
            }
            if let Some(rows) = &part.ampacity {
                ampacity = rows;
            }
            if let Some(fuses) = &part.fuses {
                settings.fuse_ratings.clone_from(fuses);
            }
        }
        settings.set_ampacity(ampacity);
        settings
    }
}

pub(super) struct Reader {
    mistakes: Vec<Mistake>,
}

type Key<'a, 'i> = &'a Spanned<DeString<'i>>;
pub(super) type Value<'a, 'i> = &'a Spanned<DeValue<'i>>;

impl Reader {
    pub(super) fn blame(&mut self, span: &std::ops::Range<usize>, message: String, help: Option<&str>) {
        let (start, end) = (span.start as u32, span.end.max(span.start) as u32);
        self.mistakes.push(Mistake { span: Span { start, end }, message, help: help.map(str::to_owned) });
    }

    fn unknown_key(&mut self, key: Key<'_, '_>, place: &str, known: &[&str]) {
        let name = key.get_ref().as_ref();
        let help = match keyon_syntax::nearest(name, known.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            // The usual slip: what stands below a `[table]` line belongs to that table.
            None if TOP_KEYS.iter().any(|(top, _)| *top == name) => {
                format!("`{name}` belongs at the top, before the first line in brackets")
            }
            None => format!("there are: {}", known.join(", ")),
        };
        self.blame(&key.span(), format!("{place} has no key `{name}`"), Some(&help));
    }

    pub(super) fn wrong_kind(&mut self, value: Value<'_, '_>, key: &str, wanted: &str) {
        self.blame(&value.span(), format!("`{key}` takes {wanted}"), None);
    }

    fn config(&mut self, table: &DeTable<'_>) -> Config {
        let mut config = Config::default();
        for (key, value) in table {
            match key.get_ref().as_ref() {
                "exclude" => config.exclude = self.globs(value, "exclude"),
                "manual" => match value.get_ref().as_str() {
                    Some(text) if text.contains("://") => {
                        config.manual = Some(text.trim_end_matches('/').to_owned())
                    }
                    _ => self.wrong_kind(
                        value,
                        "manual",
                        "an address in quotes, such as \"https://example.org/rules\"",
                    ),
                },
                "override" => match value.get_ref().as_array() {
                    Some(array) => config.overrides = self.overrides(array),
                    None => {
                        self.wrong_kind(value, "override", "tables: write `[[override]]`, with two brackets")
                    }
                },
                name => {
                    if !self.part(&mut config.base, name, value) {
                        let known: Vec<&str> = TOP_KEYS.iter().map(|(key, _)| *key).collect();
                        self.unknown_key(key, "`keyon.toml`", &known);
                    }
                }
            }
        }
        self.temperatures(&config.settings(&[]), table);
        if let Some(overrides) = table.get("override").and_then(|v| v.get_ref().as_array()) {
            for (index, table) in overrides.iter().filter_map(|o| o.get_ref().as_table()).enumerate() {
                self.temperatures(&config.settings(&[index]), table);
            }
        }
        config
    }

    /// Temperatures that leave a wire nothing.
    fn temperatures(&mut self, settings: &Settings, table: &DeTable<'_>) {
        let Some(limits) = table.get("limits").and_then(|v| v.get_ref().as_table()) else { return };
        for key in ["ambient", "ampacity-at"] {
            let too_hot = limits::find(key).is_some_and(|limit| limit.of(settings) >= settings.insulation);
            if let Some(value) = limits.get(key).filter(|_| too_hot) {
                let message =
                    format!("`{key}` is as hot as the insulation stands, so that no wire carries anything");
                self.blame(
                    &value.span(),
                    message,
                    Some("correct it, or give the `insulation` its own limit"),
                );
            }
        }
    }

    fn overrides(&mut self, array: &DeArray<'_>) -> Vec<Override> {
        let mut overrides = Vec::new();
        for item in array {
            let Some(table) = item.get_ref().as_table() else {
                self.wrong_kind(item, "override", "tables: write `[[override]]`, with two brackets");
                continue;
            };
            let mut one = Override::default();
            let mut named = false;
            for (key, value) in table {
                match key.get_ref().as_ref() {
                    "paths" => {
                        named = true;
                        one.paths = self.globs(value, "paths");
                    }
                    name => {
                        if !self.part(&mut one.part, name, value) {
                            self.unknown_key(key, "`[[override]]`", &OVERRIDE_KEYS);
                        }
                    }
                }
            }
            if !named {
                let help = "say for which files: paths = [\"legacy/**\"]";
                self.blame(
                    &item.span(),
                    "this `[[override]]` has no `paths`, so it holds for nothing".to_owned(),
                    Some(help),
                );
            }
            overrides.push(one);
        }
        overrides
    }

    /// Reads a key that files and overrides share; `false` if it is none.
    fn part(&mut self, part: &mut Part, key: &str, value: Value<'_, '_>) -> bool {
        match key {
            "rules" => match value.get_ref().as_table() {
                Some(table) => self.rules(part, table),
                None => {
                    self.wrong_kind(value, key, "a table: write `[rules]`, and below it a line for each rule")
                }
            },
            "limits" => match value.get_ref().as_table() {
                Some(table) => self.limits(part, table),
                None => self.wrong_kind(
                    value,
                    key,
                    "a table: write `[limits]`, and below it a line for each limit",
                ),
            },
            "ampacity" => match value.get_ref().as_table() {
                Some(table) => part.ampacity = self.ampacity(table, &value.span()),
                None => self.wrong_kind(
                    value,
                    key,
                    "a table: write `[ampacity]`, and below it lines such as \"0.75 mm2\" = \"14 A\"",
                ),
            },
            "fuses" => match value.get_ref().as_array() {
                Some(array) => part.fuses = self.fuses(array, &value.span()),
                None => self.wrong_kind(value, key, "a list such as [\"5 A\", \"7.5 A\", \"10 A\"]"),
            },
            _ => return false,
        }
        true
    }

    fn rules(&mut self, part: &mut Part, table: &DeTable<'_>) {
        for (key, value) in table {
            let name = key.get_ref().as_ref();
            let Some(rule) = rules::find(name) else {
                if TOP_KEYS.iter().any(|(top, _)| *top == name) {
                    self.unknown_key(key, "`[rules]`", &[]);
                    continue;
                }
                let help = rules::nearest(name).map_or_else(
                    || "`keyon explain` lists the rules".to_owned(),
                    |near| format!("did you mean `{near}`?"),
                );
                self.blame(&key.span(), format!("there is no rule `{name}`"), Some(&help));
                continue;
            };
            let level = match value.get_ref().as_str() {
                Some("error") => Some(Level::Error),
                Some("warning") => Some(Level::Warning),
                Some("hint") => Some(Level::Hint),
                Some("off") => None,
                _ => {
                    let text = value.get_ref().as_str().unwrap_or_default();
                    let near = keyon_syntax::nearest(text, ["error", "warning", "hint", "off"]);
                    let help = near.map(|near| format!("did you mean \"{near}\"?"));
                    let message =
                        format!("the level of `{name}` is \"error\", \"warning\", \"hint\" or \"off\"");
                    self.blame(&value.span(), message, help.as_deref());
                    continue;
                }
            };
            if !can_be_set(name) {
                let help = "correct the text that it reports; whole files can be left out with `exclude`";
                self.blame(
                    &key.span(),
                    format!("the level of `{name}` is fixed: what cannot be read cannot be checked"),
                    Some(help),
                );
                continue;
            }
            part.levels.insert(rule.name(), level);
        }
    }

    fn limits(&mut self, part: &mut Part, table: &DeTable<'_>) {
        for (key, value) in table {
            let name = key.get_ref().as_ref();
            let Some((index, limit)) = LIMITS.iter().enumerate().find(|(_, limit)| limit.key == name) else {
                let known: Vec<&str> = LIMITS.iter().map(|limit| limit.key).collect();
                self.unknown_key(key, "`[limits]`", &known);
                continue;
            };
            if let Some(number) = self.limit(limit, value) {
                part.limits.push((index, number));
            }
        }
    }

    fn limit(&mut self, limit: &Limit, value: Value<'_, '_>) -> Option<f64> {
        let Some(text) = value.get_ref().as_str() else {
            self.wrong_kind(value, limit.key, &format!("a quantity in quotes, such as \"{}\"", limit.usual));
            return None;
        };
        match quantity::read(text, limit.dimension) {
            Ok(number) if (limit.span.0..=limit.span.1).contains(&number) => Some(number),
            Ok(_) => {
                let message = format!("`{}` cannot be {text}", limit.key);
                self.blame(&value.span(), message, Some(&format!("it is usually {}", limit.usual)));
                None
            }
            Err(message) => {
                self.blame(
                    &value.span(),
                    message,
                    Some(&format!("`{}` is usually \"{}\"", limit.key, limit.usual)),
                );
                None
            }
        }
    }

    fn globs(&mut self, value: Value<'_, '_>, key: &str) -> Vec<Glob> {
        let Some(array) = value.get_ref().as_array() else {
            self.wrong_kind(value, key, "a list of patterns, such as [\"legacy/**\"]");
            return Vec::new();
        };
        let mut globs = Vec::new();
        for item in array {
            match item.get_ref().as_str().map(Glob::new) {
                Some(Ok(glob)) => globs.push(glob),
                Some(Err(message)) => self.blame(&item.span(), message, None),
                None => self.wrong_kind(item, key, "patterns in quotes, such as \"legacy/**\""),
            }
        }
        globs
    }
}
