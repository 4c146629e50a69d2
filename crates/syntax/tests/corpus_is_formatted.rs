//! Every corpus file is stored as the formatter writes it. `KEYON_BLESS=1 cargo test -p keyon-syntax` rewrites them.

#![allow(clippy::expect_used)]

use std::path::{Path, PathBuf};

/// All `.keyon` files of the corpus, sorted.
fn corpus() -> Vec<PathBuf> {
    let mut found = Vec::new();
    let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../corpus");
    let mut folders = vec![corpus.join("circuits"), corpus.join("parts")];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(&folder).expect("corpus folder").flatten() {
            let path = entry.path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "keyon") {
                found.push(path);
            }
        }
    }
    found.sort();
    assert!(found.len() > 8, "the corpus is gone");
    found
}

#[test]
fn corpus_is_formatted() {
    let mut wrong = Vec::new();
    for path in corpus() {
        let text = std::fs::read_to_string(&path).expect("UTF-8");
        let formatted = keyon_syntax::fmt::format(&text);
        if formatted != text {
            if std::env::var_os("KEYON_BLESS").is_some() {
                std::fs::write(&path, &formatted).expect("write");
            }
            wrong.push(path);
        }
    }
    assert!(
        wrong.is_empty() || std::env::var_os("KEYON_BLESS").is_some(),
        "not as the formatter writes them: {wrong:#?}"
    );
}
