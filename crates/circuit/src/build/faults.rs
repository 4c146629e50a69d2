//! Faults (decision 42): from `open 431` and the like to changes of the circuit.

use super::{Builder, names::is_point, setups::is_stretch, values::Want};
use crate::{Entity, hash::Map, ids::*, model::*, value::Num};
use keyon_syntax::{
    tree::{Fault, FaultKind, Name, Quantity, Target},
    unit::Dimension,
};
use smol_str::SmolStr;

const ADDED: Want = Want::new(Dimension::Resistance, "the added resistance", "10 ohm").from(0.0).to(1e12);
const DRIFT: Want = Want::new(Dimension::Ratio, "a drift", "+10 %").from(-0.999).to(100.0);

impl Builder<'_> {
    /// The changes that a fault makes; `None` where it names nothing.
    pub(super) fn fault(&mut self, fault: &Fault) -> Option<Vec<Change>> {
        match &fault.kind {
            FaultKind::Open(target) => self.open(target),
            FaultKind::Short { what, to } => self.short(what, to.as_ref(), fault),
            FaultKind::Stuck { what, position } => self.stuck(what, position),
            FaultKind::Resistance { ohms, place } => self.added_resistance(ohms, place),
            FaultKind::Drift { what, by } => self.drift(what, by),
        }
    }

    /// A wire by its ends, in either direction.
    fn wire_between(&mut self, from: &Name, to: &Name, which: Option<u32>) -> Option<ElementId> {
        let (a, b) = (self.sides_named(from)?, self.sides_named(to)?);
        if self.wires_by_ends.is_none() {
            let mut all: Map<(PointId, PointId), Vec<ElementId>> = Map::default();
            for stretch in self.c.wires.iter().flat_map(|w| &w.stretches) {
                if let Some(e) = self.c.elements.get(stretch.element.index()) {
                    all.entry((e.from.min(e.to), e.from.max(e.to))).or_default().push(stretch.element);
                }
            }
            self.wires_by_ends = Some(all);
        }
        let mut found: Vec<ElementId> = Vec::new();
        for &x in &a {
            for &y in &b {
                let key = (x.min(y), x.max(y));
                found.extend(self.wires_by_ends.as_ref().and_then(|all| all.get(&key)).into_iter().flatten());
            }
        }
        found.sort_unstable();
        found.dedup();
        let wanted = which.unwrap_or(1).max(1) as usize - 1;
        let loc = self.at(from.span.to(to.span));
        match found.get(wanted) {
            Some(&element) => Some(element),
            None => {
                let message = match found.len() {
                    0 => format!("no wire runs between `{}` and `{}`", from.text, to.text),
                    n => format!("only {n} wires run between `{}` and `{}`", from.text, to.text),
                };
                self.report("unknown-name", loc, message)
                    .help("name the wire by its number, or by the ends of one stretch");
                None
            }
        }
    }

    /// The points that a wire's end can mean: one, or both sides of an in-line cavity.
    fn sides_named(&mut self, name: &Name) -> Option<Vec<PointId>> {
        match self.resolve(name, "the end of a wire", &is_point)? {
            Entity::InlineCavity(i, c) => {
                let cavity = self.c.inlines.get(i.index())?.cavities.get(c)?;
                Some(vec![cavity.a, cavity.b])
            }
            other => self.c.point_of(other).map(|p| vec![p]),
        }
    }

    /// The leg of a splice that `S12.2` means.
    fn leg(&mut self, name: &Name) -> Option<ElementId> {
        let (head, number) = name.text.rsplit_once('.')?;
        let &Entity::Splice(index) = self.c.index.things.get(head)? else { return None };
        let number: usize = number.parse().ok()?;
        let legs = self.c.splices.get(index)?.legs.len();
        let leg = number.checked_sub(1).and_then(|n| self.c.splices.get(index)?.legs.get(n).copied());
        let loc = self.place(name);
        if leg.is_none() {
            self.report(
                "unknown-name",
                loc,
                format!("splice `{head}` has {legs} legs, and no number {number}"),
            )
            .help("legs count in the order in which the wires stand in the file");
        } else {
            let end = loc.span.start + head.len() as u32;
            let span = keyon_syntax::Span { start: loc.span.start, end };
            self.occurs(Loc { span, ..loc }, Entity::Splice(index), false);
        }
        leg
    }

    fn is_leg(&self, name: &Name) -> bool {
        let head = name.text.rsplit_once('.').map_or("", |(head, _)| head);
        matches!(self.c.index.things.get(head), Some(Entity::Splice(_)))
    }

    /// All elements that a target is made of.
    fn target(&mut self, target: &Target) -> Option<Vec<ElementId>> {
        let name = match target {
            Target::Ends(from, to, which) => return self.wire_between(from, to, *which).map(|e| vec![e]),
            Target::Name(name) => name,
        };
        if self.is_leg(name) {
            return self.leg(name).map(|e| vec![e]);
        }
        let breakable = |c: &Circuit, entity: Entity| {
            c.element_of(entity).is_some()
                || matches!(entity, Entity::Device(_) | Entity::Wire(_) | Entity::Splice(_))
        };
        let wanted = "something that can fail (a wire, a pin, a cavity, a splice, a fuse, a device)";
        let entity = self.resolve(name, wanted, &breakable)?;
        Some(match entity {
            Entity::Wire(w) => self.c.wires.get(w.index())?.stretches.iter().map(|s| s.element).collect(),
            Entity::Splice(i) => self.c.splices.get(i)?.legs.clone(),
            Entity::Device(d) => {
                let device = self.c.devices.get(d.index())?;
                if device.elements.is_empty() {
                    device.pins.iter().map(|p| p.terminal).collect()
                } else {
                    device.elements.clone()
                }
            }
            other => vec![self.c.element_of(other)?],
        })
    }

    fn open(&mut self, target: &Target) -> Option<Vec<Change>> {
        Some(self.target(target)?.into_iter().map(Change::Open).collect())
    }

    fn short(&mut self, what: &Target, to: Option<&Name>, fault: &Fault) -> Option<Vec<Change>> {
        if let Some(to) = to {
            let from = match what {
                Target::Name(name) => self.net_named(name),
                Target::Ends(a, b, which) => {
                    let wire = self.wire_between(a, b, *which)?;
                    self.c.elements.get(wire.index()).map(|e| e.from)
                }
            };
            let to = self.net_named(to);
            return Some(vec![Change::Add { from: from?, to: to?, law: Law::Joint }]);
        }
        let Target::Name(name) = what else {
            return self.short_to_what(fault);
        };
        let entity = self.resolve(name, "a device, or a point and `to` another", &|c, entity| {
            is_point(c, entity) || matches!(entity, Entity::Device(_) | Entity::Element(_) | Entity::Wire(_))
        })?;
        let elements = match entity {
            Entity::Device(d) => self.c.devices.get(d.index())?.elements.clone(),
            Entity::Element(e) if !is_stretch(&self.c, entity) => vec![e],
            _ => return self.short_to_what(fault),
        };
        // What conducts of itself is bridged; a contact is stuck, a load loses its resistance.
        let change = |&e: &ElementId| match self.c.elements.get(e.index()).map(|e| e.kind) {
            Some(ElementKind::Contact) => Change::Stuck(e, true),
            _ => Change::Replace(e, Law::Joint),
        };
        Some(elements.iter().map(change).collect())
    }

    fn short_to_what(&mut self, fault: &Fault) -> Option<Vec<Change>> {
        let loc = self.at(fault.span);
        self.report("syntax", loc, "short to what? Only a device can be shorted in itself".to_owned())
            .help("write `to ground`, `to battery` or `to` another wire behind it");
        None
    }

    fn stuck(&mut self, what: &Name, position: &Name) -> Option<Vec<Change>> {
        let has_contacts = |c: &Circuit, entity: Entity| {
            c.control_of(entity).is_some()
                || matches!(entity, Entity::Element(_) | Entity::Device(_))
                || matches!(entity, Entity::Point(p) if p != COMMON)
        };
        // A device and a driver of one name: only what has positions or contacts can stick.
        let sticks = |c: &Circuit, entity: Entity| {
            c.control_of(entity).is_some()
                || (!matches!(entity, Entity::Device(_)) && has_contacts(c, entity))
        };
        let wanted = "a driver, a switch or a contact";
        let entity = match self.may_mean(what, &sticks) {
            1 => self.resolve(what, wanted, &sticks)?,
            _ => self.resolve(what, wanted, &has_contacts)?,
        };
        if let Some(control) = self.c.control_of(entity) {
            return self.stuck_control(entity, control, position);
        }
        let contacts: Vec<ElementId> = match entity {
            Entity::Element(e) => vec![e],
            Entity::Point(point) => {
                // The contacts that lie at this pin, from inside.
                match self.c.points.get(point.index()).map(|p| p.kind) {
                    Some(PointKind::Pin(d, pin)) => {
                        let device = self.c.devices.get(d.index())?;
                        let inside = device.pins.get(pin)?.inside;
                        device.elements.iter().copied().filter(|&e| self.ends_at(e, inside)).collect()
                    }
                    _ => Vec::new(),
                }
            }
            Entity::Device(d) => self.c.devices.get(d.index())?.elements.clone(),
            _ => Vec::new(),
        };
        let contacts: Vec<ElementId> = contacts
            .into_iter()
            .filter(|e| self.c.elements.get(e.index()).is_some_and(|e| e.kind == ElementKind::Contact))
            .collect();
        if contacts.is_empty() {
            let loc = self.place(what);
            self.report("unknown-name", loc, format!("`{}` has no contact that could stick", what.text))
                .help("name a driver, a switch, or a relay's pin with contacts, such as `stuck K4.30 87`");
            return None;
        }
        self.stuck_contacts(&contacts, what, position)
    }

    fn ends_at(&self, element: ElementId, point: PointId) -> bool {
        self.c.elements.get(element.index()).is_some_and(|e| e.from == point || e.to == point)
    }

    /// Contacts that stick: open, closed, or at the pin that is named.
    fn stuck_contacts(
        &mut self,
        contacts: &[ElementId],
        what: &Name,
        position: &Name,
    ) -> Option<Vec<Change>> {
        let word = position.text.as_str();
        let stuck = |how: &dyn Fn(&Element) -> bool| {
            let change = |&e: &ElementId| Some(Change::Stuck(e, how(self.c.elements.get(e.index())?)));
            contacts.iter().filter_map(change).collect::<Vec<_>>()
        };
        let energised = |e: &Element| match e.when {
            When::Energised { open, .. } => !open,
            _ => false,
        };
        match word {
            "open" => return Some(stuck(&|_| false)),
            "closed" => return Some(stuck(&|_| true)),
            "energised" | "active" => return Some(stuck(&energised)),
            "rest" => return Some(stuck(&|e| !energised(e))),
            _ => {}
        }
        let at_pin = |e: &Element| self.pin_name(e.from) == word || self.pin_name(e.to) == word;
        let known = contacts.iter().any(|e| self.c.elements.get(e.index()).is_some_and(at_pin));
        if known {
            return Some(stuck(&at_pin));
        }
        let mut pins: Vec<SmolStr> = Vec::new();
        for e in contacts.iter().filter_map(|e| self.c.elements.get(e.index())) {
            pins.extend([self.pin_name(e.from), self.pin_name(e.to)]);
        }
        pins.sort();
        pins.dedup();
        let loc = self.place(position);
        self.report("unknown-name", loc, format!("`{}` cannot stick at `{word}`", what.text))
            .help(format!("it sticks open or closed, or at one of {}", pins.join(", ")));
        None
    }

    /// A control that stays in a position whatever is commanded.
    fn stuck_control(&mut self, entity: Entity, control: ControlId, position: &Name) -> Option<Vec<Change>> {
        let positions = self.c.controls.get(control.index()).map(|c| c.positions.clone())?;
        let own: Option<Vec<ElementId>> = match entity {
            Entity::Cavity(m, c, k) => self.c.cavity(m, c, k).map(|k| k.elements.clone()),
            _ => None,
        };
        let gang = self.c.controls.get(control.index()).map(|c| c.kind);
        let found = positions.iter().position(|p| *p == position.text);
        let change = |e: ElementId, index: usize, c: &Circuit| match c.elements.get(e.index())?.when {
            When::In { control: of, positions } if of == control => {
                Some(Change::Stuck(e, positions >> index & 1 == 1))
            }
            _ => None,
        };
        if let (Some(own), Some(ControlKind::Gang(..))) = (&own, gang) {
            // One stage of a gang sticks at one of its own places.
            return self.stuck_stage(own, entity, position);
        }
        let Some(index) = found else {
            self.unknown_position(position, control);
            return None;
        };
        if self.c.index.positions.get(control.index()).is_some_and(|p| p.len() > index) {
            let loc = self.place(position);
            self.occurs(loc, Entity::Position(control, index), false);
        }
        Some(match own {
            Some(own) => own.into_iter().filter_map(|e| change(e, index, &self.c)).collect(),
            None => (0..self.c.elements.len())
                .filter_map(|e| change(ElementId::from(e), index, &self.c))
                .collect(),
        })
    }

    /// A stage that a gang moves, stuck: `on`, `off`, `high`, `low`, `open`, or at the node that it names.
    fn stuck_stage(&mut self, own: &[ElementId], entity: Entity, position: &Name) -> Option<Vec<Change>> {
        let word = position.text.as_str();
        let base = self.c.name_of(entity);
        let stages: Vec<(ElementId, SmolStr)> = own
            .iter()
            .filter_map(|&e| self.c.elements.get(e.index()).map(|element| (e, element)))
            .filter(|(_, element)| element.kind == ElementKind::Stage)
            .map(|(e, element)| (e, SmolStr::new(element.name.rsplit('.').next().unwrap_or(""))))
            .collect();
        let single = stages.len() == 1;
        let known = matches!(word, "open" | "off")
            || (single && word == "on")
            || stages.iter().any(|(_, n)| n == word);
        if !known {
            let list: Vec<&str> = stages.iter().map(|(_, n)| n.as_str()).collect();
            let loc = self.place(position);
            self.report("unknown-name", loc, format!("`{base}` cannot stick at `{word}`"))
                .help(format!("it sticks open, or at one of {}", list.join(", ")));
            return None;
        }
        Some(
            stages
                .into_iter()
                .map(|(e, n)| Change::Stuck(e, n == word || (single && word == "on")))
                .collect(),
        )
    }

    fn added_resistance(&mut self, ohms: &Quantity, place: &Target) -> Option<Vec<Change>> {
        let added = self.quantity(ohms, ADDED);
        let element = match place {
            Target::Name(name) if !self.is_leg(name) => {
                let fits = |c: &Circuit, entity: Entity| {
                    c.element_of(entity).is_some() || matches!(entity, Entity::Device(_) | Entity::Wire(_))
                };
                let wanted = "a wire, a pin, a cavity, a fuse or a ground point";
                match self.resolve(name, wanted, &fits)? {
                    Entity::Wire(w) => self.c.wires.get(w.index())?.stretches.first()?.element,
                    Entity::Device(d) => self.c.devices.get(d.index())?.pins.first()?.terminal,
                    other => self.c.element_of(other)?,
                }
            }
            other => *self.target(other)?.first()?,
        };
        let element = self.series_with(element);
        let law = &self.c.elements.get(element.index())?.law;
        let sum = |n: &Num, by: f64| Num { nominal: n.nominal + by, low: n.low + by, high: n.high + by };
        let added = added?;
        let law = match law {
            Law::Joint if added > 0.0 => Law::Resistance(Num::exact(added)),
            Law::Joint => Law::Joint,
            Law::Resistance(ohms) => Law::Resistance(sum(ohms, added)),
            Law::Source { volts, inner, limit, range } => {
                Law::Source { volts: *volts, inner: sum(inner, added), limit: *limit, range: *range }
            }
            other => other.clone(),
        };
        Some(vec![Change::Replace(element, law)])
    }

    /// The element itself where a resistance can be added to it; of a load the contact of the pin at its first end.
    fn series_with(&self, element: ElementId) -> ElementId {
        let Some(e) = self.c.elements.get(element.index()) else { return element };
        if matches!(e.law, Law::Joint | Law::Resistance(_) | Law::Source { .. }) && !e.kind.is_load() {
            return element;
        }
        match self.c.points.get(e.from.index()).map(|p| p.kind) {
            Some(PointKind::PinInside(d, pin)) => {
                let pin = self.c.devices.get(d.index()).and_then(|d| d.pins.get(pin));
                pin.map_or(element, |p| p.terminal)
            }
            _ => element,
        }
    }

    fn drift(&mut self, what: &Name, by: &Quantity) -> Option<Vec<Change>> {
        let by = self.quantity(by, DRIFT);
        let is_sensor = |c: &Circuit, entity: Entity| match entity {
            Entity::Device(_) => true,
            Entity::Element(_) => !is_stretch(c, entity),
            _ => false,
        };
        let entity = self.resolve(what, "a sensor", &is_sensor)?;
        let elements = match entity {
            Entity::Device(d) => self.c.devices.get(d.index())?.elements.clone(),
            other => vec![self.c.element_of(other)?],
        };
        // Of a track the lower part: the output is what it drops.
        let drifts = |&e: &ElementId| {
            self.c.elements.get(e.index()).is_some_and(|e| {
                e.law.stimulus().is_some() && e.kind != ElementKind::Track(true)
                    || matches!(e.kind, ElementKind::Resistor)
            })
        };
        let chosen: Vec<ElementId> = elements.into_iter().filter(drifts).collect();
        if chosen.is_empty() {
            let loc = self.place(what);
            self.report("unknown-name", loc, format!("`{}` measures nothing that could drift", what.text))
                .help("name a thermistor, a track, a transducer or a resistor");
            return None;
        }
        let factor = 1.0 + by?;
        Some(chosen.into_iter().map(|e| Change::Drift(e, factor)).collect())
    }
}
