//! Devices: from a body or a part to terminals, elements, positions and grades.

use super::{Builder, edges::Local};
use crate::{Entity, hash::Map, ids::*, model::*};
use keyon_syntax::tree::{self, Name};
use smol_str::SmolStr;

/// Positions fit into a word, a bit each.
pub(super) const MOST_POSITIONS: usize = 64;

impl<'a> Builder<'a> {
    /// The elements of a `device` item.
    pub(super) fn connect_device(&mut self, id: DeviceId, device: &'a tree::Device) {
        match &device.what {
            tree::DeviceKind::Body(body) => self.connect_body(id, body),
            tree::DeviceKind::Call(call) => {
                let Some(index) = self.device_parts.get(id.index()).copied().flatten() else {
                    self.connect_terminals(id);
                    return;
                };
                let (env, sound) = self.bind(index, call);
                let Some(def) = self.part(index) else { return };
                let kept = self.enter_part(def);
                self.env = env;
                if let tree::PartKind::Device(body) = &def.part.what {
                    self.connect_body(id, body);
                }
                self.leave_part(kept);
                if !sound || def.damaged {
                    self.taint_thing(Entity::Device(id));
                }
            }
            tree::DeviceKind::Missing => self.connect_terminals(id),
        }
    }

    /// Taints all points of a thing.
    pub(super) fn taint_thing(&mut self, entity: Entity) {
        for point in self.points_of(entity).unwrap_or_default() {
            self.taint(point);
        }
    }

    /// The joints of a device's pins.
    pub(super) fn connect_terminals(&mut self, id: DeviceId) {
        let count = self.c.devices.get(id.index()).map_or(0, |d| d.pins.len());
        for index in 0..count {
            let Some(pin) = self.c.devices.get(id.index()).and_then(|d| d.pins.get(index)) else { continue };
            let (outside, inside, loc) = (pin.outside, pin.inside, pin.loc);
            let name = self.c.points.get(outside.index()).map(|p| p.name.clone()).unwrap_or_default();
            let terminal = self.add_element(Element {
                name,
                from: outside,
                to: inside,
                kind: ElementKind::Terminal,
                law: Law::Joint,
                when: When::Always,
                alive: None,
                rating: None,
                owner: Owner::Device(id),
                loc,
            });
            if let Some(pin) = self.c.devices.get_mut(id.index()).and_then(|d| d.pins.get_mut(index)) {
                pin.terminal = terminal;
            }
        }
    }

    /// Everything that a body says, the pins having been added.
    pub(super) fn connect_body(&mut self, id: DeviceId, body: &'a tree::Body) {
        self.connect_terminals(id);
        let name = self.c.devices.get(id.index()).map(|d| d.name.clone()).unwrap_or_default();
        if !body.positions.is_empty() {
            let title = self.c.devices.get(id.index()).and_then(|d| d.title.clone());
            let (positions, locs) = self.positions(&body.positions);
            self.add_device_control(id, title, positions, locs);
        }
        let mut local = Local::new(id, name);
        for edge in &body.edges {
            self.connect_edge(&mut local, edge);
        }
        self.resolve_coils(&local);
        self.name_stimuli(id);
        for grade in &body.grades {
            self.add_grade(&local, grade);
        }
    }

    /// The positions of a list, each once; and where they stand.
    pub(super) fn positions(&mut self, list: &[Name]) -> (Vec<SmolStr>, Vec<Loc>) {
        let mut names: Vec<SmolStr> = Vec::with_capacity(list.len());
        let mut locs: Vec<Loc> = Vec::with_capacity(list.len());
        let mut seen: Map<&SmolStr, Loc> = Map::default();
        for name in list {
            let loc = self.place(name);
            if let Some(&first) = seen.get(&name.text) {
                self.report_duplicate(name, "a position", Some(first));
                continue;
            }
            if names.len() == MOST_POSITIONS {
                self.report(
                    "impossible-value",
                    loc,
                    format!("more than {MOST_POSITIONS} positions are not worked out"),
                )
                .help("split the control into two");
                break;
            }
            seen.insert(&name.text, loc);
            names.push(name.text.clone());
            locs.push(loc);
        }
        (names, locs)
    }

    /// Makes a device a control; one position is none to choose from.
    pub(super) fn add_device_control(
        &mut self,
        id: DeviceId,
        title: Option<String>,
        positions: Vec<SmolStr>,
        locs: Vec<Loc>,
    ) {
        let Some(device) = self.c.devices.get(id.index()) else { return };
        let (name, loc) = (device.name.clone(), device.loc);
        if let (1, Some(&place)) = (positions.len(), locs.first()) {
            self.report(
                "impossible-value",
                place,
                format!("`{name}` has one position only: it cannot be moved"),
            )
            .help("name its other positions as well, the one at rest first");
            self.single_positions.extend(positions.first().map(|only| (id, only.clone())));
        }
        let control = self.add_control(
            Control {
                name: name.clone(),
                qualified: name,
                title,
                kind: ControlKind::Device(id),
                positions,
                pwm: None,
                loc,
            },
            locs,
        );
        if let Some(device) = self.c.devices.get_mut(id.index()) {
            device.control = control;
        }
    }

    /// Adds a control of two positions or more, with the places of its positions where they are declared.
    pub(super) fn add_control(&mut self, control: Control, locs: Vec<Loc>) -> Option<ControlId> {
        let id = ControlId::from(self.c.controls.len());
        let enough = control.positions.len() >= 2;
        for (position, &loc) in locs.iter().enumerate() {
            if enough {
                self.occurs(loc, Entity::Position(id, position), true);
            }
        }
        if !enough {
            return None;
        }
        self.c.controls.push(control);
        self.c.index.positions.push(locs);
        Some(id)
    }

    /// A device's only stimulus has the device's name; one of several that of its element.
    pub(super) fn name_stimuli(&mut self, id: DeviceId) {
        let Some(device) = self.c.devices.get(id.index()) else { return };
        let mut all: Vec<StimulusId> = Vec::new();
        for element in &device.elements {
            let stimulus = self.c.elements.get(element.index()).and_then(|e| e.law.stimulus());
            if let Some(stimulus) = stimulus
                && all.last() != Some(&stimulus)
            {
                all.push(stimulus);
            }
        }
        let only = if let [only] = all.as_slice() { Some(*only) } else { None };
        for stimulus in all {
            let Some(place) = self.c.stimuli.get_mut(stimulus.index()) else { continue };
            let element = self.c.elements.get(place.element.index());
            place.name = match only {
                Some(_) => device.name.clone(),
                None => element.map(|e| e.name.clone()).unwrap_or_default(),
            };
            if let Some(element) = element {
                place.loc = element.loc;
            }
        }
        let index = &mut self.c.index.device_stimulus;
        if index.len() <= id.index() {
            index.resize(id.index() + 1, None);
        }
        if let Some(place) = index.get_mut(id.index()) {
            *place = only;
        }
    }

    fn add_grade(&mut self, local: &Local<'a>, grade: &tree::Grade) {
        let mut elements = Vec::with_capacity(grade.elements.len());
        for name in &grade.elements {
            match local.names.get(name.text.as_str()) {
                Some(&element) => {
                    let loc = self.place(name);
                    self.occurs(loc, Entity::Element(element), false);
                    elements.push(element);
                }
                None => self.unknown_local(local, name, "element"),
            }
        }
        if let Some(device) = self.c.devices.get_mut(local.device.index()) {
            device.grades.push((grade.name.text.clone(), elements));
        }
    }
}
