//! `keyon check`.

use crate::{
    args::{CheckArgs, FailOn, Fixes, Format},
    files, fix,
    output::{self, Failure, Outcome},
    report::{self, Texts},
    world::Disk,
};
use keyon_check::{Checked, Finding, Level};
use keyon_circuit::{Elaboration, model::Loc};
use keyon_present::{
    findings::{Place, Placed, findings_json, summary},
    place::Lines,
};
use std::{
    collections::HashMap,
    path::{Path, PathBuf},
    sync::{
        Mutex, PoisonError,
        atomic::{AtomicUsize, Ordering},
    },
};

/// What came of one file.
struct FileResult {
    /// For what is looked at over several files.
    checked: Option<Checked>,
    /// By the name of the file in which each stands.
    findings: Vec<Placed>,
    /// The texts that are needed to draw them.
    texts: Vec<(String, std::sync::Arc<str>)>,
    complaint: Option<String>,
}

pub(crate) fn run(args: &CheckArgs) -> Result<Outcome, Failure> {
    if args.diff {
        return fix::diff(args, args.fix.unwrap_or(Fixes::Safe));
    }
    let mended = args.fix.map_or(Ok(Outcome::Sound), |which| fix::run(args, which))?;
    let found = files::find(&args.paths);
    let mut incomplete = !found.complaints.is_empty() || mended == Outcome::Incomplete;
    for complaint in &found.complaints {
        output::complain(complaint);
    }
    let world = Disk::default();
    let mut results = check_all(&world, &found.files, args.stdin_name.as_deref());
    add_conflicts(&world, &mut results);
    let mut texts = Texts::default();
    let mut by_file: Vec<(String, Vec<Placed>)> = Vec::new();
    let mut slots: HashMap<String, usize> = HashMap::new();
    // Files that were named come first and in their order; libraries found on the way after them.
    for path in &found.files {
        let name = shown_name(path, args.stdin_name.as_deref());
        slots.entry(name.clone()).or_insert_with(|| {
            by_file.push((name, Vec::new()));
            by_file.len() - 1
        });
    }
    let named = by_file.len();
    for result in results {
        if let Some(complaint) = &result.complaint {
            output::complain(complaint);
            incomplete = true;
        }
        for (name, text) in &result.texts {
            texts.add(name, text);
        }
        for finding in result.findings {
            let slot = *slots.entry(finding.at.file.clone()).or_insert_with(|| {
                by_file.push((finding.at.file.clone(), Vec::new()));
                by_file.len() - 1
            });
            if let Some((_, list)) = by_file.get_mut(slot) {
                list.push(finding);
            }
        }
    }
    if let Some(others) = by_file.get_mut(named..) {
        others.sort_by(|a, b| a.0.cmp(&b.0));
    }
    let mut all: Vec<Placed> = Vec::new();
    for (_, mut findings) in by_file {
        // A library's findings come once with each circuit that uses it.
        findings.sort_by(|a, b| (&a.at, &a.rule, &a.message).cmp(&(&b.at, &b.rule, &b.message)));
        findings.dedup_by(|a, b| (&a.at, &a.rule, &a.message) == (&b.at, &b.rule, &b.message));
        all.extend(findings);
    }
    match args.format {
        Format::Json => output::print_json(&findings_json(&all))?,
        Format::Text => {
            let mut text = report::draw(&all, &mut texts, output::colour());
            text.push_str(&summary(found.files.len(), all.iter().map(|f| f.level)));
            text.push('\n');
            output::print(&text)?;
        }
    }
    let least = match args.fail_on {
        FailOn::Error => Level::Error,
        FailOn::Warning => Level::Warning,
        FailOn::Hint => Level::Hint,
    };
    Ok(if incomplete {
        Outcome::Incomplete
    } else if all.iter().any(|f| f.level >= least) {
        Outcome::Findings
    } else {
        Outcome::Sound
    })
}

/// The name under which a file's findings are shown.
pub(crate) fn shown_name(path: &Path, stdin_name: Option<&Path>) -> String {
    source_name(path, stdin_name).display().to_string()
}

/// The name by which a file's text goes.
pub(crate) fn source_name(path: &Path, stdin_name: Option<&Path>) -> PathBuf {
    if path.as_os_str() == files::STDIN {
        stdin_name.map_or_else(|| PathBuf::from("standard-input.keyon"), Path::to_owned)
    } else {
        path.to_owned()
    }
}

/// Checks all files, several at a time; the results are in the order of the files.
fn check_all(world: &Disk, files: &[PathBuf], stdin_name: Option<&Path>) -> Vec<FileResult> {
    let threads = std::thread::available_parallelism().map_or(1, usize::from).min(files.len().max(1));
    let next = AtomicUsize::new(0);
    let results: Vec<Mutex<Option<FileResult>>> = files.iter().map(|_| Mutex::new(None)).collect();
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                while let Some((file, slot)) = {
                    let index = next.fetch_add(1, Ordering::Relaxed);
                    files.get(index).zip(results.get(index))
                } {
                    let result = check_one(world, file, stdin_name);
                    *slot.lock().unwrap_or_else(PoisonError::into_inner) = Some(result);
                }
            });
        }
    });
    results.into_iter().filter_map(|slot| slot.into_inner().unwrap_or_else(PoisonError::into_inner)).collect()
}

fn check_one(world: &Disk, path: &Path, stdin_name: Option<&Path>) -> FileResult {
    let nothing =
        |complaint| FileResult { checked: None, findings: Vec::new(), texts: Vec::new(), complaint };
    let text = match files::read(path) {
        Ok(text) => text,
        Err(Failure::Message(message)) => return nothing(Some(message)),
        Err(Failure::Pipe) => return nothing(None),
    };
    let source = world.source(&source_name(path, stdin_name), text);
    let Ok(checked) = keyon_check::check(world, &source, &keyon_solve::Never) else { return nothing(None) };
    let mut places = Places::new(world, &checked.elaboration);
    let mut findings = placed(&checked, &mut places);
    let mut texts = places.used();
    let name = shown_name(path, stdin_name);
    if let Some(replaced) = replaced_bytes(&name, &source.text) {
        // What the marks themselves spoil needs no second word.
        let lines = Lines::new(&source.text);
        let spoilt = |f: &Placed| {
            let line = source.text.get(lines.range(f.at.line)).unwrap_or_default();
            f.rule == "syntax" && f.at.file == name && line.contains(char::REPLACEMENT_CHARACTER)
        };
        findings.retain(|f| !spoilt(f));
        findings.insert(0, replaced);
        texts.push((name, source.text.clone()));
    }
    FileResult { checked: Some(checked), findings, texts, complaint: None }
}

/// One finding for all bytes that were not UTF-8, at the first of them.
fn replaced_bytes(name: &str, text: &str) -> Option<Placed> {
    let first = text.find(char::REPLACEMENT_CHARACTER)?;
    let (line, column) = Lines::new(text).place(text, first);
    Some(Placed {
        rule: "syntax".to_owned(),
        level: Level::Error,
        message: "bytes that are not UTF-8 stand here; they were read as `\u{fffd}`, and the rest of the file as it is".to_owned(),
        help: Some("save the file as UTF-8".to_owned()),
        at: Place { file: name.to_owned(), line, column, end_line: line, end_column: column + 1 },
        related: Vec::new(),
    })
}

/// What only shows when the circuits of a library are laid side by side.
fn add_conflicts(world: &Disk, results: &mut [FileResult]) {
    let owners: Vec<usize> = (0..results.len()).filter(|&i| results[i].checked.is_some()).collect();
    if owners.len() < 2 {
        return;
    }
    let checked: Vec<&Checked> = results.iter().filter_map(|r| r.checked.as_ref()).collect();
    let mut more: Vec<(usize, Placed, Vec<_>)> = Vec::new();
    for (index, finding) in keyon_check::library::conflicts(&checked) {
        let (Some(&owner), Some(checked)) = (owners.get(index), checked.get(index)) else { continue };
        let mut places = Places::new(world, &checked.elaboration);
        let placed = place(&finding, &mut places);
        more.push((owner, placed, places.used()));
    }
    for (owner, finding, texts) in more {
        if let Some(result) = results.get_mut(owner) {
            result.findings.push(finding);
            result.texts.extend(texts);
        }
    }
}

/// Findings with their places resolved.
pub(crate) fn placed(checked: &Checked, places: &mut Places<'_>) -> Vec<Placed> {
    checked.findings.iter().map(|finding| place(finding, places)).collect()
}

fn place(finding: &Finding, places: &mut Places<'_>) -> Placed {
    Placed {
        rule: finding.rule.to_owned(),
        level: finding.level,
        message: finding.message.clone(),
        help: finding.help.clone(),
        at: places.of(finding.loc),
        related: finding.related.iter().map(|(loc, word)| (places.of(*loc), word.clone())).collect(),
    }
}

/// Lines and columns of an elaboration's places.
pub(crate) struct Places<'a> {
    world: &'a Disk,
    elaboration: &'a Elaboration,
    /// By file: its shown name and its lines; made when first asked for.
    files: Vec<Option<(String, Lines)>>,
}

impl<'a> Places<'a> {
    pub(crate) fn new(world: &'a Disk, elaboration: &'a Elaboration) -> Self {
        Self { world, elaboration, files: vec![None; elaboration.files.len()] }
    }

    pub(crate) fn of(&mut self, loc: Loc) -> Place {
        let nowhere = || Place { file: String::new(), line: 1, column: 1, end_line: 1, end_column: 1 };
        let (Some(source), Some(slot)) =
            (self.elaboration.files.get(loc.file.index()), self.files.get_mut(loc.file.index()))
        else {
            return nowhere();
        };
        let world = self.world;
        let (name, lines) = slot.get_or_insert_with(|| (world.shown(&source.key), Lines::new(&source.text)));
        let span = self.elaboration.span(loc).range();
        let (line, column) = lines.place(&source.text, span.start);
        let (end_line, end_column) = lines.place(&source.text, span.end.max(span.start));
        Place { file: name.clone(), line, column, end_line, end_column }
    }

    /// Names and texts of the files in which something was placed.
    fn used(self) -> Vec<(String, std::sync::Arc<str>)> {
        let texts = self.files.into_iter().zip(&self.elaboration.files);
        texts.filter_map(|(file, source)| Some((file?.0, source.text.clone()))).collect()
    }
}
