//! The circuits of a document: one, but in a Markdown note as many as it names. Open or closed, they are told apart and put
//! together here.

use crate::{
    files::Files,
    position::Lines,
    snapshot::{Cell, Known},
};
use keyon_circuit::Source;
use smol_str::SmolStr;
use std::{ops::Range, sync::Arc};
use tower_lsp::lsp_types::Url;

/// One circuit of a document: all of it, or some blocks of a note.
#[derive(Clone, Debug)]
pub(crate) struct Part {
    pub(crate) source: Source,
    /// Of a note: where it stands. Empty where a note holds no circuit.
    pub(crate) blocks: Vec<Range<usize>>,
}

impl Part {
    /// A circuit or a library, and not merely a note that could hold one.
    pub(crate) fn is_there(&self) -> bool {
        !is_note(&self.source.key) || !self.blocks.is_empty()
    }
}

/// Whether a file is a Markdown note, by its ending.
pub(crate) fn is_note(key: &str) -> bool {
    [".md", ".markdown"].iter().any(|end| key.ends_with(end))
}

/// The circuits of a text, at least one. What did not change since `before` is not read again.
pub(crate) fn parts(key: &SmolStr, text: &Arc<str>, before: &[Part]) -> Vec<Part> {
    let texts = if is_note(key) { circuits_of(text) } else { vec![(text.clone(), Vec::new())] };
    let part = |(i, (text, blocks)): (usize, (Arc<str>, Vec<Range<usize>>))| {
        let parse = crate::parse::parse(before.get(i).map(|part| &part.source), &text);
        Part { source: Source { key: key.clone(), text, parse: Arc::new(parse) }, blocks }
    };
    texts.into_iter().enumerate().map(part).collect()
}

/// What requests and checks work with. `known` is kept of its circuits from one version to the next, circuit by circuit; `lines`
/// are those of the text, which a circuit of a note has all of.
pub(crate) fn cell(
    uri: &Url,
    parts: Vec<Part>,
    known: &mut Vec<Arc<Known>>,
    lines: Option<&Arc<Lines>>,
    files: &dyn Fn() -> Files,
) -> Option<Cell> {
    known.resize_with(parts.len(), Arc::default);
    let mut cells = parts.into_iter().zip(known).map(|(part, known)| {
        let cell = Cell::new(uri.clone(), part.source, files(), Arc::clone(known));
        let cell = match lines {
            Some(lines) => cell.with_lines(Arc::clone(lines)),
            None => cell,
        };
        (cell, part.blocks)
    });
    let (first, blocks) = cells.next()?;
    let also = cells.map(|(cell, blocks)| Arc::new(cell.in_note(blocks, Vec::new()))).collect();
    Some(first.in_note(blocks, also))
}

/// The circuits of a note, each at its own bytes. A note without one is an empty circuit's text.
fn circuits_of(note: &str) -> Vec<(Arc<str>, Vec<Range<usize>>)> {
    let circuits = keyon_syntax::notes::circuits(note);
    if circuits.is_empty() {
        return vec![(keyon_syntax::notes::blank(note).into(), Vec::new())];
    }
    circuits.into_iter().map(|circuit| (circuit.text.into(), circuit.blocks)).collect()
}
