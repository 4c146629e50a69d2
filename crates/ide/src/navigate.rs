//! From a name to where it is declared, and to where else it is used.

use crate::{View, place::name_at};
use keyon_circuit::{Entity, Occurrence, model::Loc};
use keyon_syntax::Span;

/// Where the name at an offset is declared. At the declaration itself: that.
pub fn definition(view: &View<'_>, offset: u32) -> Vec<Loc> {
    let Some((occurrence, _)) = name_at(view, offset) else { return Vec::new() };
    let place = view.elaboration.definition(occurrence.entity).or_else(|| match occurrence.entity {
        // `on` of a driver is written nowhere; the driver is.
        Entity::Position(control, _) => view.elaboration.definition(Entity::Control(control)),
        _ => None,
    });
    place.into_iter().collect()
}

/// Where the kind of the thing at an offset is declared: of a device or module its part.
pub fn type_definition(view: &View<'_>, offset: u32) -> Vec<Loc> {
    let Some((occurrence, _)) = name_at(view, offset) else { return Vec::new() };
    let circuit = &view.elaboration.circuit;
    let part = match occurrence.entity {
        Entity::Module(m) => circuit.modules.get(m.index()).and_then(|m| m.part.as_ref()),
        Entity::Part(p) => return view.elaboration.parts.get(p).map(|p| p.loc).into_iter().collect(),
        entity => {
            let device = circuit.device_of(entity).and_then(|d| circuit.devices.get(d.index()));
            device.and_then(|d| d.part.as_ref())
        }
    };
    let Some(part) = part else { return Vec::new() };
    let named = view.elaboration.parts.iter().find(|p| p.name == part.name).map(|p| p.loc);
    named.or(part.loc).into_iter().collect()
}

/// Where what a drawing or a table calls by this name is declared. Of a path the longest part that is declared somewhere: a
/// contact inside a part is found with its device.
pub fn whereabouts(view: &View<'_>, name: &str) -> Option<Loc> {
    let elaboration = view.elaboration;
    let mut path = name.trim();
    loop {
        let declared = elaboration.circuit.lookup(path).into_iter();
        if let Some(loc) = declared.filter_map(|entity| elaboration.definition(entity)).next() {
            return Some(loc);
        }
        path = path.rsplit_once('.')?.0;
    }
}

/// Every place of the name at an offset, in all files, in their order.
pub fn references(view: &View<'_>, offset: u32, with_declaration: bool) -> Vec<Loc> {
    let occurrences = same(view, offset);
    occurrences.into_iter().filter(|o| with_declaration || !o.definition).map(|o| o.loc).collect()
}

/// The places of the name at an offset in this file, and whether each declares it.
pub fn highlight(view: &View<'_>, offset: u32) -> Vec<(Span, bool)> {
    let mut places: Vec<_> = same(view, offset)
        .into_iter()
        .filter(|o| o.loc.file.index() == 0)
        .map(|o| (view.elaboration.span(o.loc), o.definition))
        .collect();
    places.sort_unstable();
    places.dedup_by_key(|(span, _)| *span);
    places
}

/// All occurrences of the name at an offset. Two entities that are declared at one place are one name to whoever
/// reads: a pin of each device of a part, a control that is a device's.
fn same(view: &View<'_>, offset: u32) -> Vec<Occurrence> {
    let Some((here, _)) = name_at(view, offset) else { return Vec::new() };
    let place = view.elaboration.definition(here.entity);
    let same = |o: &&Occurrence| {
        o.entity == here.entity || place.is_some() && view.elaboration.definition(o.entity) == place
    };
    let mut found: Vec<_> = view.elaboration.names.iter().filter(same).copied().collect();
    found.sort_by_key(|o| (o.loc, !o.definition));
    found.dedup_by_key(|o| o.loc);
    found
}
