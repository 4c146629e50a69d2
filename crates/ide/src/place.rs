//! What stands at a place of the text.

use crate::View;
use keyon_circuit::{Entity, Occurrence, model::Loc};
use keyon_syntax::{Span, tree::PlacedItem};

/// The name at an offset of the view's file, and its bytes. Where two names meet, the one that begins there.
pub(crate) fn name_at(view: &View<'_>, offset: u32) -> Option<(Occurrence, Span)> {
    let mut best: Option<(Occurrence, Span)> = None;
    for &occurrence in &view.elaboration.names {
        if occurrence.loc.file.index() != 0 {
            continue;
        }
        let span = view.elaboration.span(occurrence.loc);
        if !span.touches(offset) {
            continue;
        }
        let better = best.is_none_or(|(_, last)| {
            let covers = |span: Span| offset < span.end;
            (covers(span), std::cmp::Reverse(span.len())) > (covers(last), std::cmp::Reverse(last.len()))
        });
        if better {
            best = Some((occurrence, span));
        }
    }
    best
}

/// The last name of the path that a name is part of, and the bytes from the name to there.
pub(crate) fn end_of_path(
    view: &View<'_>,
    (mut occurrence, mut span): (Occurrence, Span),
) -> (Occurrence, Span) {
    let Some(source) = view.source() else { return (occurrence, span) };
    while source.text.as_bytes().get(span.end as usize) == Some(&b'.')
        && let Some((next, end)) = name_at(view, span.end + 1)
        && end.start == span.end + 1
    {
        occurrence = next;
        span.end = end.end;
    }
    (occurrence, span)
}

/// The item at an offset of the view's file.
pub(crate) fn item_at<'a>(view: &View<'a>, offset: u32) -> Option<&'a PlacedItem> {
    let items = &view.source()?.parse.file.items;
    let index = items.partition_point(|placed| placed.start <= offset).checked_sub(1)?;
    items.get(index).filter(|placed| placed.item.span.moved(placed.start).touches(offset))
}

/// The doc comment of an item, a connector, a cavity or a gang, by a place in it.
pub(crate) fn doc_of(view: &View<'_>, loc: Loc) -> Option<String> {
    let file = view.elaboration.files.get(loc.file.index())?;
    let item = &file.parse.file.items.get(loc.item as usize)?.item;
    use keyon_syntax::tree::{ItemKind, ModuleKind, PartKind};
    let pinout = match &item.kind {
        ItemKind::Module(module) => match &module.what {
            ModuleKind::Body(pinout) => Some(pinout),
            _ => None,
        },
        ItemKind::Part(part) => match &part.what {
            PartKind::Module(pinout) => Some(pinout),
            PartKind::Device(_) => None,
        },
        _ => None,
    };
    let within = |span: Span| span.start <= loc.span.start && loc.span.end <= span.end;
    if let Some(pinout) = pinout {
        for gang in &pinout.gangs {
            if within(gang.span) {
                return gang.doc.as_ref().map(|doc| doc.text.clone());
            }
        }
        for housing in &pinout.housings {
            if let Some(row) = housing.rows.iter().find(|row| within(row.span)) {
                return row.doc.as_ref().map(|doc| doc.text.clone());
            }
            if within(housing.span) {
                return housing.doc.as_ref().map(|doc| doc.text.clone());
            }
        }
        if within(pinout.span) {
            return None;
        }
    }
    item.doc.as_ref().map(|doc| doc.text.clone())
}

/// The doc comment of what an entity is declared by.
pub(crate) fn doc(view: &View<'_>, entity: Entity) -> Option<String> {
    // A pin or an element has no comment of its own: the device's is no help there.
    let own =
        !matches!(entity, Entity::Point(_) | Entity::Element(_) | Entity::Position(..) | Entity::Param(..));
    view.elaboration.definition(entity).filter(|_| own).and_then(|loc| doc_of(view, loc))
}
