//! A name for a net: where several wires end on one pin they are led to a splice, and the splice to the pin.

use super::{Refactor, free, line_end};
use crate::{
    View,
    format::newline,
    place::{item_at, name_at},
};
use keyon_circuit::{Entity, Occurrence, ids::PointId};
use keyon_syntax::{Span, tree::ItemKind};
use std::collections::HashSet;

pub(super) fn splice(view: &View<'_>, offset: u32) -> Option<Refactor> {
    let placed = item_at(view, offset)?;
    let ItemKind::Wire(wire) = &placed.item.kind else { return None };
    let here = wire.points.iter().find(|name| name.span.moved(placed.start).touches(offset))?;
    let point = meant(view, here.span.moved(placed.start))?;
    // Where paths to that point end: each path's last name stands for it.
    let elaboration = view.elaboration;
    let of_point =
        |name: &&Occurrence| name.loc.file.index() == 0 && point_of(view, name.entity) == Some(point);
    let path_ends: HashSet<u32> =
        elaboration.names.iter().filter(of_point).map(|name| elaboration.span(name.loc).end).collect();
    let mut edits = Vec::new();
    let mut ends = 0;
    for other in &view.source()?.parse.file.items {
        let ItemKind::Wire(wire) = &other.item.kind else { continue };
        for (n, name) in wire.points.iter().enumerate() {
            let span = name.span.moved(other.start);
            if path_ends.contains(&span.end) {
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
    let pin = view.text().get(here.span.moved(placed.start).range())?;
    let newline = newline(view.text());
    let declared = format!("{newline}splice {splice}{newline}wire {splice} -> {pin}");
    let mut edits: Vec<(Span, String)> = edits.into_iter().map(|span| (span, splice.clone())).collect();
    edits.push((Span { start: at, end: at }, declared));
    edits.sort_by_key(|(span, _)| span.start);
    let title = format!("name this net: a splice {splice} for the {ends} wires of {pin}");
    Some(Refactor { title, extracts: true, edits })
}

/// The point that a path stands for.
fn meant(view: &View<'_>, span: Span) -> Option<PointId> {
    let (last, at) = name_at(view, span.end.saturating_sub(1))?;
    point_of(view, last.entity).filter(|_| at.end == span.end)
}

/// The point of an entity, where it is one that only a pin gives a name to.
fn point_of(view: &View<'_>, entity: Entity) -> Option<PointId> {
    match entity {
        Entity::Supply(_)
        | Entity::Ground(_)
        | Entity::Splice(_)
        | Entity::Inline(_)
        | Entity::InlineCavity(..) => None,
        entity => view.elaboration.circuit.point_of(entity),
    }
}
