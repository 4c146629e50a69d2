//! What the tests of this crate share: a world of texts, and results as text.

#![allow(dead_code)]

use keyon_circuit::{Elaboration, Source, World, elaborate, model::Loc};
use std::{collections::BTreeMap, fmt::Write, sync::Arc};

/// Files by their path.
#[derive(Default)]
pub(crate) struct Texts(pub(crate) BTreeMap<String, String>);

impl World for Texts {
    fn library(&self, _: &str, path: &str) -> Option<Source> {
        Some(source(path, self.0.get(path)?))
    }
}

pub(crate) fn source(key: &str, text: &str) -> Source {
    Source { key: key.into(), text: Arc::from(text), parse: Arc::new(keyon_syntax::parse(text)) }
}

/// Elaborates a text on its own.
pub(crate) fn alone(text: &str) -> Elaboration {
    elaborate(&Texts::default(), &source("main", text))
}

/// Elaborates a text with libraries.
pub(crate) fn with(libraries: &[(&str, &str)], text: &str) -> Elaboration {
    let files = libraries.iter().map(|(path, text)| ((*path).to_owned(), (*text).to_owned())).collect();
    elaborate(&Texts(files), &source("main", text))
}

/// The body of a circuit with a battery and a ground.
pub(crate) fn bench(body: &str) -> String {
    format!("circuit bench\nsupply battery 12.6 V\nground G1\n{body}\n")
}

/// A place as `file:line:column 'text'`.
pub(crate) fn place(e: &Elaboration, loc: Loc) -> String {
    let span = e.span(loc);
    let file = &e.files[loc.file.index()];
    let before = &file.text[..span.start as usize];
    let line = before.matches('\n').count() + 1;
    let column = before.chars().rev().take_while(|c| *c != '\n').count() + 1;
    let key = if loc.file.index() == 0 { String::new() } else { format!("{}:", file.key) };
    let text = e.text(loc).lines().next().unwrap_or("").to_owned();
    format!("{key}{line}:{column} '{text}'")
}

/// Syntax errors and problems of an elaboration, a block each.
pub(crate) fn problems(e: &Elaboration) -> String {
    let mut out = String::new();
    for file in &e.files {
        // Where and how is the parser's to say, and tested there.
        for _ in &file.parse.errors {
            out.push_str("(a syntax error)\n");
        }
    }
    for p in &e.problems {
        writeln!(out, "{} at {}\n  {}", p.rule, place(e, p.loc), p.message).unwrap();
        if let Some(help) = &p.help {
            writeln!(out, "  help: {help}").unwrap();
        }
        for (loc, words) in &p.related {
            writeln!(out, "  see {}: {words}", place(e, *loc)).unwrap();
        }
        if let Some(fix) = &p.fix {
            let edits: Vec<String> =
                fix.edits.iter().map(|(l, t)| format!("{} -> {t}", place(e, *l))).collect();
            writeln!(out, "  fix: {} [{}]", fix.title, edits.join("; ")).unwrap();
        }
    }
    out
}

/// Problems, then the model.
pub(crate) fn both(e: &Elaboration) -> String {
    format!("{}{}", problems(e), keyon_circuit::dump(&e.circuit))
}
