//! A name for a net: where several wires end on one pin they are led to a splice, and the splice to the pin.

use super::{Refactor, free, line_end, newline};
use crate::{View, place::item_at};
use keyon_circuit::{Entity, ids::PointId};
use keyon_syntax::{Span, tree::ItemKind};

pub(super) fn splice(view: &View<'_>, offset: u32) -> Option<Refactor> {
    let placed = item_at(view, offset)?;
    let ItemKind::Wire(wire) = &placed.item.kind else { return None };
    let here = wire.points.iter().find(|name| name.span.moved(placed.start).touches(offset))?;
    let point = meant(view, here.span.moved(placed.start))?;
    let text = view.text();
    let mut edits = Vec::new();
    let mut ends = 0;
    for other in &view.source()?.parse.file.items {
        let ItemKind::Wire(wire) = &other.item.kind else { continue };
        for (n, name) in wire.points.iter().enumerate() {
            let span = name.span.moved(other.start);
            if meant(view, span) == Some(point) {
                ends += usize::from(n > 0) + usize::from(n + 1 < wire.points.len());
                edits.push(span);
            }
        }
    }
    // A splice of two wires would be none.
    if ends < 2 {
        return None;
    }
    let numbers = (1..10_000).map(|n| format!("S{n}"));
    let splice = free(view, numbers)?;
    let at = line_end(view, placed);
    let pin = text.get(here.span.moved(placed.start).range())?;
    let newline = newline(view);
    let declared = format!("{newline}splice {splice}{newline}wire {splice} -> {pin}");
    let mut edits: Vec<(Span, String)> = edits.into_iter().map(|span| (span, splice.clone())).collect();
    edits.push((Span { start: at, end: at }, declared));
    edits.sort_by_key(|(span, _)| span.start);
    let title = format!("name this net: a splice {splice} for the {ends} wires of {pin}");
    Some(Refactor { title, extracts: true, edits })
}

/// The point that a path stands for, where it is one that only a pin gives a name to.
fn meant(view: &View<'_>, span: Span) -> Option<PointId> {
    let elaboration = view.elaboration;
    let last = elaboration.names.iter().find(|name| {
        name.loc.file.index() == 0 && {
            let at = elaboration.span(name.loc);
            at.end == span.end && at.start >= span.start
        }
    })?;
    match last.entity {
        Entity::Supply(_)
        | Entity::Ground(_)
        | Entity::Splice(_)
        | Entity::Inline(_)
        | Entity::InlineCavity(..) => None,
        entity => elaboration.circuit.point_of(entity),
    }
}
