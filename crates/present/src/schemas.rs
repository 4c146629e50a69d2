//! JSON Schemas (draft 2020-12) of what the commands print, and of `keyon.toml`.
//!
//! Those of the outputs are written by hand and held against real outputs in `tests/formats`; that of the settings
//! follows from the tables of the checker.

use keyon_check::{
    Rule, Settings, rules,
    settings::{TOP_KEYS, limits::LIMITS},
};
use keyon_syntax::unit::{Dimension, Unit};
use serde_json::{Map, Value, json};

macro_rules! schemas {
    ($($name:literal),* $(,)?) => {
        /// Name and text.
        const WRITTEN: &[(&str, &str)] =
            &[$(($name, include_str!(concat!("../schemas/", $name, ".schema.json")))),*];
    };
}

schemas!("baseline", "check", "compare", "export", "state", "sweep", "table", "trace");

/// The name of the schema of `keyon.toml`.
const SETTINGS: &str = "settings";

/// All names, sorted.
pub fn names() -> impl Iterator<Item = &'static str> {
    let mut names: Vec<&str> = WRITTEN.iter().map(|(name, _)| *name).chain([SETTINGS]).collect();
    names.sort_unstable();
    names.into_iter()
}

/// The text of a schema; `None` if there is none of this name.
pub fn schema(name: &str) -> Option<String> {
    if name == SETTINGS {
        return Some(format!("{:#}\n", settings()));
    }
    WRITTEN.iter().find(|(known, _)| *known == name).map(|(_, text)| (*text).to_owned())
}

/// The schema of `keyon.toml`.
fn settings() -> Value {
    let what = |key: &str| TOP_KEYS.iter().find(|(known, _)| *known == key).map_or("", |(_, what)| *what);
    let with = |key: &str, value: Value| {
        let mut value = value;
        if let Some(object) = value.as_object_mut() {
            object.insert("description".to_owned(), json!(what(key)));
        }
        (key.to_owned(), value)
    };
    let shared = || {
        [
            with("rules", json!({ "$ref": "#/$defs/rules" })),
            with("limits", json!({ "$ref": "#/$defs/limits" })),
            with("ampacity", json!({ "$ref": "#/$defs/ampacity" })),
            with("fuses", json!({ "$ref": "#/$defs/fuses" })),
        ]
    };
    let mut top: Map<String, Value> = shared().into_iter().collect();
    let mut one: Map<String, Value> = shared().into_iter().collect();
    one.insert("paths".into(), json!({ "$ref": "#/$defs/patterns", "minItems": 1 }));
    let overrides = json!({
        "type": "array",
        "items": {
            "type": "object",
            "required": ["paths"],
            "additionalProperties": false,
            "properties": one,
        },
    });
    top.extend([
        with("override", overrides),
        with("exclude", json!({ "$ref": "#/$defs/patterns" })),
        with("manual", json!({ "type": "string", "pattern": "://" })),
    ]);
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "keyon.toml",
        "description": "Settings of Keyon for the circuits of a folder and those below.",
        "type": "object",
        "additionalProperties": false,
        "properties": top,
        "$defs": {
            "rules": { "type": "object", "additionalProperties": false, "properties": rule_levels() },
            "limits": { "type": "object", "additionalProperties": false, "properties": limits() },
            "ampacity": {
                "type": "object",
                "minProperties": 1,
                "propertyNames": { "pattern": format!("^(AWG *[0-9]+(/0)?|{})$", quantity(Dimension::Area)) },
                "additionalProperties": { "$ref": "#/$defs/amps" },
            },
            "fuses": { "type": "array", "minItems": 1, "items": { "$ref": "#/$defs/amps" } },
            "amps": { "type": "string", "pattern": format!("^{}$", quantity(Dimension::Current)) },
            "patterns": { "type": "array", "items": { "type": "string", "minLength": 1 } },
            "level": { "enum": ["error", "warning", "hint", "off"] },
        },
    })
}

fn rule_levels() -> Map<String, Value> {
    let fixed = rules::files::syntax::RULE.name();
    let level = |rule: &'static Rule| {
        let words = format!("{} Usually: {}.", rule.summary(), rule.level().words());
        (rule.name().to_owned(), json!({ "$ref": "#/$defs/level", "description": words }))
    };
    let mut all: Vec<(String, Value)> = rules::all().filter(|rule| rule.name() != fixed).map(level).collect();
    all.sort_by(|a, b| a.0.cmp(&b.0));
    all.into_iter().collect()
}

fn limits() -> Map<String, Value> {
    let usual = Settings::default();
    let limit = |limit: &keyon_check::settings::limits::Limit| {
        debug_assert!(limit.of(&usual).is_finite());
        let value = json!({
            "type": "string",
            "pattern": format!("^{}$", quantity(limit.dimension)),
            "default": limit.usual,
            "description": limit.what,
        });
        (limit.key.to_owned(), value)
    };
    LIMITS.iter().map(limit).collect()
}

/// A number and a unit of a dimension, as a regular expression.
fn quantity(dimension: Dimension) -> String {
    let fits = |spelling: &&&str| Unit::from_spelling(spelling).is_some_and(|u| u.dimension() == dimension);
    let units: Vec<&str> = Unit::SPELLINGS.iter().filter(fits).copied().collect();
    format!("[-+]?[0-9]+(\\.[0-9]*)?([eE][-+]?[0-9]+)? *({})", units.join("|"))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The file in the repository is what people link to. `KEYON_BLESS=1 cargo test -p keyon-present schemas` writes it.
    #[test]
    fn the_settings_schema_in_the_repository_is_current() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/schemas/settings.schema.json");
        let now = schema(SETTINGS).unwrap();
        if std::env::var_os("KEYON_BLESS").is_some() {
            std::fs::write(path, &now).unwrap();
        }
        assert_eq!(
            std::fs::read_to_string(path).unwrap_or_default(),
            now,
            "write it anew with KEYON_BLESS=1"
        );
    }

    #[test]
    fn every_schema_is_json_with_a_title() {
        for name in names() {
            let schema: Value =
                serde_json::from_str(&schema(name).unwrap()).unwrap_or_else(|e| panic!("{name}: {e}"));
            assert!(schema["title"].is_string() && schema["$schema"].is_string(), "{name}");
        }
        assert_eq!(schema("no-such"), None);
    }

    /// A limit without a row in the schema, and the like, cannot be: both come from the same tables. What can be is a
    /// key that the reader knows and the schema does not.
    #[test]
    fn the_schema_has_every_key_of_the_reader() {
        let schema: Value = settings();
        for (key, _) in TOP_KEYS {
            assert!(schema["properties"].get(*key).is_some(), "{key}");
        }
        assert_eq!(schema["properties"].as_object().unwrap().len(), TOP_KEYS.len());
    }
}
