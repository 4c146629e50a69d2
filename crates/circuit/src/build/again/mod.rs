//! An elaboration after an edit, made of the one before it.
//!
//! Where an edit changes nothing but values within a few items, all else of the circuit stays as it was: its points, its names,
//! who is wired to whom. Those items alone are read again, twice: as they were and as they are, each time with just the items
//! that they name. What came of them as they were has to be what the circuit has of them; what comes of them as they are
//! may differ in values and places alone. Then the circuit gets these. In all other cases the whole is elaborated anew.

mod early;
mod take;
mod view;

pub(crate) use early::early;

use super::{Builder, Built, marks::Made};
use crate::{
    Elaboration, Likeness, Occurrence, Problem, Source, hash::Map, ids::*, libraries::Libraries, model::*,
};
use keyon_syntax::tree::{self, ItemKind, PlacedItem};
use smol_str::SmolStr;
use std::{ops::Range, sync::Arc};

/// Items that may differ: a replacement of one word in all of a file is better read whole.
const MOST: usize = 8;

/// What makes an elaboration of the one before it.
pub(crate) struct Patch {
    files: Vec<Source>,
    /// The items that differ, as they are now.
    items: Vec<u32>,
    /// These, elaborated with what they name.
    now: Built,
    /// Whether volts and amps may be others.
    electric: bool,
    /// Whether more than numbers and places may be others.
    shape: bool,
}

/// What turns `before` into the elaboration of `files`; `None` where that takes a whole elaboration.
pub(crate) fn patch(before: &Elaboration, files: &[Source], libraries: &Libraries<'_>) -> Option<Patch> {
    let items = changed(before, files)?;
    if items.is_empty() {
        let nothing = Builder::new(files, libraries).finish();
        return Some(Patch { files: files.to_vec(), items, now: nothing, electric: false, shape: false });
    }
    if mentioned(before, &items) {
        return None;
    }
    let old_items = &before.files.first()?.parse.file.items;
    let whole_reach = items.iter().any(|&i| shows_what_is_reached(old_items.get(i as usize)));
    let only = with_what_they_name(before, &items);
    let sides = sides(before, &items);
    let read = |files| Builder::some(files, libraries, &only, sides.clone(), whole_reach, None);
    let mut was = read(&before.files);
    let now = read(files);
    // What is wrong in an item may leave all that hangs on it in doubt.
    let sound = |built: &Built| items.iter().all(|&item| built.problems_of(item).is_empty());
    let sound = sound(&was) && sound(&now);
    let differ = |side: fn(&Circuit, &Made) -> String| {
        let one = |built: &Built, item| Some(side(&built.circuit, &built.marks.of(item)?));
        items.iter().any(|&item| one(&was, item) != one(&now, item))
    };
    let (electric, shape) = (differ(view::electric), differ(view::shape));
    if electric && repeats_laws(&before.circuit) {
        return None;
    }
    let (electric, shape) = (electric || !sound, shape || !sound);
    for &item in &items {
        if !was.agrees(before, item) {
            return None;
        }
        let (made, makes) = (was.marks.of(item)?, now.marks.of(item)?);
        if made != makes || !same_names(was.names_of(item), now.names_of(item)) {
            return None;
        }
        take::take(&mut was.circuit, &made, &now.circuit, &makes, item)?;
    }
    // With the new values in it, the old piece has to be the new one to the last detail.
    if was.marks != now.marks || format!("{:?}", was.circuit) != format!("{:?}", now.circuit) {
        return None;
    }
    if was.other_problems(&items) != now.other_problems(&items) {
        return None;
    }
    Some(Patch { files: files.to_vec(), items, now, electric, shape })
}

impl Patch {
    /// Makes the change. `None` where it does not fit after all: then the elaboration is not to be used.
    pub(crate) fn apply(self, e: &mut Elaboration) -> Option<()> {
        let Self { files, items, now, electric, shape } = self;
        e.files = files;
        if electric {
            e.electric = Likeness::new();
        }
        if shape {
            e.shape = Likeness::new();
        }
        for &item in &items {
            let (made, makes) = (e.marks.of(item)?, now.marks.of(item)?);
            take::take(&mut e.circuit, &made, &now.circuit, &makes, item)?;
            let range = of_item(&e.names, item, |name| name.loc);
            for (name, new) in e.names.get_mut(range)?.iter_mut().zip(now.names_of(item)) {
                name.loc = new.loc;
            }
            let range = of_item(&e.problems, item, |problem| problem.loc);
            e.problems.splice(range, now.problems_of(item).iter().cloned());
        }
        Some(())
    }
}

impl Built {
    fn names_of(&self, item: u32) -> &[Occurrence] {
        self.names.get(of_item(&self.names, item, |name| name.loc)).unwrap_or_default()
    }

    fn problems_of(&self, item: u32) -> &[Problem] {
        self.problems.get(of_item(&self.problems, item, |problem| problem.loc)).unwrap_or_default()
    }

    /// The problems of all other items, in words.
    fn other_problems(&self, items: &[u32]) -> Vec<String> {
        let other = |problem: &&Problem| {
            problem.loc.file != FileId(0) || items.binary_search(&problem.loc.item).is_err()
        };
        self.problems.iter().filter(other).map(|problem| format!("{problem:?}")).collect()
    }

    /// Whether this is what the whole circuit has of an item.
    fn agrees(&self, whole: &Elaboration, item: u32) -> bool {
        let (Some(here), Some(there)) = (self.marks.of(item), whole.marks.of(item)) else { return false };
        let of = |problems: &[Problem]| {
            let range = of_item(problems, item, |problem| problem.loc);
            format!("{:?}", problems.get(range).unwrap_or_default())
        };
        let names = |names: &[Occurrence], circuit: &Circuit| {
            let range = of_item(names, item, |name| name.loc);
            let one = |name: &Occurrence| (name.loc, name.definition, view::meaning(circuit, name.entity));
            names.get(range).unwrap_or_default().iter().map(one).collect::<Vec<_>>()
        };
        of(&self.problems) == of(&whole.problems)
            && names(&self.names, &self.circuit) == names(&whole.names, &whole.circuit)
            && view::view(&self.circuit, &here) == view::view(&whole.circuit, &there)
    }
}

/// The items of file 0 whose text differs; `None` where the files differ in more than that, or in what may change more.
fn changed(before: &Elaboration, files: &[Source]) -> Option<Vec<u32>> {
    let (old, new) = (before.files.first()?, files.first()?);
    let same =
        |(a, b): (&Source, &Source)| a.key == b.key && (Arc::ptr_eq(&a.parse, &b.parse) || a.text == b.text);
    let alike = before.files.len() == files.len() && before.files.iter().zip(files).skip(1).all(same);
    let sound = old.parse.errors.is_empty() && new.parse.errors.is_empty();
    let (was, is) = (&old.parse.file.items, &new.parse.file.items);
    if before.library || !alike || !sound || old.key != new.key || was.len() != is.len() {
        return None;
    }
    let mut items = Vec::new();
    for (i, (was, is)) in was.iter().zip(is).enumerate() {
        if Arc::ptr_eq(&was.item, &is.item) || old.item_text(was) == new.item_text(is) {
            continue;
        }
        if items.len() == MOST || !has_values_only(&was.item.kind, &is.item.kind) {
            return None;
        }
        items.push(i as u32);
    }
    Some(items)
}

/// Whether an item of both kinds may be read by itself. The values of a supply count in other items, a part is in all that are
/// made of it, and what is said of states is read when everything else is there.
fn has_values_only(was: &ItemKind, is: &ItemKind) -> bool {
    std::mem::discriminant(was) == std::mem::discriminant(is) && stands_alone(is)
}

/// Whether an item of this kind can be read with just the items that it names.
fn stands_alone(kind: &ItemKind) -> bool {
    use ItemKind::{Control, Device, Element, Elsewhere, Fuse, Ground, Inline, Module, Splice, Switch, Wire};
    matches!(
        kind,
        Wire(_)
            | Fuse(_)
            | Ground(_)
            | Splice(_)
            | Inline(_)
            | Element(_)
            | Switch(_)
            | Device(_)
            | Module(_)
            | Control(_)
            | Elsewhere(_)
    )
}

/// Whether what is said of states holds copies of laws: a wire with more resistance, a shorted coil.
fn repeats_laws(circuit: &Circuit) -> bool {
    let copy = |change: &Change| matches!(change, Change::Replace(..) | Change::Drift(..));
    let scenarios = circuit.scenarios.iter().map(|scenario| &scenario.settings.changes);
    let blocks = circuit.expects.iter().map(|expect| (&expect.changes, &expect.rows));
    let blocks = blocks.chain(circuit.readings.iter().map(|readings| (&readings.changes, &readings.rows)));
    let blocks = blocks.flat_map(|(changes, rows)| {
        std::iter::once(changes).chain(rows.iter().map(|row| &row.settings.changes))
    });
    !circuit.exercises.is_empty() || scenarios.chain(blocks).flatten().any(copy)
}

/// Whether problems of other items name a place in one of these.
fn mentioned(before: &Elaboration, items: &[u32]) -> bool {
    let inside = |loc: &Loc| loc.file == FileId(0) && items.binary_search(&loc.item).is_ok();
    before.problems.iter().any(|problem| {
        let edits = problem.fix.iter().flat_map(|fix| &fix.edits).map(|(loc, _)| loc);
        let mut places = problem.related.iter().map(|(loc, _)| loc).chain(edits);
        places.any(|loc| inside(loc) && loc.item != problem.loc.item)
    })
}

/// A module of a part that shows those of its cavities which something reaches.
fn shows_what_is_reached(placed: Option<&PlacedItem>) -> bool {
    match placed.map(|placed| &placed.item.kind) {
        Some(ItemKind::Module(module)) => matches!(module.what, tree::ModuleKind::Call { uses: None, .. }),
        _ => false,
    }
}

/// These items with those in which the names that they use are declared, and the supply whose volts are the nominal ones.
fn with_what_they_name(before: &Elaboration, items: &[u32]) -> Vec<u32> {
    let mut all: Vec<u32> = items.to_vec();
    for &item in items {
        let names = before.names.get(of_item(&before.names, item, |name| name.loc)).unwrap_or_default();
        let declared = names.iter().filter_map(|name| before.definition(name.entity));
        all.extend(declared.filter(|loc| loc.file == FileId(0)).map(|loc| loc.item));
        // A pin of a part is declared in the part: what is named is the device.
        let owners = names.iter().filter_map(|name| owner(&before.circuit, name.entity));
        all.extend(owners.filter(|loc| loc.file == FileId(0)).map(|loc| loc.item));
    }
    all.extend(before.circuit.supplies.first().map(|supply| supply.loc.item));
    all.sort_unstable();
    all.dedup();
    all
}

/// Where the thing to which something belongs is declared.
fn owner(circuit: &Circuit, entity: crate::Entity) -> Option<Loc> {
    use crate::Entity;
    let module = |m: ModuleId| circuit.modules.get(m.index()).map(|m| m.loc);
    let device = |d: DeviceId| circuit.devices.get(d.index()).map(|d| d.loc);
    let control = |c: ControlId| match circuit.controls.get(c.index())?.kind {
        ControlKind::Device(d) => device(d),
        ControlKind::Stage(m, ..) | ControlKind::Gang(m, _) | ControlKind::Return(m, ..) => module(m),
        ControlKind::Free => None,
    };
    match entity {
        Entity::Connector(m, _) | Entity::Cavity(m, ..) => module(m),
        Entity::InlineCavity(i, _) => circuit.inlines.get(i.index()).map(|i| i.loc),
        Entity::Control(c) | Entity::Position(c, _) => control(c),
        Entity::Point(_) | Entity::Element(_) => circuit.device_of(entity).and_then(device).or_else(|| {
            let point = circuit.point_of(entity)?;
            match circuit.points.get(point.index())?.kind {
                PointKind::InlineSide(i, ..) => circuit.inlines.get(i.index()).map(|i| i.loc),
                _ => None,
            }
        }),
        _ => None,
    }
}

/// The sides of in-line cavities that the wires of these items have: they take them in the order of all wires.
fn sides(before: &Elaboration, items: &[u32]) -> Map<u32, Vec<SmolStr>> {
    let circuit = &before.circuit;
    let mut sides: Map<u32, Vec<SmolStr>> = Map::default();
    for &item in items {
        let elements = before.marks.of(item).and_then(|made| circuit.elements.get(made.elements));
        for element in elements.unwrap_or_default() {
            for point in [element.from, element.to].iter().filter_map(|p| circuit.points.get(p.index())) {
                if matches!(point.kind, PointKind::InlineSide(..)) {
                    sides.entry(item).or_default().push(point.name.clone());
                }
            }
        }
    }
    sides
}

/// The part of a list in the order of places that stands in an item of file 0.
fn of_item<T>(list: &[T], item: u32, loc: impl Fn(&T) -> Loc) -> Range<usize> {
    let before = |one: &T| {
        let loc = loc(one);
        (loc.file, loc.item) < (FileId(0), item)
    };
    let within = |one: &T| {
        let loc = loc(one);
        (loc.file, loc.item) <= (FileId(0), item)
    };
    list.partition_point(before)..list.partition_point(within)
}

/// Whether the same names stand in the same order, wherever.
fn same_names(was: &[Occurrence], is: &[Occurrence]) -> bool {
    let what = |name: &Occurrence| (name.entity, name.definition);
    was.len() == is.len() && was.iter().zip(is).all(|(a, b)| what(a) == what(b))
}

impl<'a> Builder<'a> {
    /// Reads some items of a file as if there were no others. `sides`: what their wires take of in-line connectors; `wider`: where
    /// names are looked for that are near to unknown ones.
    fn some(
        files: &'a [Source],
        libraries: &'a Libraries<'a>,
        only: &'a [u32],
        sides: Map<u32, Vec<SmolStr>>,
        whole_reach: bool,
        wider: Option<&'a Circuit>,
    ) -> Built {
        let mut b = Builder::new(files, libraries);
        b.wider = wider;
        b.only = Some(only);
        b.sides = sides;
        b.whole_reach = whole_reach;
        b.list_parts();
        b.declare();
        b.connect();
        b.finish_connections();
        b.marks.only = Some(only.to_vec());
        b.finish()
    }
}
