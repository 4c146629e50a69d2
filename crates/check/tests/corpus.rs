//! Every rule's examples: `corpus/rules/RULE/wrong.keyon` gives just what its `# here: …` comments say, line by line;
//! `right.keyon` and each `trap_….keyon` give nothing at all. `KEYON_RULE=name` looks at one rule alone.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use keyon_check::{Finding, Level, check, rules};
use keyon_circuit::{Source, World};
use std::{
    fs,
    path::{Path, PathBuf},
    sync::Arc,
};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../corpus/rules")
}

fn source(key: &str, text: &str) -> Source {
    Source { key: key.into(), text: text.into(), parse: Arc::new(keyon_syntax::parse(text)) }
}

/// Libraries stand beside the example that uses them.
struct Beside;

impl World for Beside {
    fn library(&self, from: &str, path: &str) -> Option<Source> {
        let beside = Path::new(from).parent()?.join(path);
        let text = fs::read_to_string(folder().join(&beside)).ok()?;
        Some(source(beside.to_str()?, &text))
    }
}

/// Line (from 1) and rule of each mark, sorted.
fn marks(text: &str) -> Vec<(usize, String)> {
    let mut marks = Vec::new();
    for (i, line) in text.lines().enumerate() {
        if let Some((_, names)) = line.split_once("# here: ") {
            marks.extend(names.split(',').map(|name| (i + 1, name.trim().to_owned())));
        }
    }
    marks.sort();
    marks
}

struct Outcome {
    found: Vec<(usize, String)>,
    told: String,
}

fn look(key: &str, text: &str) -> Outcome {
    let checked = check(&Beside, &source(key, text), &keyon_solve::Never).unwrap();
    let (mut found, mut told) = (Vec::new(), String::new());
    let mut findings = checked.findings.clone();
    // Rules across files: the other file of the library stands beside.
    let other = Path::new(key).with_file_name("other.keyon");
    if let Ok(text) = fs::read_to_string(folder().join(&other)) {
        let other = check(&Beside, &source(other.to_str().unwrap(), &text), &keyon_solve::Never).unwrap();
        assert!(other.findings.is_empty(), "{:?}", other.findings);
        let across = keyon_check::conflicts(&[&other, &checked]);
        findings.extend(across.into_iter().filter(|(file, _)| *file == 1).map(|(_, finding)| finding));
    }
    for finding in &findings {
        let Finding { rule, level, message, .. } = finding;
        let file = &checked.elaboration.files[finding.loc.file.index()];
        let start = checked.elaboration.span(finding.loc).start as usize;
        let line = file.text[..start].matches('\n').count() + 1;
        found.push((line, (*rule).to_owned()));
        told += &format!("    {}:{line}: {} {rule}: {message}\n", file.key, level.words());
        if let Some(help) = &finding.help {
            told += &format!("        {help}\n");
        }
        for (loc, words) in &finding.related {
            let file = &checked.elaboration.files[loc.file.index()];
            let line = file.text[..checked.elaboration.span(*loc).start as usize].matches('\n').count() + 1;
            told += &format!("        {}:{line}: {words}\n", file.key);
        }
    }
    found.sort();
    Outcome { found, told }
}

fn chosen(name: &str) -> bool {
    std::env::var("KEYON_RULE").map_or(true, |rule| rule == name)
}

#[test]
fn wrong_examples_are_blamed_where_they_are_marked() {
    let mut failures = String::new();
    for rule in rules::all().filter(|rule| chosen(rule.name())) {
        let key = format!("{}/wrong.keyon", rule.name());
        let expected = marks(rule.wrong());
        assert!(expected.iter().any(|(_, name)| name == rule.name()), "{key} marks no place of its rule");
        let outcome = look(&key, rule.wrong());
        if std::env::var_os("KEYON_RULE").is_some() {
            println!("{}", outcome.told);
        }
        if outcome.found != expected {
            failures += &format!("{key}: expected {expected:?}, found\n{}", outcome.told);
        }
    }
    assert!(failures.is_empty(), "\n{failures}");
}

#[test]
fn sound_circuits_get_no_finding() {
    let mut failures = String::new();
    for rule in rules::all().filter(|rule| chosen(rule.name())) {
        let mut files: Vec<_> =
            fs::read_dir(folder().join(rule.name())).unwrap().map(|f| f.unwrap().path()).collect();
        files.sort();
        for file in files {
            let name = file.file_name().unwrap().to_str().unwrap().to_owned();
            if name != "right.keyon" && !name.starts_with("trap_") {
                continue;
            }
            let key = format!("{}/{name}", rule.name());
            let text = fs::read_to_string(&file).unwrap();
            assert!(!text.trim().is_empty(), "{key} is empty");
            assert!(marks(&text).is_empty(), "{key} is sound and has no marks");
            let outcome = look(&key, &text);
            if !outcome.found.is_empty() {
                failures += &format!("{key}:\n{}", outcome.told);
            }
        }
    }
    assert!(failures.is_empty(), "\n{failures}");
}

/// A file of rules that nobody lists would never run.
#[test]
fn every_rule_file_is_listed_and_every_folder_is_a_rules() {
    let mut files = Vec::new();
    let sources = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/rules");
    for group in fs::read_dir(sources).unwrap().map(|f| f.unwrap().path()).filter(|p| p.is_dir()) {
        for file in fs::read_dir(group).unwrap().map(|f| f.unwrap().path()) {
            let text = fs::read_to_string(&file).unwrap();
            if text.contains("rule! {") {
                files.push(file.file_stem().unwrap().to_str().unwrap().replace('_', "-"));
            }
        }
    }
    let mut names: Vec<_> = rules::all().map(|rule| rule.name().to_owned()).collect();
    let mut folders: Vec<_> = fs::read_dir(folder())
        .unwrap()
        .map(|f| f.unwrap().path())
        .filter(|path| path.is_dir())
        .map(|path| path.file_name().unwrap().to_str().unwrap().to_owned())
        .collect();
    files.sort();
    names.sort();
    folders.sort();
    assert_eq!(files, names);
    assert_eq!(folders, names);
}

#[test]
fn every_rule_has_a_page() {
    for rule in rules::all() {
        let page = keyon_check::explain(rule.name()).unwrap();
        assert!(
            page.contains(rule.why().trim()) && page.contains(rule.wrong().trim_end()),
            "{}",
            rule.name()
        );
        assert!(rule.summary().ends_with('.') && rule.why().len() > 80, "{}", rule.name());
    }
    assert!(keyon_check::explain("no-such-rule").is_none());
}

#[test]
fn settings_of_rules_exist() {
    use keyon_check::settings::{TOP_KEYS, limits};
    for rule in rules::all() {
        for key in rule.settings() {
            assert!(
                limits::find(key).is_some() || TOP_KEYS.iter().any(|(k, _)| k == key),
                "{}: {key}",
                rule.name()
            );
        }
    }
}

/// `corpus/rules/MANUAL.md` is what `keyon explain --all` prints. `KEYON_BLESS=1 cargo test -p keyon-check` writes it.
#[test]
fn the_manual_is_current() {
    let file = folder().join("MANUAL.md");
    let manual = keyon_check::manual();
    if std::env::var_os("KEYON_BLESS").is_some() {
        fs::write(&file, &manual).unwrap();
    }
    let kept = fs::read_to_string(&file).unwrap_or_default();
    assert!(kept == manual, "run `cargo run -p keyon -- explain --all > corpus/rules/MANUAL.md`");
}

/// The demonstration circuits are sound: hints at most.
#[test]
fn demonstration_circuits_get_no_error_or_warning() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../corpus/circuits");
    let mut files: Vec<_> = fs::read_dir(root).unwrap().map(|f| f.unwrap().path()).collect();
    files.sort();
    let mut failures = String::new();
    for file in files.iter().filter(|f| f.extension().is_some_and(|e| e == "keyon")) {
        let name = file.file_name().unwrap().to_str().unwrap();
        let key = format!("../circuits/{name}");
        let text = fs::read_to_string(file).unwrap();
        let checked = check(&Beside, &source(&key, &text), &keyon_solve::Never).unwrap();
        for finding in checked.findings.iter().filter(|f| f.level > Level::Hint) {
            let at = checked.elaboration.span(finding.loc).start as usize;
            let file = &checked.elaboration.files[finding.loc.file.index()];
            let line = file.text[..at].matches('\n').count() + 1;
            failures += &format!("{}:{line}: {} {}\n", file.key, finding.rule, finding.message);
        }
    }
    assert!(failures.is_empty(), "\n{failures}");
}

/// The same text gives the same findings, down to the last letter.
#[test]
fn findings_are_the_same_each_time() {
    for rule in rules::all().filter(|rule| chosen(rule.name())) {
        let key = format!("{}/wrong.keyon", rule.name());
        assert_eq!(look(&key, rule.wrong()).told, look(&key, rule.wrong()).told, "{key}");
    }
}
