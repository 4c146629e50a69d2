//! Supplies, grounds, splices, points, nets, elements, wires, connectors, devices.

use super::{
    Exporter,
    law::{maybe, num},
};
use keyon_circuit::{
    ids::*,
    model::{
        Attributes, ControlKind, DeviceOrModule, ElementKind, Owner, PartUse, PointKind, Role, Settings,
    },
};
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// Who moves a control.
pub(super) fn mover(kind: ControlKind) -> &'static str {
    match kind {
        ControlKind::Device(_) => "device",
        ControlKind::Stage(..) => "stage",
        ControlKind::Gang(..) => "gang",
        ControlKind::Return(..) => "return",
        ControlKind::Free => "free",
    }
}

fn point_kind(kind: PointKind) -> &'static str {
    match kind {
        PointKind::Common => "common",
        PointKind::Supply(_) => "supply",
        PointKind::Ground(_) => "ground",
        PointKind::Splice(_) => "splice",
        PointKind::Pin(..) => "pin",
        PointKind::PinInside(..) => "pin_inside",
        PointKind::Cavity(..) => "cavity",
        PointKind::CavityInside(..) => "cavity_inside",
        PointKind::InlineSide(..) => "inline_side",
        PointKind::Internal => "internal",
    }
}

/// What was said of place and dangers; nothing where nothing was.
pub(super) fn attributes(a: &Attributes) -> Value {
    json!({
        "where": a.place,
        "access": a.access.as_ref().map(|word| word.as_str()),
        "sealed": a.sealed,
        "face": a.face.map(|(rows, columns)| [rows, columns]),
        "moves": a.moves,
        "hazards": a.hazards,
        "restricted": a.restricted,
    })
}

pub(super) fn part(part: &Option<PartUse>) -> Value {
    part.as_ref().map_or(Value::Null, |part| json!(part.name.as_str()))
}

impl Exporter<'_> {
    pub(super) fn point_id(&self, point: PointId) -> Value {
        self.ids.points.get(point.index()).map_or(Value::Null, |id| json!(id))
    }

    pub(super) fn element_id(&self, element: ElementId) -> Value {
        self.ids.elements.get(element.index()).map_or(Value::Null, |id| json!(id))
    }

    pub(super) fn element_ids(&self, elements: &[ElementId]) -> Value {
        elements.iter().map(|&element| self.element_id(element)).collect()
    }

    pub(super) fn control_id(&self, control: Option<ControlId>) -> Value {
        let control = control.and_then(|c| self.circuit.controls.get(c.index()));
        control.map_or(Value::Null, |c| json!(format!("control:{}", c.qualified)))
    }

    pub(super) fn sharers(&self, sharers: &[DeviceOrModule]) -> Value {
        let id = |sharer: &DeviceOrModule| match sharer {
            DeviceOrModule::Device(d) => {
                self.circuit.devices.get(d.index()).map(|d| format!("device:{}", d.name))
            }
            DeviceOrModule::Module(m) => {
                self.circuit.modules.get(m.index()).map(|m| format!("module:{}", m.name))
            }
        };
        json!(sharers.iter().filter_map(id).collect::<Vec<_>>())
    }

    pub(super) fn supplies(&self) -> Value {
        let all = self.circuit.supplies.iter().map(|supply| {
            json!({
                "id": format!("supply:{}", supply.name),
                "name": supply.name.as_str(),
                "title": supply.title,
                "point": self.point_id(supply.point),
                "negative": self.point_id(supply.negative),
                "element": self.element_id(supply.element),
                "volts": num(supply.volts),
                "range": supply.range.map(|(low, high)| [low, high]),
                "at": self.at(supply.loc),
            })
        });
        all.collect()
    }

    pub(super) fn grounds(&self) -> Value {
        let all = self.circuit.grounds.iter().map(|ground| {
            json!({
                "id": format!("ground:{}", ground.name),
                "name": ground.name.as_str(),
                "title": ground.title,
                "point": self.point_id(ground.point),
                "element": self.element_id(ground.element),
                "attributes": attributes(&ground.attributes),
                "at": self.at(ground.loc),
            })
        });
        all.collect()
    }

    pub(super) fn splices(&self) -> Value {
        let all = self.circuit.splices.iter().map(|splice| {
            json!({
                "id": format!("splice:{}", splice.name),
                "name": splice.name.as_str(),
                "title": splice.title,
                "point": self.point_id(splice.point),
                "legs": self.element_ids(&splice.legs),
                "shared_by": splice.shared_by.as_ref().map(|sharers| self.sharers(sharers)),
                "attributes": attributes(&splice.attributes),
                "at": self.at(splice.loc),
            })
        });
        all.collect()
    }

    /// Sorted by id, the points of each too.
    pub(super) fn nets(&self) -> Value {
        let mut nets: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
        for (net, point) in self.ids.nets.iter().zip(&self.ids.points) {
            nets.entry(net).or_default().push(point);
        }
        let all = nets.into_iter().map(|(id, mut points)| {
            points.sort_unstable();
            json!({ "id": id, "points": points })
        });
        all.collect()
    }

    pub(super) fn points(&self) -> Value {
        let all = self.circuit.points.iter().enumerate().map(|(index, point)| {
            json!({
                "id": self.ids.points.get(index),
                "name": point.name.as_str(),
                "kind": point_kind(point.kind),
                "net": self.ids.nets.get(index),
                "at": point.loc.map(|loc| self.at(loc)),
            })
        });
        all.collect()
    }

    pub(super) fn elements(&self) -> Value {
        let all = self.circuit.elements.iter().enumerate().map(|(index, element)| {
            let alive = element.alive.and_then(|m| self.circuit.modules.get(m.index()));
            json!({
                "id": self.ids.elements.get(index),
                "name": element.name.as_str(),
                "kind": crate::json::kind_word(element.kind),
                "load": element.kind.is_load(),
                "from": self.point_id(element.from),
                "to": self.point_id(element.to),
                "law": self.law(&element.law),
                "when": self.when(&element.when),
                "alive_with": alive.map(|m| format!("module:{}", m.name)),
                "rating": maybe(element.rating),
                "owner": self.owner(element.owner, index),
                "at": self.at(element.loc),
            })
        });
        all.collect()
    }

    fn owner(&self, owner: Owner, element: usize) -> Value {
        let id = match owner {
            Owner::Wire(w) => self.ids.wires.get(w.index()).cloned(),
            Owner::Inline(i) => self.circuit.inlines.get(i.index()).map(|i| format!("inline:{}", i.name)),
            Owner::Supply(s) => self.circuit.supplies.get(s).map(|s| format!("supply:{}", s.name)),
            Owner::Ground(g) => self.circuit.grounds.get(g).map(|g| format!("ground:{}", g.name)),
            Owner::Fuse => self.circuit.elements.get(element).map(|e| format!("fuse:{}", e.name)),
            Owner::Device(d) => self.circuit.devices.get(d.index()).map(|d| format!("device:{}", d.name)),
            Owner::Module(m, ..) => self.circuit.modules.get(m.index()).map(|m| format!("module:{}", m.name)),
            Owner::Elsewhere => None,
        };
        json!(id)
    }

    pub(super) fn wires(&self) -> Value {
        let all = self.circuit.wires.iter().zip(&self.ids.wires).map(|(wire, id)| {
            let stretches = wire.stretches.iter().map(|stretch| {
                json!({
                    "element": self.element_id(stretch.element),
                    "area": stretch.area,
                    "gauge": stretch.gauge.as_ref().map(|g| g.as_str()),
                    "length": maybe(stretch.length),
                    "colour": stretch.colour.as_ref().map(|c| c.as_str()),
                })
            });
            json!({
                "id": id,
                "number": wire.numbered.then(|| wire.name.as_str()),
                "title": wire.title,
                "stretches": stretches.collect::<Vec<_>>(),
                "at": self.at(wire.loc),
            })
        });
        all.collect()
    }

    pub(super) fn inlines(&self) -> Value {
        let all = self.circuit.inlines.iter().map(|inline| {
            let cavities = inline.cavities.iter().map(|cavity| {
                json!({
                    "name": cavity.name.as_str(),
                    "a": self.point_id(cavity.a),
                    "b": self.point_id(cavity.b),
                    "joint": self.element_id(cavity.joint),
                    "at": self.at(cavity.loc),
                })
            });
            json!({
                "id": format!("inline:{}", inline.name),
                "name": inline.name.as_str(),
                "title": inline.title,
                "cavities": cavities.collect::<Vec<_>>(),
                "attributes": attributes(&inline.attributes),
                "at": self.at(inline.loc),
            })
        });
        all.collect()
    }

    pub(super) fn devices(&self) -> Value {
        let all = self.circuit.devices.iter().map(|device| {
            let pins = device.pins.iter().map(|pin| {
                json!({
                    "name": pin.name.as_str(),
                    "outside": self.point_id(pin.outside),
                    "inside": self.point_id(pin.inside),
                    "terminal": self.element_id(pin.terminal),
                    "landings": self.element_ids(&pin.landings),
                    "unused": pin.unused.is_some(),
                })
            });
            let grades: Map<String, Value> =
                device.grades.iter().map(|(name, e)| (name.to_string(), self.element_ids(e))).collect();
            json!({
                "id": format!("device:{}", device.name),
                "name": device.name.as_str(),
                "title": device.title,
                "part": part(&device.part),
                "pins": pins.collect::<Vec<_>>(),
                "elements": self.element_ids(&device.elements),
                "control": self.control_id(device.control),
                "grades": grades,
                "attributes": attributes(&device.attributes),
                "at": self.at(device.loc),
            })
        });
        all.collect()
    }

    pub(super) fn fuses(&self) -> Value {
        let all = self.circuit.fuses.iter().map(|fuse| {
            let element = self.circuit.elements.get(fuse.element.index());
            json!({
                "id": format!("fuse:{}", fuse.name),
                "name": fuse.name.as_str(),
                "title": fuse.title,
                "kind": crate::json::kind_word(ElementKind::Fuse(fuse.kind)),
                "element": self.element_id(fuse.element),
                "rating": maybe(element.and_then(|e| e.rating)),
                "attributes": attributes(&fuse.attributes),
                "at": self.at(fuse.loc),
            })
        });
        all.collect()
    }

    /// What leaves the page.
    pub(super) fn branches(&self) -> Value {
        let all = self.circuit.branches.iter().map(|branch| {
            json!({
                "title": branch.title,
                "point": self.point_id(branch.point),
                "element": branch.element.map(|e| self.element_id(e)),
                "at": self.at(branch.loc),
            })
        });
        all.collect()
    }

    /// Where controls, stimuli and supplies are set.
    pub(super) fn settings(&self, settings: &Settings) -> Map<String, Value> {
        let mut controls = Map::new();
        let mut duties = Map::new();
        for &(control, position, duty) in &settings.controls {
            let Some(control) = self.circuit.controls.get(control.index()) else { continue };
            let id = format!("control:{}", control.qualified);
            controls.insert(id.clone(), json!(control.positions.get(position).map(|p| p.as_str())));
            if let Some(duty) = duty {
                duties.insert(id, json!(duty));
            }
        }
        let stimuli = settings.stimuli.iter().filter_map(|&(stimulus, value)| {
            let stimulus = self.circuit.stimuli.get(stimulus.index())?;
            Some((format!("stimulus:{}", stimulus.name), json!(value)))
        });
        let supplies = settings.supplies.iter().filter_map(|&(supply, volts)| {
            Some((format!("supply:{}", self.circuit.supplies.get(supply)?.name), json!(volts)))
        });
        let mut out = Map::new();
        out.insert("controls".into(), Value::Object(controls));
        out.insert("duties".into(), Value::Object(duties));
        out.insert("stimuli".into(), Value::Object(stimuli.collect()));
        out.insert("supplies".into(), Value::Object(supplies.collect()));
        out.insert("changes".into(), json!(crate::about::change_words(self.circuit, &settings.changes)));
        out
    }
}

/// What a cavity does, in a word.
pub(super) fn role(role: &Role) -> Map<String, Value> {
    let (word, more): (&str, Option<(&str, Value)>) = match role {
        Role::Feed => ("feed", None),
        Role::Ground => ("ground", None),
        Role::Drives(way) => ("drives", Some(("way", json!(format!("{way:?}").to_lowercase())))),
        Role::Switches => ("switches", None),
        Role::Reference { volts } => ("reference", Some(("volts", num(*volts)))),
        Role::Return { switched } => ("return", Some(("switched", json!(switched)))),
        Role::Senses { digital } => ("senses", Some(("digital", json!(digital)))),
        Role::Bus { name, volts } => ("bus", Some(("bus", json!({ "name": name.as_str(), "volts": volts })))),
        Role::Unused => ("unused", None),
    };
    let mut out = Map::new();
    out.insert("role".into(), json!(word));
    if let Some((key, value)) = more {
        out.insert(key.into(), value);
    }
    out
}
