//! A number for a wire that has none: what is written on its label, and what a fault can name.

use super::{Refactor, free};
use crate::{View, place::item_at};
use keyon_syntax::{Span, tree::ItemKind};

pub(super) fn wire(view: &View<'_>, offset: u32) -> Option<Refactor> {
    let placed = item_at(view, offset)?;
    let ItemKind::Wire(wire) = &placed.item.kind else { return None };
    let first = wire.points.first().filter(|_| wire.label.is_none() && !placed.item.damaged)?;
    // Behind the number of the wire before it, as numbers run in a circuit.
    let before = view.source()?.parse.file.items.iter().take_while(|other| other.start < placed.start);
    let numbers = before.filter_map(|other| match &other.item.kind {
        ItemKind::Wire(wire) => wire.label.as_ref()?.text.parse::<u32>().ok(),
        _ => None,
    });
    let from = numbers.last().map_or(1, |n| n.saturating_add(1));
    let number = free(view, (from..from.saturating_add(100_000)).map(|n| n.to_string()))?;
    let at = placed.start + first.span.start;
    let title = format!("number this wire {number}");
    Some(Refactor {
        title,
        extracts: false,
        edits: vec![(Span { start: at, end: at }, format!("{number} "))],
    })
}
