//! A whole text: layout, then each item by the grammar; errors put in order.

mod again;
#[cfg(test)]
mod agreement;
mod item;
mod message;
mod pieces;
mod statement;
mod trade;
mod trees;
#[cfg(test)]
mod work;

use crate::{
    Span, SyntaxError,
    layout::{ItemLayout, Layout},
    tree::File,
};
pub use again::{Edit, reparse};
use pieces::read;
use std::sync::Arc;

/// A text's tree and what is wrong in it. Parsing never fails.
#[derive(Clone, Debug, Default)]
pub struct Parse {
    /// The items.
    pub file: File,
    /// In source order.
    pub errors: Vec<SyntaxError>,
    /// What [`reparse`] needs of each item, in the order of `file.items`.
    notes: Vec<Note>,
    /// How many of `errors` stand before the first item.
    before: usize,
}

/// What is kept of an item beside its tree.
#[derive(Clone, Debug, Default)]
struct Note {
    /// The errors from its first byte up to the next item, relative to that byte. `None` for none, as most have.
    errors: Option<Arc<[SyntaxError]>>,
    /// A `{` of it has no `}`: what follows may come to belong to it.
    open: bool,
}

/// Parses a text. Never fails: what cannot be read is an error, and the rest is there.
pub fn parse(text: &str) -> Parse {
    let read = read(text);
    let mut errors = read.before;
    let before = errors.len();
    for (placed, note) in read.items.iter().zip(&read.notes) {
        push_errors(&mut errors, note, placed.start);
    }
    Parse { file: File { items: read.items }, errors, notes: read.notes, before }
}

fn push_errors(out: &mut Vec<SyntaxError>, note: &Note, start: u32) {
    out.extend(note.errors.iter().flat_map(|errors| errors.iter()).map(|error| error.moved(start)));
}

/// Where an item begins.
fn base(layout: &Layout, item: &ItemLayout) -> u32 {
    layout.tokens.get(item.tokens.start as usize).map_or(0, |t| t.span.start)
}

impl SyntaxError {
    /// The same error, `by` bytes further on; modulo 2^32, so that it can go back.
    fn moved(&self, by: u32) -> Self {
        let shift = |span: Span| Span { start: span.start.wrapping_add(by), end: span.end.wrapping_add(by) };
        let mut error = self.clone();
        error.span = shift(error.span);
        if let Some((_, span, _)) = &mut error.fix {
            *span = shift(*span);
        }
        error
    }
}
