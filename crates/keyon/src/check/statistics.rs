//! `--statistics` and `--slowest`: how often each rule spoke, and where the time went.

use super::run::{FileResult, Wanted};
use crate::world::source_name;
use keyon_check::Level;
use keyon_present::reports::Placed;
use serde_json::{Map, Value, json};
use std::{
    collections::BTreeMap,
    fmt::Write,
    path::{Path, PathBuf},
    time::Duration,
};

/// What is counted of a run.
#[derive(Debug, Default)]
pub(crate) struct Statistics {
    files: usize,
    cached: usize,
    circuits: usize,
    expectations: usize,
    /// Rule, level and how often, most often first.
    rules: Vec<(String, Level, usize)>,
    slowest: Option<Slowest>,
}

/// A rule and its time.
type Took = (&'static str, Duration);

/// Where the time went.
#[derive(Debug, Default)]
struct Slowest {
    /// File, its time, and the rule that took most of it.
    files: Vec<(String, Duration, Option<Took>)>,
    /// Rule and its time over all files.
    rules: Vec<Took>,
}

impl Statistics {
    pub(crate) fn new(files: &[(PathBuf, Wanted)], results: &[FileResult], findings: &[Placed]) -> Self {
        let mut counts: BTreeMap<(&str, Level), usize> = BTreeMap::new();
        for finding in findings {
            *counts.entry((&finding.rule, finding.level)).or_default() += 1;
        }
        let mut rules: Vec<(String, Level, usize)> =
            counts.into_iter().map(|((rule, level), count)| (rule.to_owned(), level, count)).collect();
        rules.sort_by(|a, b| (b.2, b.1, &a.0).cmp(&(a.2, a.1, &b.0)));
        let wanted = || files.iter().zip(results).filter(|((_, wanted), _)| *wanted == Wanted::All);
        let records = || wanted().filter_map(|(_, result)| result.record.as_ref());
        Self {
            files: wanted().count(),
            cached: wanted().filter(|(_, result)| result.cached).count(),
            circuits: records().filter(|record| record.circuit.is_some()).count(),
            expectations: records().map(|record| record.expectations.len()).sum(),
            rules,
            slowest: None,
        }
    }

    /// With where the time went: the `most` slowest files and rules.
    pub(crate) fn timed(
        mut self,
        files: &[(PathBuf, Wanted)],
        results: &[FileResult],
        stdin_name: Option<&Path>,
        most: usize,
    ) -> Self {
        let mut slowest = Slowest::default();
        let mut rules: BTreeMap<&'static str, Duration> = BTreeMap::new();
        for ((path, wanted), result) in files.iter().zip(results) {
            if *wanted != Wanted::All {
                continue;
            }
            for (rule, took) in &result.rules {
                *rules.entry(rule).or_default() += *took;
            }
            let worst = result.rules.iter().max_by_key(|(_, took)| *took).copied();
            let name = source_name(path, stdin_name).display().to_string();
            slowest.files.push((name, result.took, worst));
        }
        slowest.files.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
        slowest.files.truncate(most);
        slowest.rules = rules.into_iter().collect();
        slowest.rules.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(b.0)));
        slowest.rules.truncate(most);
        self.slowest = Some(slowest);
        self
    }

    pub(crate) fn text(&self) -> String {
        let mut out = String::new();
        let _ = writeln!(
            out,
            "\n{} files ({} known from the cache), {} circuits, {} expectations",
            self.files, self.cached, self.circuits, self.expectations
        );
        let wide = self.rules.iter().map(|(rule, ..)| rule.len()).max().unwrap_or(0);
        for (rule, level, count) in &self.rules {
            let _ = writeln!(out, "{count:7}  {rule:wide$}  {}", level.words());
        }
        let Some(slowest) = &self.slowest else { return out };
        out.push_str("\nslowest files, each with the rule that took longest:\n");
        for (file, took, worst) in &slowest.files {
            let _ = write!(out, "{:>9}  {file}", milliseconds(*took));
            let _ = match worst {
                Some((rule, took)) => writeln!(out, "  ({rule} {})", milliseconds(*took)),
                None => writeln!(out),
            };
        }
        out.push_str(
            "\nslowest rules, over all files (whoever asks first pays for what several want to know):\n",
        );
        for (rule, took) in &slowest.rules {
            let _ = writeln!(out, "{:>9}  {rule}", milliseconds(*took));
        }
        out
    }

    pub(crate) fn json(&self) -> Value {
        let mut out = Map::new();
        out.insert("files".into(), json!(self.files));
        out.insert("cached".into(), json!(self.cached));
        out.insert("circuits".into(), json!(self.circuits));
        out.insert("expectations".into(), json!(self.expectations));
        let rules: Vec<Value> = self
            .rules
            .iter()
            .map(|(rule, level, count)| json!({ "rule": rule, "level": level.words(), "count": count }))
            .collect();
        out.insert("rules".into(), json!(rules));
        if let Some(slowest) = &self.slowest {
            let seconds = |took: Duration| took.as_secs_f64();
            let files: Vec<Value> = slowest
                .files
                .iter()
                .map(|(file, took, worst)| {
                    json!({
                        "file": file,
                        "seconds": seconds(*took),
                        "rule": worst.map(|(rule, _)| rule),
                        "rule_seconds": worst.map(|(_, took)| seconds(took)),
                    })
                })
                .collect();
            let rules: Vec<Value> = slowest
                .rules
                .iter()
                .map(|(rule, took)| json!({ "rule": rule, "seconds": seconds(*took) }))
                .collect();
            out.insert("slowest_files".into(), json!(files));
            out.insert("slowest_rules".into(), json!(rules));
        }
        Value::Object(out)
    }
}

fn milliseconds(took: Duration) -> String {
    format!("{:.1} ms", took.as_secs_f64() * 1e3)
}
