//! An open document: its text as the editor has it, and the edits that keep it so.

use crate::{
    files::Files,
    position::{Encoding, Lines},
    snapshot::{Cell, Known},
};
use keyon_circuit::Source;
use smol_str::SmolStr;
use std::{ops::Range, sync::Arc};
use tower_lsp::lsp_types::{TextDocumentContentChangeEvent, Url};

/// An open document.
#[derive(Clone, Debug)]
pub(crate) struct Document {
    /// As the client spells it.
    pub(crate) uri: Url,
    /// The client's version of the text.
    pub(crate) version: i32,
    pub(crate) text: Arc<str>,
    /// The circuits at some time, and the text that they are of; behind the text while changes stream in. One, but in a
    /// note that holds several.
    parsed: Option<(Arc<str>, Vec<Part>)>,
    pub(crate) key: SmolStr,
    /// The lines of `text`.
    lines: Arc<Lines>,
    /// What is kept of its circuits from one version to the next, circuit by circuit.
    known: Vec<Arc<Known>>,
    /// The scenario that hover and hints show, by name.
    pub(crate) held: Option<SmolStr>,
    /// An edit did not fit our text: we no longer know what the editor shows, and say nothing until we do.
    pub(crate) lost: bool,
}

impl Document {
    pub(crate) fn new(uri: Url, key: SmolStr, version: i32, text: String) -> Self {
        Self {
            uri,
            version,
            lines: Arc::new(Lines::new(&text)),
            text: text.into(),
            parsed: None,
            key,
            known: Vec::new(),
            held: None,
            lost: false,
        }
    }

    /// Applies changes in their order. `false` if one does not fit: the document is lost until a full text comes.
    pub(crate) fn change(
        &mut self,
        version: i32,
        changes: &[TextDocumentContentChangeEvent],
        encoding: Encoding,
    ) -> bool {
        // Versions only grow. One that went back means that messages were lost or mixed up.
        let stale = version < self.version;
        self.version = version.max(self.version);
        let changes = match changes.iter().rposition(|change| change.range.is_none()) {
            Some(full) => {
                self.lost = false;
                &changes[full..]
            }
            None => {
                self.lost |= stale;
                changes
            }
        };
        if self.lost {
            return false;
        }
        match apply(&self.text, &self.lines, changes, encoding) {
            Some((text, lines)) => (self.text, self.lines) = (text.into(), Arc::new(lines)),
            None => self.lost = true,
        }
        !self.lost
    }

    /// A full text, which ends any confusion.
    pub(crate) fn replace(&mut self, text: String) {
        if *text != *self.text {
            self.lines = Arc::new(Lines::new(&text));
            self.text = text.into();
        }
        self.lost = false;
    }

    /// Text and tree as they are now; of a note those of its first circuit.
    pub(crate) fn source(&mut self) -> Source {
        let key = self.key.clone();
        let first = self.parts().first().map(|part| part.source.clone());
        first.unwrap_or_else(|| Source { key, text: "".into(), parse: Arc::default() })
    }

    /// The circuits as they are now, at least one. Parses what changed since the last time.
    fn parts(&mut self) -> &[Part] {
        if !self.parsed.as_ref().is_some_and(|(text, _)| Arc::ptr_eq(text, &self.text)) {
            let before = self.parsed.take().map_or_else(Vec::new, |(_, parts)| parts);
            let texts = if crate::snapshot::is_note(&self.key) {
                circuits_of(&self.text)
            } else {
                vec![(self.text.clone(), Vec::new())]
            };
            let part = |(i, (text, blocks)): (usize, (Arc<str>, Vec<Range<usize>>))| {
                let parse = crate::parse::parse(before.get(i).map(|part| &part.source), &text);
                Part { source: Source { key: self.key.clone(), text, parse: Arc::new(parse) }, blocks }
            };
            let parts = texts.into_iter().enumerate().map(part).collect();
            self.parsed = Some((self.text.clone(), parts));
        }
        self.parsed.as_ref().map_or(&[], |(_, parts)| parts)
    }

    /// What requests and checks work with.
    pub(crate) fn cell(&mut self, files: &dyn Fn() -> Files) -> Cell {
        let parts = self.parts().to_vec();
        self.known.resize_with(parts.len(), Arc::default);
        let mut cells = parts.into_iter().zip(&self.known).map(|(part, known)| {
            // A circuit of a note has all lines of the note.
            let cell = Cell::new(self.uri.clone(), part.source, files(), Arc::clone(known));
            (cell.with_lines(Arc::clone(&self.lines)), part.blocks)
        });
        let first = cells.next();
        let also = cells.map(|(cell, blocks)| Arc::new(cell.in_note(blocks, Vec::new()))).collect();
        match first {
            Some((cell, blocks)) => cell.in_note(blocks, also),
            None => {
                let empty = Source { key: self.key.clone(), text: "".into(), parse: Arc::default() };
                Cell::new(self.uri.clone(), empty, files(), Arc::default())
            }
        }
    }
}

/// One circuit of a document: all of it, or some blocks of a note.
#[derive(Clone, Debug)]
struct Part {
    source: Source,
    blocks: Vec<Range<usize>>,
}

/// The circuits of a note, each at its own bytes. A note without one is an empty circuit's text.
fn circuits_of(note: &str) -> Vec<(Arc<str>, Vec<Range<usize>>)> {
    let circuits = keyon_syntax::notes::circuits(note);
    if circuits.is_empty() {
        return vec![(keyon_syntax::notes::blank(note).into(), Vec::new())];
    }
    circuits.into_iter().map(|circuit| (circuit.text.into(), circuit.blocks)).collect()
}

/// The text after the changes, with its lines; `None` if a range does not resolve.
pub(crate) fn apply(
    text: &str,
    lines: &Lines,
    changes: &[TextDocumentContentChangeEvent],
    encoding: Encoding,
) -> Option<(String, Lines)> {
    let mut now: Option<(String, Lines)> = None;
    for change in changes {
        let (text, lines) = now.as_ref().map_or((text, lines), |(text, lines)| (text.as_str(), lines));
        let Some(range) = change.range else {
            now = Some((change.text.clone(), Lines::new(&change.text)));
            continue;
        };
        let start = lines.offset(text, range.start, encoding)?;
        let end = lines.offset(text, range.end, encoding)?;
        let (before, after) = (text.get(..start as usize)?, text.get(end as usize..)?);
        if start > end {
            return None;
        }
        let new = [before, &change.text, after].concat();
        let lines = lines.edited(&new, start, end, start + change.text.len() as u32);
        now = Some((new, lines));
    }
    Some(now.unwrap_or_else(|| (text.to_owned(), lines.clone())))
}

#[cfg(test)]
mod tests {
    use super::*;
    use tower_lsp::lsp_types::{Position, Range};

    fn edit(range: Option<[u32; 4]>, text: &str) -> TextDocumentContentChangeEvent {
        let range = range.map(|[a, b, c, d]| Range::new(Position::new(a, b), Position::new(c, d)));
        TextDocumentContentChangeEvent { range, range_length: None, text: text.into() }
    }

    fn document(text: &str) -> Document {
        Document::new(Url::parse("file:///a.keyon").unwrap(), "a".into(), 1, text.into())
    }

    #[test]
    fn changes_build_on_each_other() {
        let changes = [edit(Some([0, 1, 0, 2]), "\u{1f50c}\n"), edit(Some([0, 3, 1, 1]), "x")];
        let apply = |text, changes: &[_], encoding| {
            let (text, lines) = apply(text, &Lines::new(text), changes, encoding)?;
            assert_eq!(lines, Lines::new(&text));
            Some(text)
        };
        assert_eq!(apply("abc\n", &changes, Encoding::Utf16).as_deref(), Some("a\u{1f50c}x\n"));
        assert_eq!(apply("abc", &[edit(Some([1, 0, 1, 0]), "!")], Encoding::Utf8).as_deref(), Some("abc!"));
    }

    #[test]
    fn a_range_that_does_not_fit_loses_the_document_until_a_full_text_comes() {
        let mut document = document("a\u{1f50c}c");
        assert!(!document.change(2, &[edit(Some([0, 2, 0, 3]), "")], Encoding::Utf16));
        assert!(document.lost);
        assert_eq!(&*document.text, "a\u{1f50c}c");
        assert!(!document.change(3, &[edit(Some([0, 0, 0, 1]), "b")], Encoding::Utf16), "still lost");
        assert!(document.change(4, &[edit(None, "new"), edit(Some([0, 0, 0, 1]), "f")], Encoding::Utf16));
        assert_eq!(&*document.text, "few");
        assert!(!document.change(5, &[edit(Some([0, 2, 0, 1]), "")], Encoding::Utf16), "turned round");
    }

    #[test]
    fn a_version_that_goes_back_loses_it_too() {
        let mut document = document("abc");
        assert!(!document.change(0, &[edit(Some([0, 0, 0, 1]), "")], Encoding::Utf16));
        document.replace("whole".into());
        assert!(!document.lost);
    }
}
