//! The names of a circuit (decision 9): one hash look-up a name.

use crate::{
    Entity,
    hash::Map,
    ids::*,
    model::{Circuit, Loc},
};
use smol_str::SmolStr;
use std::collections::hash_map::Entry;
use unicode_normalization::UnicodeNormalization;

/// One entity or more; mostly one, which then costs no allocation.
#[derive(Clone, Debug)]
pub(crate) enum Entities {
    One(Entity),
    Many(Vec<Entity>),
}

impl Entities {
    pub(crate) fn as_slice(&self) -> &[Entity] {
        match self {
            Self::One(one) => std::slice::from_ref(one),
            Self::Many(all) => all,
        }
    }
    /// Adds an entity to a name.
    pub(crate) fn add(map: &mut Map<SmolStr, Self>, name: SmolStr, entity: Entity) {
        match map.entry(name) {
            Entry::Vacant(place) => {
                place.insert(Self::One(entity));
            }
            Entry::Occupied(mut place) => match place.get_mut() {
                Self::One(one) => {
                    let all = vec![*one, entity];
                    place.insert(Self::Many(all));
                }
                Self::Many(all) => all.push(entity),
            },
        }
    }
}

/// The names of a circuit. Filled by elaboration; asked through [`Circuit::lookup`].
#[derive(Clone, Debug, Default)]
pub struct Index {
    /// Full names: `S12`, `SCU.A.4`, `SCU.left_cmd`, `K4.K`, `C201.1.a` …
    pub(crate) things: Map<SmolStr, Entity>,
    /// Bare names of what lies inside modules: cavities, gangs.
    pub(crate) inner: Map<SmolStr, Entities>,
    /// Wire numbers, stretches, wires by their ends. A number may stand on several wires.
    pub(crate) wires: Map<SmolStr, Entities>,
    pub(crate) scenarios: Map<SmolStr, ScenarioId>,
    pub(crate) exercises: Map<SmolStr, usize>,
    pub(crate) readings: Map<SmolStr, usize>,
    /// The only stimulus of each device.
    pub(crate) device_stimulus: Vec<Option<StimulusId>>,
    /// Where each position of each control is declared.
    pub(crate) positions: Vec<Vec<Loc>>,
    /// Where an element's name stands, if it has one of its own.
    pub(crate) element_names: Map<ElementId, Loc>,
}

impl Index {
    pub(crate) fn stimulus_of_device(&self, device: DeviceId) -> Option<StimulusId> {
        self.device_stimulus.get(device.index()).copied().flatten()
    }
    pub(crate) fn position_loc(&self, control: ControlId, position: usize) -> Option<Loc> {
        self.positions.get(control.index())?.get(position).copied()
    }
    /// `SCU.A.left_cmd`: a cavity by its connector and its name.
    pub(crate) fn by_connector(&self, text: &str) -> Option<Entity> {
        let (above, cavity) = text.rsplit_once('.')?;
        let (module, _) = above.split_once('.')?;
        let name = smol_str::format_smolstr!("{module}.{cavity}");
        match (self.things.get(&name), self.things.get(above)) {
            (Some(&Entity::Cavity(m, c, k)), Some(&Entity::Connector(n, d))) if m == n && c == d => {
                Some(Entity::Cavity(m, c, k))
            }
            _ => None,
        }
    }
    pub(crate) fn element_name_loc(&self, element: ElementId) -> Option<Loc> {
        self.element_names.get(&element).copied()
    }
}

impl Circuit {
    /// Everything that a name of the circuit can mean, the likeliest first: things and paths, then what lies inside
    /// modules, then wires, scenarios, exercises, readings. Empty if nothing; several if it is ambiguous.
    pub fn lookup(&self, text: &str) -> Vec<Entity> {
        let index = &self.index;
        // Names are compared after normalisation, as in files.
        let normal: String;
        let text = if text.is_ascii() {
            text
        } else {
            normal = text.nfc().collect();
            normal.as_str()
        };
        let mut found = Vec::new();
        found.extend(index.things.get(text));
        found.extend(index.inner.get(text).map_or(&[][..], Entities::as_slice));
        if found.is_empty() {
            found.extend(index.by_connector(text));
        }
        if found.is_empty() && text == "ground" {
            found.push(Entity::Point(crate::model::COMMON));
        }
        found.extend(index.wires.get(text).map_or(&[][..], Entities::as_slice));
        found.extend(index.scenarios.get(text).map(|&s| Entity::Scenario(s)));
        found.extend(index.exercises.get(text).map(|&e| Entity::Exercise(e)));
        found.extend(index.readings.get(text).map(|&r| Entity::Readings(r)));
        found
    }
}
