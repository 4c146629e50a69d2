//! Circuits of everyday work: the sound ones of `corpus/sound` give no error or warning, and each mistake that
//! `corpus/defects` makes in one gives just its finding.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use keyon_check::{Level, check};
use keyon_circuit::{Source, World};
use std::{
    fs,
    path::{Path, PathBuf},
    sync::{
        Arc, Mutex,
        atomic::{AtomicUsize, Ordering},
    },
};

struct NoFiles;

impl World for NoFiles {
    fn library(&self, _: &str, _: &str) -> Option<Source> {
        None
    }
}

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../corpus").join(name)
}

/// The circuits of a folder by their names, sorted.
fn circuits(name: &str) -> Vec<(String, String)> {
    let files = fs::read_dir(folder(name)).unwrap().map(|f| f.unwrap().path());
    let mut found: Vec<(String, String)> = files
        .filter(|path| path.extension().is_some_and(|e| e == "keyon"))
        .map(|path| (path.file_stem().unwrap().to_str().unwrap().into(), fs::read_to_string(&path).unwrap()))
        .collect();
    found.sort();
    found
}

/// Line and rule of each finding, errors and warnings apart from hints; and what they say.
#[derive(Default)]
struct Found {
    serious: Vec<(usize, String)>,
    hints: Vec<(usize, String)>,
    told: String,
}

fn look(text: &str) -> Found {
    let source =
        Source { key: "test.keyon".into(), text: text.into(), parse: Arc::new(keyon_syntax::parse(text)) };
    let checked = check(&NoFiles, &source, &keyon_solve::Never).unwrap();
    let mut found = Found::default();
    for finding in &checked.findings {
        let at = checked.elaboration.span(finding.loc).start as usize;
        let line = text[..at].matches('\n').count() + 1;
        let list = if finding.level == Level::Hint { &mut found.hints } else { &mut found.serious };
        list.push((line, finding.rule.to_owned()));
        found.told +=
            &format!("    {line}: {} {}: {}\n", finding.level.words(), finding.rule, finding.message);
    }
    found.serious.sort();
    found
}

/// What is wrong with what was found, given the marks in the text.
fn compare(text: &str) -> Option<String> {
    let mut marked = Vec::new();
    for (i, line) in text.lines().enumerate() {
        if let Some((_, names)) = line.split_once("# here: ") {
            marked.extend(names.split(',').map(|name| (i + 1, name.trim().to_owned())));
        }
    }
    marked.sort();
    let found = look(text);
    let serious: Vec<_> = marked.into_iter().filter(|mark| !found.hints.contains(mark)).collect();
    (serious != found.serious).then(|| format!("expected {serious:?}, found\n{}", found.told))
}

/// Compares many texts, several at a time.
fn compare_all(texts: &[(String, String)]) {
    assert!(texts.len() > 10, "the corpus is gone");
    let failures = Mutex::new(Vec::new());
    let next = AtomicUsize::new(0);
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(1, usize::from) {
            scope.spawn(|| {
                while let Some((name, text)) = texts.get(next.fetch_add(1, Ordering::Relaxed)) {
                    if let Some(what) = compare(text) {
                        failures.lock().unwrap().push(format!("{name}: {what}\n{text}"));
                    }
                }
            });
        }
    });
    let failures = failures.into_inner().unwrap();
    assert!(failures.is_empty(), "\n{}", failures.join("\n"));
}

#[test]
fn sound_circuits_get_no_error_or_warning() {
    compare_all(&circuits("sound"));
}

#[test]
fn whole_circuits_with_a_mistake_are_blamed_for_it() {
    let texts = circuits("defects");
    assert!(texts.iter().all(|(_, text)| text.contains("# here: ")));
    compare_all(&texts);
}

fn joined(line: &str) -> String {
    line.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A sound circuit with the changes of a section.
fn changed(text: &str, changes: &[&str]) -> String {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let place = |lines: &[String], wanted: &str| {
        let unmarked = |line: &str| joined(line.split("# here:").next().unwrap());
        let wanted = unmarked(wanted);
        let found: Vec<usize> = (0..lines.len()).filter(|&i| unmarked(&lines[i]) == wanted).collect();
        assert_eq!(found.len(), 1, "`{wanted}` stands once in\n{}", lines.join("\n"));
        found[0]
    };
    let mut at = 0;
    for change in changes {
        let (sign, line) = change.split_at(2);
        match sign {
            "- " => {
                at = place(&lines, line);
                lines.remove(at);
            }
            "+ " => {
                lines.insert(at, line.to_owned());
                at += 1;
            }
            _ => {
                at = place(&lines, line) + 1;
                lines[at - 1] = line.to_owned();
            }
        }
    }
    lines.join("\n") + "\n"
}

/// Each section of `changes.txt` in a folder, made in the circuit that it names.
fn changed_circuits(bases: &str, changes: &str) -> Vec<(String, String)> {
    let bases = circuits(bases);
    let document = fs::read_to_string(folder(changes).join("changes.txt")).unwrap();
    let mut texts = Vec::new();
    for section in document.split("\n== ").skip(1) {
        let (base, changes) = section.split_once('\n').unwrap();
        let (_, text) =
            bases.iter().find(|(name, _)| name == base.trim()).unwrap_or_else(|| panic!("no {base}"));
        let changes: Vec<&str> = changes.lines().filter(|line| !line.trim().is_empty()).collect();
        texts.push((section.to_owned(), changed(text, &changes)));
    }
    texts
}

#[test]
fn mistakes_in_sound_circuits_are_blamed_and_nothing_else_is() {
    compare_all(&changed_circuits("sound", "defects"));
}

/// The circuits of `corpus/damaged` as they stand, and with each damage.
#[test]
fn damage_is_told_once_and_hides_no_mistake_elsewhere() {
    let mut texts = circuits("damaged");
    texts.extend(changed_circuits("damaged", "damaged"));
    compare_all(&texts);
}
