//! Findings that are known and put up with: a file of identities, so that only what is new is told.

use crate::{files::cannot, output::Failure};
use keyon_present::reports::Placed;
use serde_json::{Value, json};
use std::{
    collections::{BTreeMap, BTreeSet},
    path::Path,
};

const VERSION: u64 = 1;

/// What was taken out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Known {
    /// Findings that the baseline has.
    pub(crate) known: usize,
    /// Entries of the baseline for which nothing was found.
    pub(crate) gone: usize,
}

/// The identities in a baseline.
pub(crate) fn read(path: &Path) -> Result<BTreeSet<String>, Failure> {
    let text = match std::fs::read_to_string(path) {
        Ok(text) => text,
        Err(error) => {
            let hint = if error.kind() == std::io::ErrorKind::NotFound {
                "; `--write-baseline` makes it"
            } else {
                ""
            };
            return Err(Failure::Message(format!("{}{hint}", cannot("read the baseline", path, &error))));
        }
    };
    let no_baseline = |why: &str| {
        Failure::Message(format!(
            "`{}` is no baseline: {why}; write it anew with `--write-baseline`",
            path.display()
        ))
    };
    let value: Value = serde_json::from_str(&text).map_err(|error| no_baseline(&error.to_string()))?;
    if value.get("version").and_then(Value::as_u64) != Some(VERSION) {
        return Err(no_baseline(&format!("its \"version\" is not {VERSION}")));
    }
    let findings = value
        .get("findings")
        .and_then(Value::as_array)
        .ok_or_else(|| no_baseline("it has no \"findings\""))?;
    let id = |finding: &Value| finding.get("id").and_then(Value::as_str).map(str::to_owned);
    findings.iter().map(|f| id(f).ok_or_else(|| no_baseline("a finding has no \"id\""))).collect()
}

/// Leaves what the baseline does not have.
pub(crate) fn apply(known: &BTreeSet<String>, findings: &mut Vec<Placed>) -> Known {
    let mut seen = BTreeSet::new();
    findings.retain(|finding| match known.get(&finding.id) {
        Some(id) => {
            seen.insert(id);
            false
        }
        None => true,
    });
    Known { known: seen.len(), gone: known.len() - seen.len() }
}

/// Writes a baseline: sorted by file, rule and identity, so that a merge of two branches stays readable. What each
/// finding said is for people; only the identity counts.
pub(crate) fn write(path: &Path, findings: &[Placed]) -> Result<(), Failure> {
    let mut rows: BTreeMap<(&str, &str, &str), &str> = BTreeMap::new();
    for finding in findings {
        rows.insert((&finding.at.file, &finding.rule, &finding.id), &finding.message);
    }
    let rows: Vec<Value> = rows
        .into_iter()
        .map(
            |((file, rule, id), message)| json!({ "id": id, "rule": rule, "file": file, "message": message }),
        )
        .collect();
    let text = format!("{:#}\n", json!({ "version": VERSION, "findings": rows }));
    std::fs::write(path, text).map_err(|error| Failure::Message(cannot("write the baseline", path, &error)))
}
