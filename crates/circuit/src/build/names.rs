//! What a name in the circuit's own items means (decisions 9 to 12), and what is said where it means nothing.

use super::{Builder, report::a_kind};
use crate::ids::*;
use crate::{Entity, index::Entities, joined::dotted, model::*, near::nearest};
use keyon_syntax::tree::{ItemKind, Name};
use smol_str::SmolStr;

/// Whether what a name means will do in its place.
pub(super) type Fits<'f> = &'f dyn Fn(&Circuit, Entity) -> bool;

/// A point that a wire or another path names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Place {
    Point(PointId),
    /// A cavity of an in-line connector without its side: the wires take the sides in order.
    Inline(InlineId, usize),
}

impl<'a> Builder<'a> {
    /// What can be meant, the own names of the circuit first; wires only where nothing else is.
    fn candidates(&self, text: &str) -> Vec<Entity> {
        let index = &self.c.index;
        let mut found: Vec<Entity> = Vec::new();
        found.extend(index.things.get(text));
        if let Some(inner) = index.inner.get(text) {
            found.extend(inner.as_slice().iter().filter(|e| !found.contains(e)).copied().collect::<Vec<_>>());
        }
        if found.is_empty() {
            found.extend(index.by_connector(text));
        }
        if found.is_empty() && text == "ground" {
            found.push(Entity::Point(COMMON));
        }
        found
    }

    /// The one thing that a name means and that fits; reports where there is none or more than one.
    pub(super) fn resolve(&mut self, name: &Name, wanted: &str, fits: Fits<'_>) -> Option<Entity> {
        if name.text.is_empty() {
            return None;
        }
        // The common case needs no list.
        let found = match self.c.index.things.get(&name.text) {
            Some(&only) if fits(&self.c, only) && !self.c.index.inner.contains_key(&name.text) => {
                self.occurs_path(name, only);
                return Some(only);
            }
            _ => self.candidates(&name.text),
        };
        let mut fitting: Vec<Entity> = found.iter().copied().filter(|&e| fits(&self.c, e)).collect();
        let wires = self.c.index.wires.get(&name.text).map_or(&[][..], Entities::as_slice);
        if fitting.is_empty() {
            fitting.extend(wires.iter().copied().filter(|&e| fits(&self.c, e)));
        }
        match fitting.as_slice() {
            [only] => {
                let only = *only;
                self.occurs_path(name, only);
                Some(only)
            }
            [] => {
                let other = found.first().or_else(|| wires.first()).copied();
                match other {
                    Some(other) => self.wrong_kind(name, wanted, other, fits),
                    None => self.unknown(name, wanted, fits),
                }
                None
            }
            several => {
                let several = several.to_vec();
                self.ambiguous(name, &several);
                None
            }
        }
    }

    fn wrong_kind(&mut self, name: &Name, wanted: &str, other: Entity, fits: Fits<'_>) {
        let loc = self.place(name);
        self.occurs_path(name, other);
        let unread = match other {
            // What it does could not be read.
            Entity::Cavity(m, ..) => {
                self.c.modules.get(m.index()).is_some_and(|m| self.open_ended.contains(&m.name))
            }
            _ => self.open_ended.contains(&name.text),
        };
        // Which of its pins was meant is not known.
        self.missed.push(other);
        if unread || self.is_half_typed(loc) {
            return;
        }
        let is = a_kind(&self.c, other);
        let message = format!("`{}` is {is}, and {wanted} belongs here", name.text);
        let help =
            self.members(other).filter(|_| self.has_fitting_member(other, fits)).map(|(what, list)| {
                format!(
                    "name {what} ({}) behind a dot, such as `{}.{}`",
                    list.join(", "),
                    name.text,
                    list.first().map_or("1", |n| n)
                )
            });
        let declared = self.definition(other);
        let problem = self.report("unknown-name", loc, message);
        if let Some(help) = help {
            problem.help(help);
        }
        if let Some(declared) = declared {
            problem.see(declared, "declared here");
        }
    }

    /// What lies directly below a thing: what it is called, and the first names.
    fn members(&self, entity: Entity) -> Option<(&'static str, Vec<SmolStr>)> {
        const MOST: usize = 12;
        let c = &self.c;
        let (what, names): (_, Vec<SmolStr>) = match entity {
            Entity::Device(d) => {
                let pins = &c.devices.get(d.index())?.pins;
                ("one of its pins", pins.iter().take(MOST).map(|p| p.name.clone()).collect())
            }
            Entity::Module(m) => {
                let connectors = &c.modules.get(m.index())?.connectors;
                ("a connector", connectors.iter().take(MOST).map(|c| c.name.clone()).collect())
            }
            Entity::Connector(m, k) => {
                let connector = c.modules.get(m.index())?.connectors.get(k)?;
                ("a cavity", connector.cavities.iter().take(MOST).map(|k| k.number.clone()).collect())
            }
            Entity::Inline(i) => {
                let cavities = &c.inlines.get(i.index())?.cavities;
                ("a cavity", cavities.iter().take(MOST).map(|k| k.name.clone()).collect())
            }
            _ => return None,
        };
        (!names.is_empty()).then_some((what, names))
    }

    fn has_fitting_member(&self, entity: Entity, fits: Fits<'_>) -> bool {
        let c = &self.c;
        let below = match entity {
            Entity::Device(d) => {
                c.devices.get(d.index()).and_then(|d| d.pins.first()).map(|p| Entity::Point(p.outside))
            }
            Entity::Module(m) => Some(Entity::Cavity(m, 0, 0)),
            Entity::Connector(m, k) => Some(Entity::Cavity(m, k, 0)),
            Entity::Inline(i) => Some(Entity::InlineCavity(i, 0)),
            _ => None,
        };
        below.is_some_and(|below| fits(c, below))
    }

    fn ambiguous(&mut self, name: &Name, several: &[Entity]) {
        let loc = self.place(name);
        let full: Vec<SmolStr> = several.iter().map(|&e| self.written_apart(e, &name.text)).collect();
        let wires = several.iter().any(|e| matches!(e, Entity::Wire(_)));
        let kinds: Vec<String> =
            several.iter().map(|&e| format!("{} (`{}`)", a_kind(&self.c, e), self.full_name(e))).collect();
        let kinds =
            if several.len() > 4 || wires { String::new() } else { format!(": {}", kinds.join(", ")) };
        let message = format!("`{}` can mean {} things here{kinds}", name.text, several.len());
        let help = if wires {
            "several wires have this number: write the ends of the one that is meant, `A -> B`".to_owned()
        } else {
            format!("write which: {}; or give one of them another name", full.join(" or "))
        };
        let places: Vec<_> =
            several.iter().take(4).map(|&e| (self.definition(e), self.full_name(e))).collect();
        let problem = self.report("duplicate-name", loc, message).help(help);
        for (place, full) in places {
            if let Some(place) = place {
                problem.see(place, format!("`{full}` is here"));
            }
        }
    }

    /// How many things a name can mean that fit.
    pub(super) fn may_mean(&self, name: &Name, fits: Fits<'_>) -> usize {
        self.candidates(&name.text).into_iter().filter(|&e| fits(&self.c, e)).count()
    }

    /// How a thing is written where its bare name means several: a device has no other name, but its pins have.
    fn written_apart(&self, entity: Entity, bare: &str) -> SmolStr {
        let full = self.full_name(entity);
        match entity {
            Entity::Device(d) if full == bare => {
                let pin = self.c.devices.get(d.index()).and_then(|d| d.pins.first());
                pin.map_or(full.clone(), |pin| {
                    smol_str::format_smolstr!("{full}.{} for a pin of the device", pin.name)
                })
            }
            _ => full,
        }
    }

    /// A name that leaves no doubt: `SCU.left_cmd` for a cavity.
    fn full_name(&self, entity: Entity) -> SmolStr {
        match entity {
            Entity::Cavity(m, c, k) => {
                let module = self.c.modules.get(m.index()).map(|m| m.name.clone()).unwrap_or_default();
                let name = self.c.cavity(m, c, k).map(|k| k.name.clone()).unwrap_or_default();
                dotted(&module, &name)
            }
            Entity::Control(c) => {
                self.c.controls.get(c.index()).map(|c| c.qualified.clone()).unwrap_or_default()
            }
            other => self.c.name_of(other),
        }
    }

    /// Whether there is still time to look for near names in this file.
    pub(super) fn may_search(&mut self) -> bool {
        let index = &self.c.index;
        let cost = 100 + index.things.len() + index.inner.len() + index.wires.len();
        let allowed = self.searches >= cost;
        self.searches = self.searches.saturating_sub(cost);
        allowed
    }

    /// A name that means nothing. Said once a name, and once for all that lies below a thing that is not there: the other places
    /// are listed with the first.
    pub(super) fn unknown(&mut self, name: &Name, wanted: &str, fits: Fits<'_>) {
        let text = &name.text;
        let loc = self.place(name);
        let missing = match text.split_once('.') {
            Some((head, _)) if !self.c.index.things.contains_key(head) => head.into(),
            _ => text.clone(),
        };
        if let Some(&before) = self.unknown.get(&missing) {
            // What stands for one of them is no help for another.
            let mends = self.problems.get(before).is_some_and(|problem| problem.fix.is_some());
            let near = if mends && self.may_search() { self.nearest_thing(text, fits) } else { None };
            if let Some(problem) = self.problems.get_mut(before) {
                if problem.related.len() < 8 {
                    problem.related.push((loc, "and here".to_owned()));
                }
                if let (Some(fix), Some(near)) = (&mut problem.fix, &near) {
                    fix.edits.push((loc, near.to_string()));
                }
            }
            if let Some(near) = near {
                self.was_meant(&near);
            }
            return;
        }
        if self.is_lost(text) || self.is_half_typed(loc) {
            return;
        }
        let search = self.may_search();
        let near = if search { self.nearest_thing(text, fits) } else { None };
        // One that is near nothing may be a cavity of a module that was not read to its end.
        // Where something was declared without a name, that may be it whatever else it is near to.
        if !text.contains('.') && (self.lost_name || (near.is_none() && self.lost_cavities)) {
            return;
        }
        let message = self.unknown_message(text, wanted);
        let hidden = if search { self.hidden_cavity(text) } else { None };
        let above = text.rsplit_once('.').and_then(|(head, _)| self.c.index.things.get(head).copied());
        let is_device = matches!(above, Some(Entity::Device(_)));
        let members = above.and_then(|above| self.members(above));
        // Also where one of its names is near: which of them was meant is a guess.
        self.missed.extend(above);
        let index = self.problems.len();
        let problem = self.report("unknown-name", loc, message);
        match (hidden, &near, members) {
            (Some(help), ..) => {
                problem.help(help);
            }
            (None, Some(near), members) => {
                // Pins that are but numbers are easily taken for each other: all of them are named.
                let numbered =
                    |list: &[SmolStr]| list.iter().all(|n| n.starts_with(|c: char| c.is_ascii_digit()));
                let all = match members {
                    Some((_, list)) if list.len() > 2 && is_device && numbered(&list) => {
                        format!(" Its pins are {}", list.join(", "))
                    }
                    _ => String::new(),
                };
                problem.help(format!("did you mean `{near}`?{all}")).write(near.as_str(), false);
            }
            (None, None, Some((what, list))) => {
                problem.help(format!("name {what}: {}", list.join(", ")));
            }
            (None, None, None) if matches!(above, Some(Entity::Fuse(_))) => {
                problem.help(
                    "a fuse stands between two points, `fuse F1 A -> B`, and has no pins: lead the wire to one of them",
                );
            }
            (None, None, None) => {
                problem.help("declare it, or correct the spelling: capitals count");
            }
        }
        if let Some(near) = near {
            self.was_meant(&near);
        }
        if self.problems.len() > index {
            self.unknown.insert(missing, index);
        }
    }

    fn unknown_message(&self, text: &str, wanted: &str) -> String {
        let Some((head, tail)) = text.split_once('.') else {
            return format!("nothing here is named `{text}`, and {wanted} belongs here");
        };
        match self.c.index.things.get(head) {
            Some(Entity::Device(_)) => format!("`{head}` has no pin or element `{tail}`"),
            Some(Entity::Module(_)) => match tail.split_once('.') {
                Some((connector, cavity))
                    if self
                        .c
                        .index
                        .things
                        .contains_key(text.get(..head.len() + 1 + connector.len()).unwrap_or("")) =>
                {
                    format!("connector `{head}.{connector}` has no cavity `{cavity}`")
                }
                Some((connector, _)) => format!("`{head}` has no connector `{connector}`"),
                None => format!("`{head}` has no connector, cavity or gang named `{tail}`"),
            },
            Some(Entity::Inline(_)) => format!("in-line connector `{head}` has no cavity `{tail}`"),
            Some(other @ Entity::Fuse(_)) => {
                format!("`{head}` is {}: it has no pins", a_kind(&self.c, *other))
            }
            Some(other) => format!("`{head}` is {}: nothing lies below it", a_kind(&self.c, *other)),
            None => format!("nothing here is named `{head}`, and {wanted} belongs here"),
        }
    }

    /// Whether a name may have been lost with something that could not be read.
    pub(super) fn is_lost(&self, text: &str) -> bool {
        let head = text.split_once('.').map_or(text, |(head, _)| head);
        self.open_ended.contains(head) || self.junk_words.contains(head)
    }

    /// Whether a name stands in a line of its own that could not be read to its end: `wire 1 valve.` is one mistake.
    fn is_half_typed(&self, loc: Loc) -> bool {
        let item = self.files.get(loc.file.index()).and_then(|f| f.parse.file.items.get(loc.item as usize));
        let line = item.filter(|placed| placed.item.damaged).is_some_and(|placed| {
            matches!(
                placed.item.kind,
                ItemKind::Wire(_)
                    | ItemKind::Fuse(_)
                    | ItemKind::Spare(_)
                    | ItemKind::Elsewhere(_)
                    | ItemKind::Element(_)
                    | ItemKind::Switch(_)
            )
        });
        line && self.has_syntax_error(self.statement())
    }

    /// A name was probably meant by one that means nothing: what follows from its being missed is not reported.
    fn was_meant(&mut self, near: &str) {
        let Some(&entity) = self.c.index.things.get(near) else { return };
        for point in self.points_of(entity).unwrap_or_default() {
            self.uses_side(point);
            self.taint_net(point);
        }
    }

    /// The nearest name that is known: of a path whose beginning is known, the nearest end; else the nearest
    /// beginning that has this end.
    fn nearest_thing(&self, text: &str, fits: Fits<'_>) -> Option<SmolStr> {
        let c = self.wider.unwrap_or(&self.c);
        let index = &c.index;
        let Some((head, _)) = text.split_once('.') else {
            let inner = index.inner.iter().map(|(name, entities)| (name, entities.as_slice().first()));
            let wires = index.wires.iter().map(|(name, entities)| (name, entities.as_slice().first()));
            let things = index.things.iter().map(|(name, entity)| (name, Some(entity)));
            let all = things.chain(inner).chain(wires).filter(|(name, _)| !name.contains('.'));
            let judged = all.filter_map(|(name, e)| Some((name.as_str(), fits(c, *e?))));
            return nearest(text, judged).map(SmolStr::new);
        };
        if index.things.contains_key(head) {
            let start = head.len() + 1;
            let below = index.things.iter().filter_map(|(name, &e)| {
                let tail = name.strip_prefix(head)?.strip_prefix('.')?;
                fits(c, e).then_some((tail, true))
            });
            let tail = nearest(text.get(start..)?, below)?;
            return Some(dotted(head, tail));
        }
        let tail = text.get(head.len()..)?;
        let heads = index.things.keys().filter(|name| !name.contains('.'));
        let whole = |name: &str| smol_str::format_smolstr!("{name}{tail}");
        let judged = heads.map(|name| (name.as_str(), index.things.contains_key(&whole(name))));
        let found = nearest(head, judged)?;
        let found = whole(found);
        index.things.get(&found).filter(|&&e| fits(c, e)).map(|_| found)
    }

    /// The point that a wire or another path names. One that means nothing gets a point of its own, so that what
    /// hangs together by that name still does.
    pub(super) fn point_named(&mut self, name: &Name) -> Place {
        let wanted = "a point (a pin, cavity, splice, supply or ground)";
        let place = match self.resolve(name, wanted, &is_point) {
            Some(Entity::InlineCavity(i, c)) => Some(Place::Inline(i, c)),
            Some(entity) => self.c.point_of(entity).map(Place::Point),
            None => None,
        };
        place.unwrap_or_else(|| Place::Point(self.dangling(name)))
    }

    fn dangling(&mut self, name: &Name) -> PointId {
        if let Some(&point) = self.dangling.get(&name.text) {
            return point;
        }
        let loc = self.place(name);
        let point = self.add_point(name.text.clone(), PointKind::Internal, Some(loc));
        if !name.text.is_empty() {
            self.dangling.insert(name.text.clone(), point);
        }
        self.taint(point);
        point
    }

    /// Whether a point stands for a name that means nothing.
    pub(super) fn is_dangling(&self, point: PointId) -> bool {
        let name = self.c.points.get(point.index()).map(|p| &p.name);
        name.is_some_and(|name| name.is_empty() || self.dangling.get(name) == Some(&point))
    }
}

/// What a wire may lead to.
pub(super) fn is_point(_: &Circuit, entity: Entity) -> bool {
    matches!(
        entity,
        Entity::Point(_)
            | Entity::Supply(_)
            | Entity::Ground(_)
            | Entity::Splice(_)
            | Entity::Cavity(..)
            | Entity::InlineCavity(..)
    )
}
