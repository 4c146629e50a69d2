//! Pass one: points and names of everything, in source order, so that any line may name any other.

use super::{Builder, Slot, values::Want};
use crate::{Entity, ids::*, joined::dotted, model::*, value::Num};
use keyon_syntax::{
    Span,
    tree::{self, ItemKind, Name},
    unit::Dimension,
};
use smol_str::SmolStr;

/// An element that is not there yet.
pub(super) const NO_ELEMENT: ElementId = ElementId(u32::MAX);
const NO_CONTROL: ControlId = ControlId(u32::MAX);

const SUPPLY: Want = Want::volts("a supply's voltage", "12.6 V").to(1e4);

impl<'a> Builder<'a> {
    pub(super) fn declare(&mut self) {
        let items = self.read_items();
        self.slots = vec![Slot::None; self.items().len()];
        self.c.points.reserve(3 * items.len());
        self.c.index.things.reserve(2 * items.len());
        self.read_reach();
        for (i, placed) in items {
            self.item = i as u32;
            self.marks.declares(&self.c);
            let item: &'a tree::Item = &placed.item;
            let slot = self.declare_item(&item.kind);
            if let Some(place) = self.slots.get_mut(i) {
                *place = slot;
            }
        }
        self.marks.declares(&self.c);
    }

    fn declare_item(&mut self, kind: &'a ItemKind) -> Slot {
        match kind {
            ItemKind::Supply(supply) => self.declare_supply(supply),
            ItemKind::Ground(ground) => self.declare_ground(ground),
            ItemKind::Splice(splice) => self.declare_splice(splice),
            ItemKind::Inline(inline) => self.declare_inline(inline),
            ItemKind::Fuse(fuse) => self.declare_fuse(fuse),
            ItemKind::Element(e) => self.declare_two_pins(&e.name, e.title.as_ref(), &e.attributes),
            ItemKind::Switch(s) => self.declare_two_pins(&s.name, s.title.as_ref(), &s.attributes),
            ItemKind::Device(device) => self.declare_device_item(device),
            ItemKind::Module(module) => self.declare_module(module),
            ItemKind::Control(control) => {
                if self.register(&control.name, Entity::Control(NO_CONTROL)) {
                    Slot::Control(NO_CONTROL)
                } else {
                    Slot::None
                }
            }
            ItemKind::Scenario(scenario) => self.declare_scenario(scenario),
            ItemKind::Exercise(exercise) => self.declare_exercise(exercise),
            ItemKind::Readings(readings) => self.declare_readings(readings),
            _ => Slot::None,
        }
    }

    /// Registers a thing's name; reports it where another thing has it.
    pub(super) fn register(&mut self, name: &Name, entity: Entity) -> bool {
        if name.text.is_empty() {
            return false;
        }
        let Some(&first) = self.c.index.things.get(&name.text) else {
            self.c.index.things.insert(name.text.clone(), entity);
            return true;
        };
        let place = match first {
            Entity::Fuse(_) => self.c.fuses.iter().find(|f| f.name == name.text).map(|f| f.loc),
            _ => self.definition(first),
        };
        let what = super::report::a_kind(&self.c, first);
        self.report_duplicate(name, what, place);
        if let Some(points) = self.points_of(first) {
            for point in points {
                self.taint_net(point);
            }
        }
        false
    }

    /// All points of a thing.
    pub(super) fn points_of(&self, entity: Entity) -> Option<Vec<PointId>> {
        Some(match entity {
            Entity::Device(d) => {
                self.c.devices.get(d.index())?.pins.iter().flat_map(|p| [p.outside, p.inside]).collect()
            }
            Entity::Module(m) => {
                let connectors = &self.c.modules.get(m.index())?.connectors;
                connectors.iter().flat_map(|c| &c.cavities).flat_map(|k| [k.outside, k.inside]).collect()
            }
            Entity::Connector(m, c) => {
                let connector = self.c.modules.get(m.index())?.connectors.get(c)?;
                connector.cavities.iter().flat_map(|k| [k.outside, k.inside]).collect()
            }
            Entity::Inline(i) => {
                self.c.inlines.get(i.index())?.cavities.iter().flat_map(|c| [c.a, c.b]).collect()
            }
            other => vec![self.c.point_of(other)?],
        })
    }

    fn declare_supply(&mut self, supply: &tree::Supply) -> Slot {
        let index = self.c.supplies.len();
        let name = &supply.name;
        if !self.register(name, Entity::Supply(index)) {
            return Slot::None;
        }
        let loc = self.place(name);
        let point = self.add_point(name.text.clone(), PointKind::Supply(index), Some(loc));
        let volts = self.num_of(supply.volts.as_ref(), SUPPLY);
        if volts.is_none() {
            self.taint(point);
        }
        let volts = volts.unwrap_or_else(|| Num::exact(self.likely_volts(supply.volts.as_ref())));
        let range = supply.range.as_ref().and_then(|r| self.range(r, SUPPLY));
        if let (Some((low, high)), Some(written)) = (range, &supply.range)
            && (volts.nominal < low || volts.nominal > high)
        {
            let show = |v| crate::units::show(v, Dimension::Voltage);
            let message = format!(
                "the supply stands at {}, outside its range {} .. {}",
                show(volts.nominal),
                show(low),
                show(high)
            );
            let loc = self.at(written.span);
            self.report("impossible-value", loc, message)
                .help("the range runs from the lowest voltage that it has to work with to the highest");
        }
        self.c.supplies.push(Supply {
            name: name.text.clone(),
            title: Self::title(supply.title.as_ref()),
            point,
            element: NO_ELEMENT,
            negative: COMMON,
            volts,
            range,
            loc,
        });
        self.occurs(loc, Entity::Supply(index), true);
        Slot::Supply(index)
    }

    fn declare_ground(&mut self, ground: &tree::Ground) -> Slot {
        let index = self.c.grounds.len();
        let name = &ground.name;
        if !self.register(name, Entity::Ground(index)) {
            return Slot::None;
        }
        let loc = self.place(name);
        let point = self.add_point(name.text.clone(), PointKind::Ground(index), Some(loc));
        self.c.grounds.push(GroundPoint {
            name: name.text.clone(),
            title: Self::title(ground.title.as_ref()),
            point,
            element: NO_ELEMENT,
            attributes: Self::attributes(&[&ground.attributes]),
            loc,
        });
        self.occurs(loc, Entity::Ground(index), true);
        Slot::Ground(index)
    }

    fn declare_splice(&mut self, splice: &tree::Splice) -> Slot {
        let index = self.c.splices.len();
        let name = &splice.name;
        if !self.register(name, Entity::Splice(index)) {
            return Slot::None;
        }
        let loc = self.place(name);
        let point = self.add_point(name.text.clone(), PointKind::Splice(index), Some(loc));
        self.c.splices.push(Splice {
            name: name.text.clone(),
            title: Self::title(splice.title.as_ref()),
            point,
            legs: Vec::new(),
            shared_by: None,
            attributes: Self::attributes(&[&splice.attributes]),
            loc,
        });
        self.occurs(loc, Entity::Splice(index), true);
        Slot::Splice(index)
    }

    fn declare_inline(&mut self, inline: &tree::Inline) -> Slot {
        let id = InlineId::from(self.c.inlines.len());
        let name = &inline.name;
        if !self.register(name, Entity::Inline(id)) {
            return Slot::None;
        }
        let loc = self.place(name);
        self.occurs(loc, Entity::Inline(id), true);
        let mut cavities: Vec<InlineCavity> = Vec::with_capacity(inline.cavities.len());
        for cavity in &inline.cavities {
            let index = cavities.len();
            let full = dotted(&name.text, &cavity.text);
            let place = self.place(cavity);
            if let Some(&Entity::InlineCavity(_, first)) = self.c.index.things.get(&full) {
                let first = cavities.get(first).map(|c| c.loc);
                self.report_duplicate(cavity, "a cavity", first);
                continue;
            }
            let side = |b: &mut Self, letter: &str, second| {
                let name = dotted(&full, letter);
                let point = b.add_point(name.clone(), PointKind::InlineSide(id, index, second), Some(place));
                b.c.index.things.insert(name, Entity::Point(point));
                point
            };
            let (a, b) = (side(self, "a", false), side(self, "b", true));
            self.c.index.things.insert(full, Entity::InlineCavity(id, index));
            self.occurs(place, Entity::InlineCavity(id, index), true);
            cavities.push(InlineCavity {
                name: cavity.text.clone(),
                a,
                b,
                joint: NO_ELEMENT,
                landings: Vec::new(),
                loc: place,
            });
        }
        self.c.inlines.push(Inline {
            name: name.text.clone(),
            title: Self::title(inline.title.as_ref()),
            cavities,
            attributes: Self::attributes(&[&inline.attributes]),
            loc,
        });
        Slot::Inline(id)
    }

    fn declare_fuse(&mut self, fuse: &tree::Fuse) -> Slot {
        if !self.register(&fuse.name, Entity::Fuse(NO_ELEMENT)) {
            return Slot::None;
        }
        let loc = self.place(&fuse.name);
        let index = self.c.fuses.len();
        self.c.fuses.push(Fuse {
            name: fuse.name.text.clone(),
            title: Self::title(fuse.title.as_ref()),
            kind: fuse.kind,
            element: NO_ELEMENT,
            attributes: Self::attributes(&[&fuse.attributes]),
            loc,
        });
        Slot::Fuse(index)
    }

    fn declare_two_pins(
        &mut self,
        name: &Name,
        title: Option<&tree::Title>,
        attributes: &tree::Attributes,
    ) -> Slot {
        let Some(id) = self.add_device(name, title, &[attributes], None) else { return Slot::None };
        if let Some(device) = self.c.devices.get_mut(id.index()) {
            device.bare = true;
        }
        let span = name.span;
        for number in ["1", "2"] {
            self.add_pin(id, &Name { text: SmolStr::new_static(number), span }, false);
        }
        Slot::Device(id)
    }

    /// A device without pins; `None` where its name is taken.
    pub(super) fn add_device(
        &mut self,
        name: &Name,
        title: Option<&tree::Title>,
        attributes: &[&tree::Attributes],
        part: Option<PartUse>,
    ) -> Option<DeviceId> {
        let id = DeviceId::from(self.c.devices.len());
        if !self.register(name, Entity::Device(id)) {
            return None;
        }
        let loc = self.place(name);
        self.c.devices.push(Device {
            name: name.text.clone(),
            title: Self::title(title),
            part,
            pins: Vec::new(),
            elements: Vec::new(),
            control: None,
            grades: Vec::new(),
            attributes: Self::attributes(attributes),
            bare: false,
            loc,
        });
        self.device_parts.push(None);
        self.occurs(loc, Entity::Device(id), true);
        Some(id)
    }

    /// Adds a pin with its two points.
    pub(super) fn add_pin(&mut self, id: DeviceId, pin: &Name, unused: bool) {
        let Some(device) = self.c.devices.get(id.index()) else { return };
        let full = dotted(&device.name, &pin.text);
        let index = device.pins.len();
        let loc = self.place(pin);
        if pin.text.is_empty() {
            return;
        }
        if let Some(&first) = self.c.index.things.get(&full) {
            let first = self.definition(first);
            // Of a line that was pasted twice the first pin says all.
            let again = self.problems.last().is_some_and(|last| {
                let between = Span { start: last.loc.span.end, end: loc.span.start };
                let here =
                    last.rule == "duplicate-name" && (last.loc.file, last.loc.item) == (loc.file, loc.item);
                here && between.start <= between.end
                    && !self.text(Loc { span: between, ..loc }).contains('\n')
            });
            if !again {
                self.report_duplicate(pin, "a pin", first);
            }
            return;
        }
        let bare = self.c.devices.get(id.index()).is_some_and(|d| d.bare);
        let outside = self.add_point(full.clone(), PointKind::Pin(id, index), Some(loc));
        let inside = self.add_point(dotted(&full, "inside"), PointKind::PinInside(id, index), Some(loc));
        self.c.index.things.insert(full, Entity::Point(outside));
        if let Some(device) = self.c.devices.get_mut(id.index()) {
            device.pins.push(Pin {
                name: pin.text.clone(),
                outside,
                inside,
                terminal: NO_ELEMENT,
                unused: unused.then_some(loc),
                landings: Vec::new(),
                loc,
            });
        }
        if !bare {
            self.occurs(loc, Entity::Point(outside), true);
        }
    }

    fn declare_device_item(&mut self, device: &'a tree::Device) -> Slot {
        match &device.what {
            tree::DeviceKind::Call(call) => {
                let found = self.find_part(&call.part, false);
                let part = match found.and_then(|index| self.part(index)) {
                    Some(def) => PartUse {
                        name: call.part.text.clone(),
                        loc: (!def.built_in).then_some(Loc {
                            file: def.file,
                            item: def.item,
                            span: def.part.name.span,
                        }),
                    },
                    None => PartUse { name: call.part.text.clone(), loc: None },
                };
                let def = found.and_then(|index| self.part(index));
                let mut sources: Vec<&tree::Attributes> = Vec::new();
                if let Some(def) = def {
                    sources.push(&def.part.attributes);
                    if let tree::PartKind::Device(body) = &def.part.what {
                        sources.push(&body.attributes);
                    }
                }
                sources.push(&device.attributes);
                let Some(id) = self.add_device(&device.name, device.title.as_ref(), &sources, Some(part))
                else {
                    return Slot::None;
                };
                match def {
                    Some(def) => {
                        if let Some(place) = self.device_parts.get_mut(id.index()) {
                            *place = found;
                        }
                        if def.damaged {
                            self.open_ended.insert(device.name.text.clone());
                        }
                        if let tree::PartKind::Device(body) = &def.part.what {
                            let kept = self.enter_part(def);
                            self.add_pins(id, body);
                            self.leave_part(kept);
                        }
                    }
                    None => {
                        self.open_ended.insert(device.name.text.clone());
                    }
                }
                Slot::Device(id)
            }
            tree::DeviceKind::Body(body) => {
                let attributes = [&body.attributes, &device.attributes];
                let Some(id) = self.add_device(&device.name, device.title.as_ref(), &attributes, None) else {
                    return Slot::None;
                };
                self.add_pins(id, body);
                Slot::Device(id)
            }
            tree::DeviceKind::Missing => {
                let Some(id) =
                    self.add_device(&device.name, device.title.as_ref(), &[&device.attributes], None)
                else {
                    return Slot::None;
                };
                self.open_ended.insert(device.name.text.clone());
                Slot::Device(id)
            }
        }
    }

    pub(super) fn add_pins(&mut self, id: DeviceId, body: &'a tree::Body) {
        for pin in &body.pins {
            self.add_pin(id, &pin.name, pin.unused);
        }
    }
}
