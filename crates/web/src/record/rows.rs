//! A text in all its versions as columns: its rows are laid side by side, and each is cut where versions differ.

use super::columns::Columns;
use similar::{Algorithm, DiffOp, capture_diff_slices};
use std::collections::BTreeMap;

/// A row of some versions: what it begins with, and how each version has it.
struct Slot<'a> {
    key: &'a str,
    rows: BTreeMap<usize, &'a str>,
}

/// The columns whose values in a state, one behind the other, are the version of that state. Where there are fewer versions
/// than states the later states have the last one's.
pub(super) fn write(columns: &mut Columns, versions: &[String]) -> Vec<usize> {
    let mut known: BTreeMap<&str, usize> = BTreeMap::new();
    let mut distinct: Vec<&str> = Vec::new();
    let of: Vec<usize> = versions
        .iter()
        .map(|version| {
            *known.entry(version).or_insert_with(|| {
                distinct.push(version);
                distinct.len() - 1
            })
        })
        .collect();
    let mut slots: Vec<Slot<'_>> = Vec::new();
    for (version, text) in distinct.iter().enumerate() {
        align(&mut slots, version, &split_rows(text));
    }
    let mut out = Vec::new();
    for slot in &slots {
        let cells: BTreeMap<usize, Vec<&str>> =
            slot.rows.iter().map(|(&version, &row)| (version, split_cells(row))).collect();
        // Where a version has fewer cells its last ones are empty.
        for cell in 0..cells.values().map(Vec::len).max().unwrap_or_default() {
            let value = |v: &usize| cells.get(v).and_then(|c| c.get(cell)).copied().unwrap_or_default();
            out.push(columns.column(&of.iter().map(value).collect::<Vec<_>>()));
        }
    }
    out
}

/// Puts the rows of a version to those that begin alike, in their order; what is new stands between.
fn align<'a>(slots: &mut Vec<Slot<'a>>, version: usize, rows: &[&'a str]) {
    let old: Vec<&str> = slots.iter().map(|slot| slot.key).collect();
    let new: Vec<&str> = rows.iter().map(|row| key(row)).collect();
    let ops = capture_diff_slices(Algorithm::Myers, &old, &new);
    let mut before = std::mem::take(slots).into_iter();
    for op in ops {
        let (old, new) = (op.old_range(), op.new_range());
        let kept = before.by_ref().take(old.len());
        if let DiffOp::Equal { .. } = op {
            for (mut slot, at) in kept.zip(new) {
                slot.rows.insert(version, rows[at]);
                slots.push(slot);
            }
        } else {
            slots.extend(kept);
            slots.extend(
                new.map(|at| Slot { key: key(rows[at]), rows: BTreeMap::from([(version, rows[at])]) }),
            );
        }
    }
}

fn key(row: &str) -> &str {
    split_cells(row).first().copied().unwrap_or_default()
}

/// Lines, and the members of JSON's objects.
fn split_rows(text: &str) -> Vec<&str> {
    cut(text, |before, after| before.ends_with('\n') || before.ends_with("},") && after.starts_with('"'))
}

/// What may change by itself: tags, their ink, texts between them, values, words with wide gaps between.
fn split_cells(row: &str) -> Vec<&str> {
    cut(row, |before, after| {
        let wide = after.starts_with("  ") && !before.ends_with(' ');
        let behind = before.ends_with("  ") && !after.starts_with(' ');
        let tag = after.starts_with('<') || before.ends_with('>');
        let ink = after.starts_with(" stroke=") || after.starts_with(" fill=");
        let member = before.ends_with("\":") || after.starts_with(",\"");
        let bar = after.starts_with("| ") || before.ends_with("| ");
        let way = after.starts_with("· ") || before.ends_with("· ");
        let figure = before.ends_with(" reads ") || after.starts_with(" V (");
        wide || behind || tag || ink || member || bar || way || figure
    })
}

/// Cuts a text wherever it is said to.
fn cut(text: &str, here: impl Fn(&str, &str) -> bool) -> Vec<&str> {
    let mut out = Vec::new();
    let mut from = 0;
    for (at, _) in text.char_indices().skip(1) {
        let (before, after) = text.split_at(at);
        if here(before, after) {
            out.push(text.get(from..at).unwrap_or_default());
            from = at;
        }
    }
    out.extend(text.get(from..).filter(|rest| !rest.is_empty()));
    out
}
