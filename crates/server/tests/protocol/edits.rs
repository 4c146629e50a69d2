//! However a text came about, its findings are those of the text.

use crate::client::{Client, range};
use keyon_circuit::{Source, World};
use serde_json::{Value, json};
use std::{
    collections::BTreeSet,
    path::{Path, PathBuf},
    sync::Arc,
};

/// A small generator of our own, so that a seed means the same forever.
struct Random(u64);

impl Random {
    fn below(&mut self, n: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % n.max(1) as u64) as usize
    }
}

/// Files as they lie on the disk, read by the test itself.
struct Disk;

impl World for Disk {
    fn library(&self, from: &str, path: &str) -> Option<Source> {
        let path = Path::new(from).parent()?.join(path).canonicalize().ok()?;
        let text: Arc<str> = std::fs::read_to_string(&path).ok()?.into();
        let parse = Arc::new(keyon_syntax::parse(&text));
        Some(Source { key: path.to_string_lossy().into(), text, parse })
    }
}

fn corpus() -> Vec<PathBuf> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../corpus").canonicalize().unwrap();
    let mut files = Vec::new();
    let mut folders = vec![root];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "keyon") {
                files.push(path);
            }
        }
    }
    files.sort();
    files
}

/// The findings of a text, checked afresh: rule, place, message.
fn fresh(path: &Path, text: &str) -> BTreeSet<(String, String, String)> {
    let text: Arc<str> = text.into();
    let source =
        Source { key: path.to_string_lossy().into(), parse: Arc::new(keyon_syntax::parse(&text)), text };
    let checked = keyon_check::check(&Disk, &source, &keyon_solve::Never).unwrap();
    let own = checked.findings.iter().filter(|finding| finding.loc.file.index() == 0);
    own.map(|finding| {
        let span = checked.elaboration.span(finding.loc);
        (
            finding.rule.to_owned(),
            range(&source.text, span.range(), "utf-16").to_string(),
            finding.message.clone(),
        )
    })
    .collect()
}

fn shown(diagnostics: &[Value]) -> BTreeSet<(String, String, String)> {
    let text = |value: &Value| value.as_str().unwrap().to_owned();
    diagnostics
        .iter()
        .map(|d| {
            let message = text(&d["message"]);
            (text(&d["code"]), d["range"].to_string(), message)
        })
        .collect()
}

/// One edit somewhere: cut, typed, copied, a line swallowed.
fn edit(random: &mut Random, text: &str) -> (std::ops::Range<usize>, String) {
    let boundary = |mut at: usize| {
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        // Between CR and LF there is no position.
        if at > 0 && text.as_bytes()[at - 1] == b'\r' && text.as_bytes().get(at) == Some(&b'\n') {
            at - 1
        } else {
            at
        }
    };
    let start = boundary(random.below(text.len() + 1));
    match random.below(6) {
        0 => (start..boundary((start + random.below(12)).min(text.len())).max(start), String::new()),
        1 => (start..start, ["{", "}", "\"", "\n", "->", ",", "(", "#", "##", " "][random.below(10)].into()),
        2 => (
            start..start,
            ["wire 9 ", "\u{1f50c}", "\u{e4}", "12 V", "device d : ", "\r\n", "\r", "S12"][random.below(8)]
                .into(),
        ),
        3 => {
            let from = boundary(random.below(text.len() + 1));
            let to = boundary((from + random.below(60)).min(text.len())).max(from);
            (start..start, text[from..to].into())
        }
        4 => {
            let end = text[start..].find('\n').map_or(text.len(), |at| start + at + 1);
            (start..boundary(end).max(start), String::new())
        }
        _ => (
            start..boundary((start + 1).min(text.len())).max(start),
            ["x", "1", ".", "a b"][random.below(4)].into(),
        ),
    }
}

#[test]
fn two_hundred_edits_leave_the_findings_of_the_text() {
    let mut client = Client::start();
    for (n, path) in corpus().into_iter().enumerate() {
        let mut text = std::fs::read_to_string(&path).unwrap();
        let uri = format!("file://{}", path.display());
        let mut random = Random(0x9e37_79b9_7f4a_7c15 ^ (n as u64 + 1).wrapping_mul(0x2545_f491_4f6c_dd1d));
        client.open(&uri, 0, &text);
        for version in 1..=200 {
            let mut changes = Vec::new();
            for _ in 0..=random.below(2) {
                let (bytes, new) = edit(&mut random, &text);
                changes.push(json!({ "range": range(&text, bytes.clone(), "utf-16"), "text": new }));
                text.replace_range(bytes, &new);
            }
            client.change(&uri, version, json!(changes));
        }
        // Findings are published when they differ. Those of this version do: it begins with a line that is none, whatever is
        // open at the text's end.
        client.change(&uri, 201, json!([{ "range": range(&text, 0..0, "utf-16"), "text": "@@\n" }]));
        text.insert_str(0, "@@\n");
        let shown = shown(&client.diagnostics(&uri, 201));
        let fresh = fresh(&path, &text);
        // Help stands behind the message, related places aside.
        let name = path.display();
        let places = |set: &BTreeSet<(String, String, String)>| {
            set.iter().map(|(rule, place, _)| format!("{rule} {place}")).collect::<Vec<_>>()
        };
        let (left, right) = (places(&shown), places(&fresh));
        let differ =
            left.iter().filter(|d| !right.contains(d)).chain(right.iter().filter(|d| !left.contains(d)));
        assert_eq!(shown.len(), fresh.len(), "{name}: {:#?}", differ.collect::<Vec<_>>());
        for ((rule, place, message), wanted) in shown.iter().zip(&fresh) {
            assert_eq!((rule, place), (&wanted.0, &wanted.1), "{name}");
            assert!(message.starts_with(&wanted.2), "{name}: {message} is not {}", wanted.2);
        }
        client.close(&uri);
        client.unasked();
    }
    client.finish();
}

/// Every question that names a place or a document.
fn ask_everything(client: &mut Client, uri: &str, text: &str, offset: usize) {
    for method in [
        "textDocument/hover",
        "textDocument/completion",
        "textDocument/definition",
        "textDocument/references",
        "textDocument/documentHighlight",
    ] {
        client.at(method, uri, text, offset);
    }
    let whole = range(text, 0..text.len(), "utf-16");
    let params = json!({
        "textDocument": { "uri": uri }, "range": whole, "context": { "diagnostics": [] },
        "options": { "tabSize": 2, "insertSpaces": true }
    });
    for method in [
        "textDocument/documentSymbol",
        "textDocument/foldingRange",
        "textDocument/inlayHint",
        "textDocument/codeAction",
        "textDocument/formatting",
    ] {
        client.ask(method, params.clone()).unwrap_or_else(|error| panic!("{method} at {offset}: {error}"));
    }
}

/// Types a corpus file from its first byte to its last, and asks everything at each `step`th stop.
fn type_through(file: &str, step: usize) {
    let mut client = Client::start();
    let path = corpus().into_iter().find(|path| path.ends_with(file)).unwrap();
    let whole = std::fs::read_to_string(&path).unwrap();
    let uri = format!("file://{}", path.display());
    client.open(&uri, 0, "");
    let cuts: Vec<usize> = (0..=whole.len()).filter(|&at| whole.is_char_boundary(at)).step_by(step).collect();
    for (version, cut) in cuts.into_iter().enumerate() {
        let text = &whole[..cut];
        client.change(&uri, version as i64 + 1, json!([{ "text": text }]));
        ask_everything(&mut client, &uri, text, cut);
    }
    client.finish();
}

#[test]
fn no_truncation_breaks_any_answer() {
    type_through("circuits/first_lamp.keyon", 1);
}

/// The large file at few places: a prime step falls on every kind of them.
#[test]
fn no_truncation_of_a_large_file_breaks_any_answer() {
    type_through("circuits/orchard_sprayer.keyon", 311);
}
