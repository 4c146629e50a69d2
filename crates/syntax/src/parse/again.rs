//! A text read again after an edit: only the items around it.
//!
//! Outside all bodies the layout has no memory: from an item's first line on it depends on the text from there alone. So the
//! text is cut at the first line of an item before the edit and of one behind it, and the piece between is read. Where
//! its items meet those of before again, the rest is theirs.

use super::{
    Note, Parse,
    pieces::{Read, read},
    push_errors,
};
use crate::{
    layout::AHEAD,
    step::{step, steps},
    tree::{File, PlacedItem},
};

/// A replaced range of bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Edit {
    /// First byte replaced, in both texts.
    pub start: u32,
    /// One past the last byte replaced, in the old text.
    pub old_end: u32,
    /// One past the last new byte, in the new text.
    pub new_end: u32,
}

impl Edit {
    /// An offset behind the edit, in the new text.
    fn shifted(self, offset: u32) -> u32 {
        offset.wrapping_sub(self.old_end).wrapping_add(self.new_end)
    }
}

/// Reads `new_text`, which differs from `old_text` by `edit` alone. The same as [`parse`](super::parse) of it, but items
/// that the edit does not touch stay the very same.
pub fn reparse(old: &Parse, old_text: &str, new_text: &str, edit: Edit) -> Parse {
    let items = &old.file.items;
    let consistent = edit.start <= edit.old_end
        && edit.start <= edit.new_end
        && old_text.len() >= edit.old_end as usize
        && edit.shifted(old_text.len() as u32) as usize == new_text.len()
        && old.notes.len() == items.len();
    if !consistent {
        return super::parse(new_text);
    }
    let first = first_to_read(old, old_text, edit.start);
    let from = match first {
        0 => 0,
        first => items.get(first).and_then(|item| line_start(old_text, item.start)).unwrap_or(0),
    };
    // The first item that surely begins behind the edit; two more are looked at, then four …
    let behind = items.partition_point(|item| item.start <= edit.old_end);
    let mut more = 2;
    loop {
        let end = (behind + more..items.len())
            .find_map(|at| Some((at, line_start(old_text, items.get(at)?.start)?)));
        let Some((stop, old_line)) = end else {
            let piece = new_text.get(from as usize..).unwrap_or_default();
            return join(old, first, read(piece), from, items.len(), edit);
        };
        let piece = new_text.get(from as usize..edit.shifted(old_line) as usize).unwrap_or_default();
        let piece = read(piece);
        if let Some((kept, meets)) =
            meeting(&piece, items, old_text, new_text, behind..stop.saturating_sub(1), from, edit)
        {
            let mut piece = piece;
            piece.items.truncate(kept);
            piece.notes.truncate(kept);
            return join(old, first, piece, from, meets, edit);
        }
        more *= 4;
    }
}

/// The item to begin with: one before the one that the edit touches, first on its line, behind one with all its brackets.
fn first_to_read(old: &Parse, old_text: &str, start: u32) -> usize {
    let mut first = old.file.items.partition_point(|item| item.start <= start).saturating_sub(2);
    // From here on to `first` no item lacks a bracket.
    let mut known = first;
    while first > 0 {
        step();
        // How a body without its bracket is read depends on some lines below it.
        let from = first.saturating_sub(AHEAD);
        let before = old.notes.get(from..known.max(from)).unwrap_or_default();
        steps(before.len());
        if let Some(open) = before.iter().position(|note| note.open) {
            (first, known) = (from + open, from + open);
            continue;
        }
        known = known.min(from);
        let item = old.file.items.get(first);
        if item.is_some_and(|item| item.start < start && line_start(old_text, item.start).is_some()) {
            return first;
        }
        first -= 1;
    }
    0
}

/// Where the line of `offset` begins, if only blanks stand before it there.
pub(super) fn line_start(text: &str, offset: u32) -> Option<u32> {
    let before = text.get(..offset as usize)?;
    let start = before.trim_end_matches([' ', '\t']);
    steps(before.len() - start.len() + 1);
    (start.is_empty() || start.ends_with(['\n', '\r'])).then_some(start.len() as u32)
}

/// Two neighbours that begin in the piece where they did before, the first one on a line that is as it was: how many items
/// of the piece stand before them, and which of the old items the first one is. `None` if the piece has to be longer.
fn meeting(
    piece: &Read,
    items: &[PlacedItem],
    old_text: &str,
    new_text: &str,
    among: std::ops::Range<usize>,
    from: u32,
    edit: Edit,
) -> Option<(usize, usize)> {
    if piece.looked_to_end {
        return None;
    }
    among.into_iter().find_map(|at| {
        step();
        let place = |at: usize| items.get(at).map(|item| edit.shifted(item.start));
        let (start, next) = (place(at)?, place(at + 1)?);
        let kept = piece.items.partition_point(|item| item.start + from < start);
        let begins =
            |nth: usize, start: u32| piece.items.get(nth).is_some_and(|item| item.start + from == start);
        let line = line_start(old_text, items.get(at)?.start).filter(|line| *line >= edit.old_end)?;
        let same = line_start(new_text, start) == Some(edit.shifted(line));
        (begins(kept, start) && begins(kept + 1, next) && same).then_some((kept, at))
    })
}

/// The old items before `first`, those of the piece, the old ones from `meets`.
fn join(old: &Parse, first: usize, piece: Read, from: u32, meets: usize, edit: Edit) -> Parse {
    let items = &old.file.items;
    let mut all: Vec<PlacedItem> = Vec::with_capacity(first + piece.items.len() + items.len() - meets);
    let mut notes: Vec<Note> = Vec::with_capacity(all.capacity());
    all.extend_from_slice(items.get(..first).unwrap_or_default());
    notes.extend_from_slice(old.notes.get(..first).unwrap_or_default());
    let moved = |item: &PlacedItem, start: u32| PlacedItem { start, item: item.item.clone() };
    all.extend(piece.items.iter().map(|item| moved(item, item.start + from)));
    notes.extend(piece.notes);
    all.extend(items.iter().skip(meets).map(|item| moved(item, edit.shifted(item.start))));
    notes.extend_from_slice(old.notes.get(meets..).unwrap_or_default());

    let mut errors =
        if first == 0 { piece.before } else { old.errors.get(..old.before).unwrap_or_default().to_vec() };
    let before = errors.len();
    for (placed, note) in all.iter().zip(&notes) {
        push_errors(&mut errors, note, placed.start);
    }
    Parse { file: File { items: all }, errors, notes, before }
}
