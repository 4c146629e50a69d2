//! Pass two, of elements and switches that are items of their own: things with two pins.

use super::Builder;
use crate::{Entity, ids::*, model::*};
use keyon_syntax::tree;
use smol_str::{SmolStr, format_smolstr};

impl Builder<'_> {
    /// The inside of both pins of a two-pin device.
    fn both_inside(&self, id: DeviceId) -> Option<(PointId, PointId)> {
        match self.c.devices.get(id.index())?.pins.as_slice() {
            [one, two] => Some((one.inside, two.inside)),
            _ => None,
        }
    }

    /// Adds the one element of a device of two pins, which has its name.
    fn add_inside(
        &mut self,
        id: DeviceId,
        name: &tree::Name,
        (from, to): (PointId, PointId),
        (kind, law): (ElementKind, Law),
        when: When,
    ) {
        let element = self.add_element(Element {
            name: name.text.clone(),
            from,
            to,
            kind,
            law,
            when,
            alive: None,
            rating: None,
            owner: Owner::Device(id),
            loc: self.statement(),
        });
        if let Some(device) = self.c.devices.get_mut(id.index()) {
            device.elements.push(element);
        }
    }

    pub(super) fn connect_top_element(&mut self, id: DeviceId, top: &tree::TopElement) {
        self.connect_terminals(id);
        if let (Some(made), Some((from, to))) = (self.law(&top.law), self.both_inside(id)) {
            if made.stand_in {
                self.taint_thing(Entity::Device(id));
            }
            self.add_inside(id, &top.name, (from, to), (made.kind, made.law), When::Always);
            self.name_stimuli(id);
        } else {
            self.taint_thing(Entity::Device(id));
        }
        self.tie(id, top.path.as_ref());
    }

    pub(super) fn connect_switch(&mut self, id: DeviceId, switch: &tree::Switch) {
        self.connect_terminals(id);
        let (positions, locs) = if switch.positions.is_empty() {
            (vec![SmolStr::new_static("off"), SmolStr::new_static("on")], Vec::new())
        } else {
            self.positions(&switch.positions)
        };
        let count = positions.len();
        let title = Self::title(switch.title.as_ref());
        self.add_device_control(id, title, positions, locs);
        let control = self.c.devices.get(id.index()).and_then(|d| d.control);
        let when = match (control, &switch.closed_in) {
            (None, None) => When::Never,
            (None, Some(list)) if list.is_empty() => When::Never,
            (None, Some(_)) => When::Always,
            (Some(control), None) => When::In { control, positions: super::edges::all_of(count) & !1 },
            (Some(control), Some(list)) => {
                let mut mask = 0;
                for name in list {
                    let known = self.c.controls.get(control.index()).map(|c| c.positions.as_slice());
                    match known.and_then(|known| known.iter().position(|p| *p == name.text)) {
                        Some(index) => {
                            mask |= 1 << index;
                            let loc = self.place(name);
                            self.occurs(loc, Entity::Position(control, index), false);
                        }
                        None => {
                            self.unknown_position(name, control);
                            self.taint_thing(Entity::Device(id));
                        }
                    }
                }
                When::In { control, positions: mask }
            }
        };
        if let Some((from, to)) = self.both_inside(id) {
            self.add_inside(id, &switch.name, (from, to), (ElementKind::Contact, Law::Joint), when);
        }
        self.tie(id, switch.path.as_ref());
    }

    /// Joins a top-level element to the points that it names.
    fn tie(&mut self, id: DeviceId, path: Option<&tree::Path>) {
        let Some((from, to)) = self.path_points(path) else { return };
        let Some(device) = self.c.devices.get(id.index()) else { return };
        let name = device.name.clone();
        let pins: Vec<PointId> = device.pins.iter().map(|p| p.outside).collect();
        let [one, two] = pins.as_slice() else { return };
        for (a, b, pin) in [(from, *one, "1"), (*two, to, "2")] {
            let tie = self.add_element(Element {
                name: format_smolstr!("{name}.{pin}.tie"),
                from: a,
                to: b,
                kind: ElementKind::Tie,
                law: Law::Joint,
                when: When::Always,
                alive: None,
                rating: None,
                owner: Owner::Device(id),
                loc: self.statement(),
            });
            self.land(a, tie);
            self.land(b, tie);
            self.taint_beside(a, b);
        }
    }
}
