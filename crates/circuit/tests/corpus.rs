//! Every circuit of the corpus.

#![allow(clippy::unwrap_used)]

mod common;

use std::{fs, path::Path};

/// The libraries beside a file of the corpus.
struct Disk;

impl keyon_circuit::World for Disk {
    fn library(&self, from: &str, path: &str) -> Option<keyon_circuit::Source> {
        let path = Path::new(from).parent()?.join(path).canonicalize().ok()?;
        let text = fs::read_to_string(&path).ok()?;
        Some(common::source(path.to_str()?, &text))
    }
}

/// Every file of the corpus with its text.
fn files() -> Vec<(String, String)> {
    let mut found = Vec::new();
    let mut folders = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join("../../corpus")];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "keyon") {
                let text = fs::read_to_string(&path).unwrap();
                found.push((path.canonicalize().unwrap().to_str().unwrap().to_owned(), text));
            }
        }
    }
    found.sort();
    found
}

fn elaborate(key: &str, text: &str) -> keyon_circuit::Elaboration {
    keyon_circuit::elaborate(&Disk, &common::source(key, text))
}

#[test]
fn sound_circuits_have_no_problems() {
    let mut seen = 0;
    for (key, text) in files() {
        let sound = key.contains("/circuits/") || key.contains("/parts/");
        if sound || !key.ends_with("wrong.keyon") {
            let e = elaborate(&key, &text);
            let said = common::problems(&e);
            assert!(said.is_empty(), "{key}\n{said}");
            seen += 1;
        }
    }
    assert!(seen > 15, "only {seen} files");
}
