//! A whole text: layout, then each item by the grammar; errors put in order.

mod again;
mod item;
mod message;
mod statement;
#[cfg(test)]
mod work;

use crate::{
    Span, SyntaxError,
    grammar::run::Runner,
    layout::{ItemLayout, Layout, ProblemKind, layout},
    lexer::TokenKind,
    step::{step, steps},
    tree::{File, PlacedItem},
};
pub use again::{Edit, reparse};
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

/// A text or a piece of one, read; places count from its first byte.
struct Read {
    items: Vec<PlacedItem>,
    notes: Vec<Note>,
    /// Errors before the first item.
    before: Vec<SyntaxError>,
    /// Where the layout of an item was looked for up to the end of the text.
    looked_to_end: bool,
}

fn read(text: &str) -> Read {
    let layout = layout(text);
    let slips = slips_between(text, &layout);
    let sigs = statement::all(text, &layout);
    let runner = Runner::new();
    let mut out = Read {
        items: Vec::with_capacity(layout.items.len()),
        notes: Vec::with_capacity(layout.items.len()),
        before: Vec::new(),
        looked_to_end: layout.looked_to_end,
    };
    let mut problems = layout.problems.as_slice();
    let mut slips = slips.as_slice();
    for (index, item) in layout.items.iter().enumerate() {
        step();
        let (mine, rest) = problems.split_at(problems.partition_point(|p| p.item as usize <= index));
        problems = rest;
        let reader = item::Reader::new(text, &layout, &sigs, &runner, item, index as u32);
        let (tree, mut errors) = reader.item(item, mine);
        let start = reader.base();
        let end = layout.items.get(index + 1).map_or(u32::MAX, |next| base(&layout, next));
        let (here, rest) = slips.split_at(slips.partition_point(|slip| slip.span.start < end));
        let before = here.partition_point(|slip| slip.span.start < start);
        let (earlier, here) = here.split_at(before);
        out.before.extend_from_slice(earlier);
        slips = rest;
        steps(here.len());
        errors.extend(here.iter().map(|slip| slip.moved(start.wrapping_neg())));
        errors.sort_by_key(|e| (e.span.start, e.span.end));
        errors.dedup();
        out.items.push(PlacedItem { start, item: Arc::new(tree) });
        out.notes.push(Note {
            errors: (!errors.is_empty()).then(|| errors.into()),
            open: mine.iter().any(|p| p.kind == ProblemKind::OpenBody),
        });
    }
    out.before.extend_from_slice(slips);
    out
}

/// Semicolons and invisible characters outside the statements.
fn slips_between(text: &str, layout: &Layout) -> Vec<SyntaxError> {
    let mut out = Vec::new();
    let mut statements = layout.statements.iter().peekable();
    for (at, token) in layout.tokens.iter().enumerate() {
        step();
        if !matches!(token.kind, TokenKind::Lookalike | TokenKind::Invisible) {
            continue;
        }
        while statements.next_if(|s| s.tokens.end as usize <= at).is_some() {}
        if statements.peek().is_none_or(|s| (s.tokens.start as usize) > at) {
            out.push(message::slip(*token, token.text(text), layout, at));
        }
    }
    out
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
