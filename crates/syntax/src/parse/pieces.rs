//! A text is read in pieces, so that tokens and layout stay small and near, however long it is.
//!
//! Outside all bodies the layout has no memory, and it looks ahead only within an item. So of the items of a piece all but
//! the last are what they are in the whole text, unless a forgotten bracket was looked for up to the piece's end; the
//! next piece begins with the first one that is left.

use super::{Note, again::line_start, base, message, trees};
use crate::{
    SyntaxError,
    layout::{Layout, ProblemKind, layout_with},
    lexer::TokenKind,
    step::{step, steps},
    tree::PlacedItem,
};

/// Bytes of a piece: some thousand lines, whose tokens fit in a processor's cache.
const PIECE: usize = 128 << 10;

/// A text or a part of one, read; places count from its first byte.
#[derive(Debug, Default)]
pub(super) struct Read {
    pub(super) items: Vec<PlacedItem>,
    pub(super) notes: Vec<Note>,
    /// Errors before the first item.
    pub(super) before: Vec<SyntaxError>,
    /// Where the layout of an item was looked for up to the end of the text.
    pub(super) looked_to_end: bool,
}

pub(super) fn read(text: &str) -> Read {
    read_in_pieces(text, PIECE)
}

/// Reads in pieces of so many bytes, or more where an item is longer.
pub(super) fn read_in_pieces(text: &str, size: usize) -> Read {
    let mut out = Read::default();
    let mut spare = Vec::new();
    let (mut from, mut length) = (0_usize, size);
    loop {
        let end = line_end(text, from.saturating_add(length));
        let piece = text.get(from..end).unwrap_or_default();
        let layout = layout_with(piece, std::mem::take(&mut spare));
        let last = end == text.len();
        let kept = if last { Some((layout.items.len(), piece.len() as u32)) } else { sure(piece, &layout) };
        if let Some((count, next)) = kept {
            add(&mut out, piece, &layout, count, from as u32);
            (from, length) = (from + next as usize, size);
        } else {
            length *= 2;
        }
        if last {
            out.looked_to_end = layout.looked_to_end;
            return out;
        }
        spare = layout.tokens;
    }
}

/// The first end of a line at or behind `at`; the text's end if there is none.
fn line_end(text: &str, at: usize) -> usize {
    let bytes = text.as_bytes();
    let rest = bytes.get(at.saturating_sub(1)..).unwrap_or_default();
    let found = rest.iter().position(|byte| matches!(byte, b'\n' | b'\r'));
    let Some(found) = found else { return text.len() };
    let end = at.saturating_sub(1) + found + 1;
    let both = bytes.get(end - 1) == Some(&b'\r') && bytes.get(end) == Some(&b'\n');
    if both { end + 1 } else { end }
}

/// How many of a piece's items are the same in the whole text, and where the line of the next one begins. `None` if the
/// piece is too short to know of any.
fn sure(piece: &str, layout: &Layout) -> Option<(usize, u32)> {
    if layout.looked_to_end {
        return None;
    }
    let items = layout.items.iter().enumerate().skip(1).rev();
    items.into_iter().find_map(|(at, item)| {
        step();
        Some((at, line_start(piece, base(layout, item))?))
    })
}

/// Adds the first `count` items of a piece that begins at `from`.
fn add(out: &mut Read, piece: &str, layout: &Layout, count: usize, from: u32) {
    let slips = slips_between(piece, layout);
    let mut slips = slips.as_slice();
    out.items.reserve(count);
    out.notes.reserve(count);
    let all = layout.items.iter().zip(trees::trees(piece, layout, count)).enumerate();
    for (index, (item, tree)) in all {
        step();
        let Some((tree, mut errors)) = tree else { continue };
        let start = base(layout, item);
        let end = layout.items.get(index + 1).map_or(u32::MAX, |next| base(layout, next));
        let (here, rest) = slips.split_at(slips.partition_point(|slip| slip.span.start < end));
        let before = here.partition_point(|slip| slip.span.start < start);
        let (earlier, here) = here.split_at(before);
        out.before.extend_from_slice(earlier);
        slips = rest;
        steps(here.len());
        errors.extend(here.iter().map(|slip| slip.moved(start.wrapping_neg())));
        errors.sort_by_key(|e| (e.span.start, e.span.end));
        errors.dedup();
        out.items.push(PlacedItem { start: from.wrapping_add(start), item: tree });
        out.notes.push(Note {
            errors: (!errors.is_empty()).then(|| errors.into()),
            open: trees::problems(layout, index).iter().any(|p| {
                use ProblemKind::{BraceMissing, BracesMissing, CloseExtra, OpenBody};
                matches!(p.kind, OpenBody | BraceMissing | BracesMissing | CloseExtra)
            }),
        });
    }
    if layout.items.is_empty() {
        out.before.extend_from_slice(slips);
    }
}

/// Semicolons and invisible characters outside the statements.
fn slips_between(text: &str, layout: &Layout) -> Vec<SyntaxError> {
    let mut out = Vec::new();
    if !layout.slips {
        return out;
    }
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
