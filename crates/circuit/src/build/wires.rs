//! Wires: stretches, sides of in-line connectors, names by number or by ends, resistance.

use super::{Builder, names::Place, values::Want};
use crate::{Entity, conductors, ids::*, index::Entities, model::*, value::Num};
use keyon_syntax::{
    tree::{self, Conductor, Gauge, Name},
    unit::Dimension,
};
use smol_str::{SmolStr, format_smolstr};

const AREA: Want = Want::new(Dimension::Area, "a wire's cross-section", "0.75 mm2")
    .above(0.0)
    .to(1000.0)
    .why_most("the thickest cables of vehicles have about 120 mm2");
const LENGTH: Want = Want::new(Dimension::Length, "a wire's length", "2.4 m").from(0.0).to(1e5);
const AT: Want = Want::celsius("a wire's temperature", "60 degC").to(1000.0);

/// What holds for one stretch, after what stands at the end only was spread over the whole wire.
#[derive(Default)]
struct Spread<'t> {
    gauge: Option<&'t Gauge>,
    length: Option<&'t tree::Value>,
    /// The length is the whole wire's: each stretch has this share.
    share: f64,
    colour: Option<&'t Name>,
    at: Option<&'t tree::Quantity>,
}

/// A kind that stands in the last place only is the whole wire's.
fn spread<'t, T>(
    all: &'t [Conductor],
    i: usize,
    pick: impl Fn(&'t Conductor) -> Option<&'t T>,
) -> (Option<&'t T>, bool) {
    let own = all.get(i).and_then(&pick);
    let Some((last, rest)) = all.split_last() else { return (None, false) };
    if rest.is_empty() || rest.iter().any(|c| pick(c).is_some()) { (own, false) } else { (pick(last), true) }
}

impl<'a> Builder<'a> {
    pub(super) fn connect_wire(&mut self, wire: &'a tree::Wire) {
        let places: Vec<Place> = wire.points.iter().map(|name| self.point_named(name)).collect();
        let count = places.len().saturating_sub(1);
        if count == 0 {
            // A wire to nowhere: whatever it was to reach is not known.
            if let Some(&Place::Point(point)) = places.first() {
                self.beside(point);
            }
            return;
        }
        let id = WireId::from(self.c.wires.len());
        let label = wire.label.as_ref().filter(|l| !l.text.is_empty());
        let name = match label {
            Some(label) => label.text.clone(),
            None => self.ends_name(places.first(), places.last()),
        };
        let item = self.items().get(self.item as usize).map(|p| p.item.statement).unwrap_or_default();
        let loc = self.at(label.map_or(item, |l| l.span));
        let mut stretches = Vec::with_capacity(count);
        for i in 0..count {
            let (Some(&a), Some(&b)) = (places.get(i), places.get(i + 1)) else { continue };
            let (Some(from_name), Some(to_name)) = (wire.points.get(i), wire.points.get(i + 1)) else {
                continue;
            };
            if a == b && matches!(a, Place::Point(_)) {
                self.loop_of_wire(from_name, to_name, a);
                continue;
            }
            let short = match label {
                Some(label) if count == 1 => label.text.clone(),
                Some(label) => format_smolstr!("{}.{}", label.text, i + 1),
                None => self.ends_name(Some(&a), Some(&b)),
            };
            let (from, to) = (self.take_side(a), self.take_side(b));
            let place = if count == 1 { item } else { from_name.span.to(to_name.span) };
            let said = self.spread_over(&wire.stretches, i, count);
            let mut stretch = self.stretch(&said, [self.place(from_name), self.place(to_name)]);
            let law = self.wire_law(&said, &stretch);
            let element = self.add_element(Element {
                name: short.clone(),
                from,
                to,
                kind: ElementKind::Wire,
                law,
                when: When::Always,
                alive: None,
                rating: None,
                owner: Owner::Wire(id),
                loc: self.at(place),
            });
            self.land(from, element);
            self.land(to, element);
            self.taint_beside(from, to);
            stretch.element = element;
            let got = self.c.elements.get(element.index()).map(|e| e.name.clone()).unwrap_or_default();
            if count > 1 || label.is_none() {
                Entities::add(&mut self.c.index.wires, short.clone(), Entity::Element(element));
            }
            if got != short {
                Entities::add(&mut self.c.index.wires, got, Entity::Element(element));
            }
            stretches.push(stretch);
        }
        if stretches.is_empty() {
            return;
        }
        if label.is_some() {
            Entities::add(&mut self.c.index.wires, name.clone(), Entity::Wire(id));
        }
        if label.is_some() {
            self.occurs(loc, Entity::Wire(id), true);
        }
        self.c.wires.push(Wire {
            name,
            numbered: label.is_some(),
            title: Self::title(wire.title.as_deref()),
            stretches,
            loc,
        });
    }

    fn loop_of_wire(&mut self, from: &Name, to: &Name, place: Place) {
        if matches!(place, Place::Point(p) if self.is_dangling(p)) {
            return;
        }
        let loc = self.at(from.span.to(to.span));
        self.report(
            "impossible-value",
            loc,
            format!("both ends of this wire are `{}`: it joins nothing", to.text),
        )
        .help("name two different points");
    }

    /// `S12->SCU.A.1`.
    fn ends_name(&self, from: Option<&Place>, to: Option<&Place>) -> SmolStr {
        format_smolstr!("{}->{}", self.place_name(from), self.place_name(to))
    }

    fn place_name(&self, place: Option<&Place>) -> SmolStr {
        match place {
            Some(Place::Point(point)) => {
                self.c.points.get(point.index()).map(|p| p.name.clone()).unwrap_or_default()
            }
            Some(&Place::Inline(i, c)) => self.c.name_of(Entity::InlineCavity(i, c)),
            None => SmolStr::default(),
        }
    }

    /// The point of a place; of an in-line cavity the first side that is still free (decision 12).
    pub(super) fn take_side(&mut self, place: Place) -> PointId {
        let (inline, cavity) = match place {
            Place::Point(point) => {
                self.uses_side(point);
                return point;
            }
            Place::Inline(inline, cavity) => (inline, cavity),
        };
        let Some(cavity) = self.c.inlines.get(inline.index()).and_then(|i| i.cavities.get(cavity)) else {
            return COMMON;
        };
        let (a, b) = (cavity.a, cavity.b);
        if let Some(side) = self.known_side([a, b]) {
            self.uses_side(side);
            return side;
        }
        let taken = |side: &PointId| self.is_used(*side);
        let named = |side: &PointId| {
            self.c.points.get(side.index()).is_some_and(|p| self.named_sides.contains(&p.name))
        };
        let side = [a, b].into_iter().find(|s| !taken(s) && !named(s));
        let side = side.or_else(|| [a, b].into_iter().find(|s| !taken(s))).unwrap_or(b);
        self.uses_side(side);
        side
    }

    /// Notes that something lands on a point.
    pub(super) fn uses_side(&mut self, point: PointId) {
        if self.used_sides.len() <= point.index() {
            self.used_sides.resize(self.c.points.len().max(point.index() + 1), false);
        }
        if let Some(used) = self.used_sides.get_mut(point.index()) {
            *used = true;
        }
    }

    /// Whether something lands on a point.
    pub(super) fn is_used(&self, point: PointId) -> bool {
        self.used_sides.get(point.index()).copied().unwrap_or(false)
    }

    /// Of two sides the one that the item being read is known to take.
    fn known_side(&mut self, sides: [PointId; 2]) -> Option<PointId> {
        let known = self.sides.get_mut(&self.item)?;
        let points = &self.c.points;
        let named = |side: &PointId, name: &SmolStr| {
            points.get(side.index()).is_some_and(|point| point.name == *name)
        };
        let side_at = |(at, name)| Some((at, sides.into_iter().find(|side| named(side, name))?));
        let (at, side) = known.iter().enumerate().find_map(side_at)?;
        known.remove(at);
        Some(side)
    }

    /// Taints both ends where one stands for a name that means nothing.
    pub(super) fn taint_beside(&mut self, from: PointId, to: PointId) {
        if !self.dangling.is_empty() && (self.is_dangling(from) || self.is_dangling(to)) {
            for point in [from, to] {
                if self.is_dangling(point) {
                    self.taint(point);
                } else {
                    self.beside(point);
                }
            }
        }
    }

    /// Notes a point that something unknown was to reach.
    pub(super) fn beside(&mut self, point: PointId) {
        let kind = self.c.points.get(point.index()).map(|p| p.kind);
        if !matches!(kind, Some(PointKind::Common | PointKind::Supply(_) | PointKind::Ground(_))) {
            self.c.beside.push(point);
        }
    }

    /// Taints a point, unless half the circuit hangs on it: a supply or a ground is sound whatever lands there.
    pub(super) fn taint_net(&mut self, point: PointId) {
        let kind = self.c.points.get(point.index()).map(|p| p.kind);
        if !matches!(kind, Some(PointKind::Common | PointKind::Supply(_) | PointKind::Ground(_))) {
            self.taint(point);
        }
    }

    /// Notes that an element lands on a point.
    pub(super) fn land(&mut self, point: PointId, element: ElementId) {
        let Some(kind) = self.c.points.get(point.index()).map(|p| p.kind) else { return };
        let landings = match kind {
            PointKind::Splice(i) => self.c.splices.get_mut(i).map(|s| &mut s.legs),
            PointKind::Pin(d, pin) => {
                self.c.devices.get_mut(d.index()).and_then(|d| d.pins.get_mut(pin)).map(|p| &mut p.landings)
            }
            PointKind::Cavity(m, c, k) => self.cavity_mut(m, c, k).map(|k| &mut k.landings),
            PointKind::InlineSide(i, c, _) => {
                self.c.inlines.get_mut(i.index()).and_then(|i| i.cavities.get_mut(c)).map(|c| &mut c.landings)
            }
            _ => None,
        };
        if let Some(landings) = landings {
            landings.push(element);
        }
    }

    fn spread_over<'t>(&self, all: &'t [Conductor], i: usize, count: usize) -> Spread<'t> {
        let (length, whole) = spread(all, i, |c| c.length.as_ref());
        Spread {
            gauge: spread(all, i, |c| c.gauge.as_ref()).0,
            length,
            share: if whole { 1.0 / count as f64 } else { 1.0 },
            colour: spread(all, i, |c| c.colour.as_ref()).0,
            at: spread(all, i, |c| c.at.as_deref()).0,
        }
    }

    fn stretch(&mut self, said: &Spread<'_>, ends: [Loc; 2]) -> Stretch {
        let (area, gauge) = match said.gauge {
            Some(Gauge::Area(quantity)) => {
                let written = SmolStr::new(self.text(self.at(quantity.span)));
                (self.quantity(quantity, AREA), Some(written))
            }
            Some(&Gauge::Awg(size, span)) => {
                let loc = self.at(span);
                let written = SmolStr::new(self.text(loc));
                if (-3..=40).contains(&size) {
                    (Some(conductors::awg_area(size)), Some(written))
                } else {
                    self.report("impossible-value", loc, format!("there is no wire size `{written}`"))
                        .help("AWG sizes run from 4/0 (thickest) over 1/0, 1, 2 … to 40 (thinnest)");
                    (None, None)
                }
            }
            None => (None, None),
        };
        let length = said.length.and_then(|value| self.num(value, LENGTH)).map(|l| Num {
            nominal: l.nominal * said.share,
            low: l.low * said.share,
            high: l.high * said.share,
        });
        Stretch {
            element: super::declare::NO_ELEMENT,
            area,
            gauge,
            length,
            colour: said.colour.map(|c| c.text.clone()),
            ends,
        }
    }

    fn wire_law(&mut self, said: &Spread<'_>, stretch: &Stretch) -> Law {
        let factor = said.at.and_then(|q| self.quantity(q, AT)).map_or(1.0, conductors::copper_factor);
        let (Some(area), Some(length)) = (stretch.area, stretch.length) else { return Law::Joint };
        let per_metre = match said.gauge {
            Some(&Gauge::Awg(size, _)) => conductors::awg_ohms_per_metre(size),
            _ => conductors::ohms_per_metre(area),
        } * factor;
        if length.nominal <= 0.0 || per_metre <= 0.0 {
            return Law::Joint;
        }
        Law::Resistance(Num {
            nominal: per_metre * length.nominal,
            low: per_metre * length.low.max(0.0),
            high: per_metre * length.high,
        })
    }
}
