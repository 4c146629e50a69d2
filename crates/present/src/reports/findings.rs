//! Findings as JSON, and the line that sums them up.

use keyon_check::Level;
use serde_json::{Value, json};

/// A finding with its place resolved: what the terminal, JSON and a summary need.
#[derive(Clone, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub struct Placed {
    pub rule: String,
    pub level: Level,
    pub message: String,
    pub help: Option<String>,
    pub at: Place,
    /// Other places, each with a word on it.
    pub related: Vec<(Place, String)>,
    /// Edits that mend it.
    pub fixes: Vec<PlacedFix>,
    /// What its identity is made of; see [`super::ids`].
    pub anchor: String,
    /// Its identity: 32 hexadecimal digits, the same while the finding is.
    pub id: String,
}

/// An edit that mends something, with its places resolved.
#[derive(Clone, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub struct PlacedFix {
    pub title: String,
    /// Whether it may be made without a look.
    pub safe: bool,
    /// What is replaced, and by what; not overlapping.
    pub edits: Vec<(Place, String)>,
}

/// A place in a file: lines and columns from 1, columns in characters; the end is exclusive.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs)]
pub struct Place {
    /// As shown to people.
    pub file: String,
    pub line: usize,
    pub column: usize,
    pub end_line: usize,
    pub end_column: usize,
}

/// Which shape the JSON of the findings has; see `schemas/check.schema.json`.
const VERSION: u32 = 1;

/// `{"version": 1, "findings": […]}`.
pub fn findings_json(findings: &[Placed]) -> Value {
    let findings: Vec<Value> = findings.iter().map(finding_json).collect();
    json!({ "version": VERSION, "findings": findings })
}

/// One finding.
pub fn finding_json(finding: &Placed) -> Value {
    let related: Vec<Value> =
        finding.related.iter().map(|(at, word)| place_json(at, ("message", json!(word)))).collect();
    let fixes: Vec<Value> = finding
        .fixes
        .iter()
        .map(|fix| {
            let edits: Vec<Value> =
                fix.edits.iter().map(|(at, text)| place_json(at, ("text", json!(text)))).collect();
            json!({ "title": fix.title, "safe": fix.safe, "edits": edits })
        })
        .collect();
    json!({
        "rule": finding.rule,
        "level": finding.level.words(),
        "file": finding.at.file,
        "line": finding.at.line,
        "column": finding.at.column,
        "end_line": finding.at.end_line,
        "end_column": finding.at.end_column,
        "message": finding.message,
        "help": finding.help,
        "related": related,
        "fixes": fixes,
        "id": finding.id,
    })
}

/// A place and one thing more.
fn place_json(place: &Place, (key, more): (&str, Value)) -> Value {
    let mut value = json!({
        "file": place.file,
        "line": place.line,
        "column": place.column,
        "end_line": place.end_line,
        "end_column": place.end_column,
    });
    if let Some(object) = value.as_object_mut() {
        object.insert(key.to_owned(), more);
    }
    value
}

/// `3 files checked: 1 error, 2 warnings, 1 hint`.
pub fn summary(files: usize, levels: impl Iterator<Item = Level>) -> String {
    let mut counts = [0usize; 3];
    for level in levels {
        let slot = match level {
            Level::Error => 0,
            Level::Warning => 1,
            Level::Hint => 2,
        };
        counts[slot] += 1;
    }
    let mut parts = Vec::new();
    for (count, word) in counts.into_iter().zip(["error", "warning", "hint"]) {
        match count {
            0 => {}
            1 => parts.push(format!("1 {word}")),
            n => parts.push(format!("{n} {word}s")),
        }
    }
    let files = if files == 1 { "1 file checked".to_owned() } else { format!("{files} files checked") };
    if parts.is_empty() {
        format!("{files}: nothing found")
    } else {
        format!("{files}: {}", parts.join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_summary_counts_each_level() {
        use Level::*;
        assert_eq!(summary(1, [].into_iter()), "1 file checked: nothing found");
        assert_eq!(
            summary(3, [Hint, Error, Warning, Warning].into_iter()),
            "3 files checked: 1 error, 2 warnings, 1 hint"
        );
    }
}
