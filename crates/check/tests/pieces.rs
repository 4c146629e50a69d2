//! A circuit that is judged in pieces is judged as it is in one: every file of the corpus, cut as finely as can be.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use keyon_check::{Finding, Pieces, Run, Settings};
use keyon_circuit::{Source, World, elaborate};
use std::{
    fs,
    path::{Path, PathBuf},
    sync::Arc,
};

struct Files;

fn source(path: &Path) -> Option<Source> {
    let text = fs::read_to_string(path).ok()?;
    let parse = Arc::new(keyon_syntax::parse(&text));
    Some(Source { key: path.to_str()?.into(), text: text.into(), parse })
}

impl World for Files {
    fn library(&self, from: &str, path: &str) -> Option<Source> {
        source(&Path::new(from).parent()?.join(path))
    }
}

/// Every file below a folder, sorted.
fn files(folder: &Path, found: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            files(&path, found);
        } else if path.extension().is_some_and(|e| e == "keyon") {
            found.push(path);
        }
    }
}

fn told(findings: &[Finding]) -> Vec<String> {
    findings
        .iter()
        .map(|f| format!("{}:{}:{:?} {}: {}", f.loc.file.0, f.loc.item, f.loc.span, f.rule, f.message))
        .collect()
}

#[test]
fn pieces_find_what_the_whole_finds() {
    let mut all = Vec::new();
    files(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../../corpus"), &mut all);
    let settings = Settings::default();
    let run = Run { settings: &[&settings], expectations: false, done: None, cancel: &keyon_solve::Never };
    let mut differ = Vec::new();
    for path in &all {
        let elaboration = elaborate(&Files, &source(path).unwrap());
        let whole = run.report_in(&elaboration, Pieces { size: 1, whole: usize::MAX }).unwrap();
        for size in [1, 12, 60] {
            let pieces = run.report_in(&elaboration, Pieces { size, whole: 0 }).unwrap();
            let (whole, pieces) = (told(&whole.findings), told(&pieces.findings));
            if whole != pieces {
                let missing = whole.iter().filter(|f| !pieces.contains(f)).map(|f| format!("    - {f}\n"));
                let new = pieces.iter().filter(|f| !whole.contains(f)).map(|f| format!("    + {f}\n"));
                differ.push(format!("{} {size}\n{}", path.display(), missing.chain(new).collect::<String>()));
            }
        }
    }
    assert!(differ.is_empty(), "{}", differ.concat());
}
