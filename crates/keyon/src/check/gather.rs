//! From what came of each file to one report: in order, each finding once, with what only shows when files are laid
//! side by side, and what is wrong in the settings.

use super::{
    across,
    run::{Checker, FileResult, Wanted},
};
use crate::world::{Files, source_name};
use keyon_check::{
    Level,
    settings::{self, Found},
};
use keyon_present::{
    place::Lines,
    reports::{CheckReport, CheckedFile, Place, Placed, ids},
};
use std::{
    collections::{BTreeMap, HashMap},
    path::{Path, PathBuf},
    sync::Arc,
};

/// The report, and the texts in which its findings are.
#[derive(Debug, Default)]
pub(crate) struct Gathered {
    pub(crate) report: CheckReport,
    pub(crate) texts: BTreeMap<String, Arc<str>>,
    /// Where the pages of the rules are, if the settings say so.
    pub(crate) manual: Option<String>,
}

pub(crate) fn gather(
    checker: &Checker,
    files: &[(PathBuf, Wanted)],
    results: &[FileResult],
    mut complaints: Vec<String>,
) -> Gathered {
    let mut gathered = Gathered::default();
    let mut by_file: Vec<(String, Vec<Placed>)> = Vec::new();
    let mut slots: HashMap<String, usize> = HashMap::new();
    let slot = |slots: &mut HashMap<String, usize>, by_file: &mut Vec<(String, Vec<Placed>)>, name: &str| {
        *slots.entry(name.to_owned()).or_insert_with(|| {
            by_file.push((name.to_owned(), Vec::new()));
            by_file.len() - 1
        })
    };
    let mut findings: Vec<Placed> = Vec::new();
    for ((path, wanted), result) in files.iter().zip(results) {
        if *wanted != Wanted::All {
            continue;
        }
        complaints.extend(result.complaint.clone());
        // Files that were named come first and in their order; libraries found on the way after them.
        let name = source_name(path, checker.stdin_name.as_deref()).display().to_string();
        slot(&mut slots, &mut by_file, &name);
        let Some(record) = &result.record else { continue };
        if let Some(text) = &result.text {
            gathered.texts.insert(name.clone(), text.clone());
        }
        findings.extend(record.placed(&|key| checker.disk.shown(key)));
        for key in record.files.iter().skip(1).filter(|_| result.text.is_some()) {
            if let Some(content) = checker.disk.content(Path::new(key)) {
                gathered.texts.insert(checker.disk.shown(key), content.text.clone());
            }
        }
        gathered.report.files.push(CheckedFile {
            name,
            circuit: record.circuit.clone(),
            expectations: record.cases(),
        });
    }
    let named = by_file.len();
    findings.extend(across::conflicts(checker, files, results, &mut gathered.texts));
    for found in checker.finder.all() {
        if gathered.manual.is_none() {
            gathered.manual.clone_from(&found.config.manual);
        }
        findings.extend(mistakes(checker, &found, &mut gathered.texts));
    }
    for finding in findings {
        let slot = slot(&mut slots, &mut by_file, &finding.at.file);
        if let Some((_, list)) = by_file.get_mut(slot) {
            list.push(finding);
        }
    }
    if let Some(others) = by_file.get_mut(named..) {
        others.sort_by(|a, b| a.0.cmp(&b.0));
    }
    for (_, mut findings) in by_file {
        // A library's findings come once with each circuit that uses it.
        findings.sort_by(|a, b| (&a.at, &a.rule, &a.message).cmp(&(&b.at, &b.rule, &b.message)));
        findings.dedup_by(|a, b| (&a.at, &a.rule, &a.message) == (&b.at, &b.rule, &b.message));
        gathered.report.findings.extend(findings);
    }
    let roots: HashMap<String, String> =
        slots.into_keys().map(|file| (file.clone(), rooted(checker, &file))).collect();
    ids::number(&mut gathered.report.findings, &|file| roots.get(file).cloned().unwrap_or_default());
    gathered.report.complaints = complaints;
    gathered
}

/// A file's name as it goes into an identity: relative to the folder of its settings, so that it is the same from
/// wherever the check is started; without settings as it is shown, but for a `./` in front.
fn rooted(checker: &Checker, file: &str) -> String {
    let key = PathBuf::from(checker.disk.key(Path::new(file)));
    match checker.finder.find(&key) {
        Some(found) => found.relative(&key),
        None => {
            let names: Vec<_> = Path::new(file).iter().map(|name| name.to_string_lossy()).collect();
            names.into_iter().filter(|name| name != ".").collect::<Vec<_>>().join("/")
        }
    }
}

/// What is wrong in a settings file.
fn mistakes(checker: &Checker, found: &Found, texts: &mut BTreeMap<String, Arc<str>>) -> Vec<Placed> {
    if found.mistakes.is_empty() {
        return Vec::new();
    }
    let shown = checker.disk.shown(&found.path.display().to_string());
    texts.insert(shown.clone(), found.text.clone());
    let one = |mistake: &settings::Mistake| {
        let range = mistake.span.range();
        Placed {
            rule: settings::RULE.to_owned(),
            level: Level::Error,
            message: mistake.message.clone(),
            help: mistake.help.clone(),
            anchor: ids::anchor("", found.text.get(range.clone()).unwrap_or_default()),
            at: place(&shown, &found.text, range),
            related: Vec::new(),
            fixes: Vec::new(),
            id: String::new(),
        }
    };
    found.mistakes.iter().map(one).collect()
}

pub(super) fn place(file: &str, text: &str, bytes: std::ops::Range<usize>) -> Place {
    let lines = Lines::new(text);
    let (line, column) = lines.place(text, bytes.start);
    let (end_line, end_column) = lines.place(text, bytes.end.max(bytes.start));
    Place { file: file.to_owned(), line, column, end_line, end_column }
}
