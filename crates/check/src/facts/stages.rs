//! Driver stages and the coils that hang on them.

use super::{
    Facts,
    graph::{Flood, is_wiring},
    labels::Labels,
};
use keyon_circuit::{
    ids::*,
    model::{COMMON, Cavity, Element, ElementKind, Loc, Role, When},
};
use std::collections::BTreeMap;

/// A stage of a module.
#[derive(Clone, Copy, Debug)]
pub struct Stage<'a> {
    #[allow(missing_docs)]
    pub module: ModuleId,
    /// Connector and cavity.
    pub at: (usize, usize),
    #[allow(missing_docs)]
    pub cavity: &'a Cavity,
}

/// The module, the connector and the cavity of a stage.
pub(super) type Place = (ModuleId, (usize, usize));

/// Stages by the label of the net that they drive.
pub(super) type StagesAt = BTreeMap<u32, Vec<Place>>;

impl<'a> Facts<'a> {
    /// Every driver stage of every module, in source order.
    pub fn stages(&self) -> impl Iterator<Item = Stage<'a>> {
        let modules = self.circuit.modules.iter().enumerate();
        modules.flat_map(|(m, module)| {
            let cavities = module.connectors.iter().enumerate().flat_map(|(c, connector)| {
                connector.cavities.iter().enumerate().map(move |(k, cavity)| ((c, k), cavity))
            });
            cavities
                .filter(|(_, cavity)| matches!(cavity.role, Role::Drives(_) | Role::Switches))
                .map(move |(at, cavity)| Stage { module: m.into(), at, cavity })
        })
    }

    /// `SCU.left_cmd`.
    pub fn stage_name(&self, stage: &Stage<'_>) -> String {
        let module = self.circuit.modules.get(stage.module.index()).map_or("", |m| m.name.as_str());
        format!("{module}.{}", stage.cavity.name)
    }

    /// The line of a stage: its row; where that is in a library, the wire on its pin, else the module.
    pub fn stage_place(&self, stage: &Stage<'_>) -> Option<Loc> {
        let wire = stage.cavity.landings.iter().find_map(|&wire| self.place(wire));
        let module = self.circuit.modules.get(stage.module.index()).map(|m| m.loc);
        self.own_first([Some(stage.cavity.loc), wire, module].into_iter().flatten())
    }

    /// Everything that wires, connectors and fuses join to a point; no contact is passed.
    pub fn wired(&self, point: PointId) -> Flood {
        self.graph().flood(&[point], |e, _| is_wiring(e.kind))
    }

    /// The stages on either side of a coil, contacts between them passed; where there are none, those that drive it
    /// through a diode or a small resistor.
    pub fn stages_of_coil(&self, coil: &Element) -> Vec<Stage<'a>> {
        let (labels, at) = (self.switched(), self.stages_at());
        let mut sides: Vec<u32> =
            [coil.from, coil.to].into_iter().filter(|&p| p != COMMON).filter_map(|p| labels.of(p)).collect();
        sides.dedup();
        let mut found: Vec<Place> =
            sides.iter().filter_map(|label| at.get(label)).flatten().copied().collect();
        if found.is_empty() {
            return self.stages_in_series(coil);
        }
        found.sort_unstable();
        found.into_iter().filter_map(|place| self.stage(place)).collect()
    }

    pub(super) fn stage(&self, (module, at): Place) -> Option<Stage<'a>> {
        let cavity = super::modules::cavity(self.circuit.modules.get(module.index())?, at)?;
        Some(Stage { module, at, cavity })
    }

    /// What wires and contacts join, in whatever position.
    pub(super) fn switched(&self) -> &Labels {
        self.switched.get_or_init(|| {
            Labels::new(self.circuit, |e| {
                (is_wiring(e.kind) && e.kind != ElementKind::Ground)
                    || (e.kind == ElementKind::Contact && e.when != When::Never)
            })
        })
    }

    pub(super) fn stages_at(&self) -> &StagesAt {
        self.stages_at.get_or_init(|| {
            let mut at = StagesAt::new();
            for stage in self.stages() {
                let label = self.switched().of(stage.cavity.inside).filter(|_| stage.cavity.inside != COMMON);
                if let Some(label) = label {
                    at.entry(label).or_default().push((stage.module, stage.at));
                }
            }
            at
        })
    }

    /// Whether a stage on either side of a load pulses.
    pub fn is_pulsed(&self, load: &Element) -> bool {
        self.stages_of_coil(load).iter().any(|stage| self.pulses(stage))
    }

    /// Whether a stage pulses, by itself or with its gang.
    pub fn pulses(&self, stage: &Stage<'_>) -> bool {
        let control = stage.cavity.control.and_then(|c| self.circuit.controls.get(c.index()));
        stage.cavity.pwm.is_some() || control.is_some_and(|c| c.pwm.is_some())
    }

    /// Diodes and resistors that lie across a coil, in its device or wired to it.
    pub fn across(&self, coil: ElementId) -> Vec<ElementId> {
        let Some(e) = self.circuit.elements.get(coil.index()) else { return Vec::new() };
        let wired = self.joined_by_wires();
        let shunts = self.shunts.get_or_init(|| {
            let elements = self.circuit.elements.iter().enumerate();
            let shunts = elements
                .filter(|(_, other)| matches!(other.kind, ElementKind::Diode | ElementKind::Resistor));
            shunts.map(|(i, _)| i.into()).collect()
        });
        let across = |o: &Element| {
            (wired.joins(e.from, o.from) && wired.joins(e.to, o.to))
                || (wired.joins(e.from, o.to) && wired.joins(e.to, o.from))
        };
        let is_across = |s: &ElementId| self.circuit.elements.get(s.index()).is_some_and(across);
        shunts.iter().copied().filter(is_across).collect()
    }

    /// What wires, connectors and fuses join.
    pub(super) fn joined_by_wires(&self) -> &Labels {
        self.joined.get_or_init(|| Labels::new(self.circuit, |e| is_wiring(e.kind)))
    }

    /// Whether a coil moves contacts.
    pub fn is_relay(&self, coil: ElementId) -> bool {
        let relays = self.relays.get_or_init(|| {
            let moved_by = |e: &Element| match e.when {
                When::Energised { coil, .. } => Some(coil),
                _ => None,
            };
            self.circuit.elements.iter().filter_map(moved_by).collect()
        });
        relays.contains(&coil)
    }
}
