//! Pass two: the elements, in source order.

use super::{Builder, Slot, names::Place, values::Want};
use crate::{Entity, ids::*, model::*, value::Num};
use keyon_syntax::tree::{self, ItemKind, Name};
use smol_str::SmolStr;

const INNER: Want = Want::joint("a supply's inner resistance", "15 mohm").to(1e7);
const LIMIT: Want = Want::amps("the most current that a supply gives", "80 A");
const GROUND: Want = Want::joint("the resistance of a ground point", "10 mohm");
const RATING: Want = Want::amps("a fuse's rating", "10 A").to(5000.0);
const LEAVES: Want = Want::amps("the current of a branch that leaves the page", "3 A");

impl<'a> Builder<'a> {
    pub(super) fn connect(&mut self) {
        let (items, points) = (self.read_items().len(), self.c.points.len());
        self.c.elements.reserve(points + items / 2);
        self.c.index.wires.reserve(items);
        self.c.wires.reserve(items);
        for (i, placed) in self.read_items() {
            self.item = i as u32;
            self.marks.connects(&self.c);
            let slot = self.slots.get(i).copied().unwrap_or(Slot::None);
            match (&placed.item.kind, slot) {
                (ItemKind::Supply(supply), Slot::Supply(index)) => self.connect_supply(index, supply),
                (ItemKind::Ground(ground), Slot::Ground(index)) => self.connect_ground(index, ground),
                (ItemKind::Splice(splice), Slot::Splice(index)) if !splice.shared_by.is_empty() => {
                    self.share_splice(index, &splice.shared_by);
                }
                (ItemKind::Inline(_), Slot::Inline(id)) => self.connect_inline(id),
                (ItemKind::Wire(wire), _) => self.connect_wire(wire),
                (ItemKind::Fuse(fuse), Slot::Fuse(index)) => self.connect_fuse(index, fuse),
                // A line that was pasted twice is one fuse.
                (ItemKind::Fuse(fuse), Slot::None)
                    if !fuse.name.text.is_empty() && !self.is_said_before(fuse) =>
                {
                    self.add_fuse(fuse, true);
                }
                (ItemKind::Element(element), Slot::Device(id)) => self.connect_top_element(id, element),
                (ItemKind::Switch(switch), Slot::Device(id)) => self.connect_switch(id, switch),
                (ItemKind::Device(device), Slot::Device(id)) => self.connect_device(id, device),
                (ItemKind::Module(module), Slot::Module(id)) => self.connect_module(id, module),
                (ItemKind::Control(control), Slot::Control(_)) => self.connect_control(control),
                (ItemKind::Spare(names), _) => self.mark_spares(names),
                (ItemKind::Elsewhere(elsewhere), _) => self.connect_elsewhere(elsewhere),
                (ItemKind::About(about), _) => {
                    let row = |(key, texts): &(Name, Vec<tree::Text>)| {
                        (key.text.clone(), texts.iter().map(|t| t.text.clone()).collect())
                    };
                    self.c.about.extend(about.rows.iter().map(row));
                }
                _ => {}
            }
        }
        self.marks.connects(&self.c);
    }

    fn connect_supply(&mut self, index: usize, supply: &'a tree::Supply) {
        let negative = match &supply.negative {
            Some(name) => {
                let place = self.point_named(name);
                self.take_side(place)
            }
            None => COMMON,
        };
        let inner = self.num_of(supply.inner.as_ref(), INNER).unwrap_or(Num::exact(0.0));
        let limit = self.num_of(supply.limit.as_ref(), LIMIT);
        let Some(known) = self.c.supplies.get(index) else { return };
        let (name, point, volts, range) = (known.name.clone(), known.point, known.volts, known.range);
        let element = self.add_element(Element {
            name,
            from: negative,
            to: point,
            kind: ElementKind::Supply,
            law: Law::Source { volts, inner, limit, range },
            when: When::Always,
            alive: None,
            rating: None,
            owner: Owner::Supply(index),
            loc: self.statement(),
        });
        if supply.negative.is_some() {
            self.land(negative, element);
        }
        if let Some(known) = self.c.supplies.get_mut(index) {
            (known.element, known.negative) = (element, negative);
        }
        if let Some(live) = &supply.live {
            self.pending_lives.push((element, live, self.item));
        }
    }

    /// The statement being read.
    pub(super) fn statement(&self) -> Loc {
        let span = self
            .files
            .get(self.file.index())
            .and_then(|f| f.parse.file.items.get(self.item as usize))
            .map(|placed| placed.item.statement);
        self.at(span.unwrap_or_default())
    }

    fn connect_ground(&mut self, index: usize, ground: &tree::Ground) {
        let ohms = self.num_of(ground.value.as_ref(), GROUND);
        let Some(known) = self.c.grounds.get(index) else { return };
        let (name, point) = (known.name.clone(), known.point);
        let element = self.add_element(Element {
            name,
            from: point,
            to: COMMON,
            kind: ElementKind::Ground,
            law: resistance_or_joint(ohms),
            when: When::Always,
            alive: None,
            rating: None,
            owner: Owner::Ground(index),
            loc: self.statement(),
        });
        if let Some(known) = self.c.grounds.get_mut(index) {
            known.element = element;
        }
    }

    fn connect_inline(&mut self, id: InlineId) {
        let count = self.c.inlines.get(id.index()).map_or(0, |i| i.cavities.len());
        for index in 0..count {
            let Some(cavity) = self.c.inlines.get(id.index()).and_then(|i| i.cavities.get(index)) else {
                continue;
            };
            let (a, b, loc) = (cavity.a, cavity.b, cavity.loc);
            let joint = self.add_element(Element {
                name: self.c.name_of(Entity::InlineCavity(id, index)),
                from: a,
                to: b,
                kind: ElementKind::Inline,
                law: Law::Joint,
                when: When::Always,
                alive: None,
                rating: None,
                owner: Owner::Inline(id),
                loc,
            });
            if let Some(cavity) = self.c.inlines.get_mut(id.index()).and_then(|i| i.cavities.get_mut(index)) {
                cavity.joint = joint;
            }
        }
    }

    pub(super) fn path_points(&mut self, path: Option<&tree::Path>) -> Option<(PointId, PointId)> {
        let path = path?;
        let (from, to) = (self.point_named(&path.from), self.point_named(&path.to));
        if from == to && matches!(from, Place::Point(p) if !self.is_dangling(p)) {
            let loc = self.at(path.from.span.to(path.to.span));
            self.report(
                "impossible-value",
                loc,
                format!("both ends are `{}`: it joins nothing", path.to.text),
            )
            .help("name two different points");
        }
        Some((self.take_side(from), self.take_side(to)))
    }

    fn connect_fuse(&mut self, index: usize, fuse: &tree::Fuse) {
        let loc = self.place(&fuse.name);
        let element = self.add_fuse(fuse, false);
        self.c.index.things.insert(fuse.name.text.clone(), Entity::Fuse(element));
        self.occurs(loc, Entity::Fuse(element), true);
        if let Some(known) = self.c.fuses.get_mut(index) {
            known.element = element;
        }
    }

    /// Whether an item above says of a fuse what this one says.
    fn is_said_before(&self, fuse: &tree::Fuse) -> bool {
        let same = |other: &tree::Fuse| {
            let ends = |f: &tree::Fuse| f.path.as_ref().map(|p| (p.from.text.clone(), p.to.text.clone()));
            other.name.text == fuse.name.text && ends(other) == ends(fuse)
        };
        let Some(&Entity::Fuse(first)) = self.c.index.things.get(&fuse.name.text) else { return false };
        let item = self.c.elements.get(first.index()).map_or(u32::MAX, |e| e.loc.item);
        let placed = self.items().get(item as usize);
        placed.is_some_and(|placed| matches!(&placed.item.kind, ItemKind::Fuse(other) if same(other)))
    }

    /// The element of a fuse. Where another one has its name it stands in the circuit all the same (`again`), so that what hangs
    /// on it is not in doubt.
    fn add_fuse(&mut self, fuse: &tree::Fuse, again: bool) -> ElementId {
        let ends = self.path_points(fuse.path.as_ref());
        let (from, to) = ends.unwrap_or_else(|| (self.nowhere(), self.nowhere()));
        let mut element = Element {
            name: fuse.name.text.clone(),
            from,
            to,
            kind: ElementKind::Fuse(fuse.kind),
            law: Law::Joint,
            when: When::Always,
            alive: None,
            rating: self.num_of(fuse.rating.as_ref(), RATING),
            owner: Owner::Fuse,
            loc: self.statement(),
        };
        if again {
            self.rename(&mut element);
        }
        let element = self.add_element(element);
        self.land(from, element);
        self.land(to, element);
        self.taint_beside(from, to);
        element
    }

    /// A point for an end that was not readable.
    fn nowhere(&mut self) -> PointId {
        let loc = self.statement();
        let point = self.add_point(SmolStr::default(), PointKind::Internal, Some(loc));
        self.taint(point);
        point
    }

    fn connect_control(&mut self, control: &tree::ControlItem) {
        let (positions, locs) = self.positions(&control.positions);
        let loc = self.place(&control.name);
        let name = control.name.text.clone();
        if positions.len() < 2 && !self.has_syntax_error(self.statement()) {
            self.report(
                "impossible-value",
                loc,
                format!("`{name}` has fewer than two positions: it cannot be moved"),
            )
            .help("write them behind `positions`, the one at rest first");
        }
        let title = Self::title(control.title.as_ref());
        let made = Control {
            name: name.clone(),
            qualified: name.clone(),
            title,
            kind: ControlKind::Free,
            positions,
            pwm: None,
            loc,
        };
        match self.add_control(made, locs) {
            Some(id) => {
                self.c.index.things.insert(name, Entity::Control(id));
                self.occurs(loc, Entity::Control(id), true);
            }
            None => {
                self.c.index.things.remove(&name);
                self.open_ended.insert(name);
            }
        }
    }

    fn mark_spares(&mut self, names: &[Name]) {
        for name in names {
            let loc = self.place(name);
            let found = self.resolve(name, "a pin or a cavity", &|_, entity| {
                matches!(entity, Entity::Point(p) if p != COMMON)
                    || matches!(entity, Entity::Cavity(..) | Entity::InlineCavity(..))
            });
            match found {
                Some(Entity::Point(point)) => {
                    if let Some(PointKind::Pin(d, pin)) = self.c.points.get(point.index()).map(|p| p.kind)
                        && let Some(pin) = self.c.devices.get_mut(d.index()).and_then(|d| d.pins.get_mut(pin))
                    {
                        pin.unused = Some(loc);
                    }
                }
                Some(Entity::Cavity(m, c, k)) => {
                    if let Some(cavity) = self.cavity_mut(m, c, k) {
                        cavity.unused = Some(loc);
                    }
                }
                _ => {}
            }
        }
    }

    fn connect_elsewhere(&mut self, elsewhere: &tree::Elsewhere) {
        let Some(name) = &elsewhere.point else { return };
        let place = self.point_named(name);
        let point = self.take_side(place);
        let title = elsewhere.title.as_ref().map(|t| t.text.clone());
        let loc = self.statement();
        let amps = self.num_of(elsewhere.load.as_ref(), LEAVES);
        let element = amps.map(|amps| {
            let volts = self.nominal_volts();
            let element = self.add_element(Element {
                name: title.as_deref().map_or(SmolStr::new_static("elsewhere"), SmolStr::new),
                from: point,
                to: COMMON,
                kind: ElementKind::Elsewhere,
                law: Law::Resistance(volts_over(volts, amps)),
                when: When::Always,
                alive: None,
                rating: None,
                owner: Owner::Elsewhere,
                loc,
            });
            self.c.elsewhere.push(element);
            element
        });
        // A branch without a load lands there all the same.
        if let Some(element) = element {
            self.land(point, element);
        }
        self.c.branches.push(Branch { title, point, element, loc });
    }

    /// Volts of the first supply; 12 V where there is none. What is fed by another is found when all is connected
    /// ([`Self::rate_by_feed`]).
    pub(super) fn nominal_volts(&self) -> f64 {
        self.c.supplies.first().map_or(12.0, |s| s.volts.nominal)
    }
}

/// The law of what joins: no resistance, or the one given.
pub(super) fn resistance_or_joint(ohms: Option<Num>) -> Law {
    match ohms {
        Some(ohms) if ohms.nominal > 0.0 => Law::Resistance(ohms),
        _ => Law::Joint,
    }
}

/// The resistance that draws so many amps at so many volts.
pub(super) fn volts_over(volts: f64, amps: Num) -> Num {
    let ohms = |amps: f64| volts / amps;
    Num { nominal: ohms(amps.nominal), low: ohms(amps.high), high: ohms(amps.low) }
}
