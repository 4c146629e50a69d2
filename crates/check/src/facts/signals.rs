//! Sensing pins and what hangs on them.

use super::{
    Facts,
    graph::{Flood, is_wiring},
    paths::senses,
};
use keyon_circuit::{
    ids::*,
    model::{Cavity, Element, ElementKind, Law, Loc, Owner, PointKind, Role},
};
use keyon_solve::Solution;

/// A sensing pin of a module that a wire reaches.
#[derive(Clone, Copy, Debug)]
pub struct Input<'a> {
    #[allow(missing_docs)]
    pub module: ModuleId,
    /// Connector and cavity.
    pub at: (usize, usize),
    #[allow(missing_docs)]
    pub cavity: &'a Cavity,
    /// It knows high and low only.
    pub digital: bool,
}

impl<'a> Facts<'a> {
    /// Every cavity of every module, in source order.
    pub fn cavities(&self) -> impl Iterator<Item = (ModuleId, (usize, usize), &'a Cavity)> {
        self.circuit.modules.iter().enumerate().flat_map(|(m, module)| {
            module.connectors.iter().enumerate().flat_map(move |(c, connector)| {
                connector.cavities.iter().enumerate().map(move |(k, cavity)| (m.into(), (c, k), cavity))
            })
        })
    }

    /// Every sensing pin that a wire reaches and that no damage touches.
    pub fn inputs(&self) -> impl Iterator<Item = Input<'a>> {
        self.cavities().filter_map(|(module, at, cavity)| match cavity.role {
            Role::Senses { digital } if !cavity.landings.is_empty() && !self.held(cavity.outside) => {
                Some(Input { module, at, cavity, digital })
            }
            _ => None,
        })
    }

    /// `SCU.temp_in`.
    pub fn pin_name(&self, module: ModuleId, cavity: &Cavity) -> String {
        format!(
            "{}.{}",
            self.circuit.modules.get(module.index()).map_or("", |m| m.name.as_str()),
            cavity.name
        )
    }

    /// The line of a module's pin: its row; where that is in a library, the wire on it, else the module.
    pub fn pin_place(&self, module: ModuleId, cavity: &Cavity) -> Option<Loc> {
        let wire = cavity.landings.iter().find_map(|&wire| self.place(wire));
        let module = self.circuit.modules.get(module.index()).map(|m| m.loc);
        self.own_first([Some(cavity.loc), wire, module].into_iter().flatten())
    }

    /// Sensors: devices with something in them that follows temperature, travel, pressure.
    pub fn is_sensor(&self, device: DeviceId) -> bool {
        self.elements_of(device).any(|(_, e)| senses(e.kind))
    }

    /// Whether a reference is at its limit, so that nothing on it reads true: that is `reference-overload`.
    pub fn folded(&self, solution: &Solution) -> bool {
        self.circuit.elements.iter().enumerate().any(|(i, e)| match &e.law {
            Law::Source { limit: Some(limit), .. } if e.kind == ElementKind::Reference => {
                let amps = solution.amps.get(i).and_then(|a| a.known());
                amps.is_some_and(|amps| amps.abs() >= limit.nominal * (1.0 - 1e-6))
            }
            _ => false,
        })
    }

    /// A device's elements.
    pub fn elements_of(&self, device: DeviceId) -> impl Iterator<Item = (ElementId, &'a Element)> {
        let elements = self.circuit.devices.get(device.index()).map_or(&[][..], |d| &d.elements);
        elements.iter().filter_map(|&id| Some((id, self.circuit.elements.get(id.index())?)))
    }

    /// Devices with a pin on what was walked, each once.
    pub fn devices_on(&self, reach: &Flood) -> Vec<DeviceId> {
        let kind = |p: &PointId| self.circuit.points.get(p.index()).map(|p| p.kind);
        let mut devices: Vec<DeviceId> = reach
            .order
            .iter()
            .filter_map(|p| match kind(p)? {
                PointKind::Pin(device, _) | PointKind::PinInside(device, _) => Some(device),
                _ => None,
            })
            .collect();
        devices.sort_unstable();
        devices.dedup();
        devices
    }

    /// Cavities on what was walked, in source order. Costs what the walk did, however many modules there are.
    pub fn cavities_on(&self, reach: &Flood) -> Vec<(ModuleId, (usize, usize), &'a Cavity)> {
        let places = reach.order.iter().filter_map(|p| match self.circuit.points.get(p.index())?.kind {
            PointKind::Cavity(m, c, k) => Some((m, c, k)),
            _ => None,
        });
        self.cavities_at(places)
    }

    /// Cavities of which the inner side is on what was walked, in source order.
    pub fn cavities_within(&self, reach: &Flood) -> Vec<(ModuleId, (usize, usize), &'a Cavity)> {
        let places = reach.order.iter().filter_map(|p| match self.circuit.points.get(p.index())?.kind {
            PointKind::CavityInside(m, c, k) => Some((m, c, k)),
            _ => None,
        });
        self.cavities_at(places)
    }

    fn cavities_at(
        &self,
        places: impl Iterator<Item = (ModuleId, usize, usize)>,
    ) -> Vec<(ModuleId, (usize, usize), &'a Cavity)> {
        let mut places: Vec<_> = places.collect();
        places.sort_unstable();
        places.dedup();
        let cavity = |(m, c, k)| Some((m, (c, k), self.circuit.cavity(m, c, k)?));
        places.into_iter().filter_map(cavity).collect()
    }

    /// Everything that has continuity to a point in some state, outside of modules: wires, contacts, diodes.
    pub fn joined(&self, point: PointId) -> Flood {
        self.graph().flood(&[point], |e, _| {
            let outside = !matches!(e.owner, Owner::Module(..)) || e.kind == ElementKind::Terminal;
            is_wiring(e.kind) || (matches!(e.kind, ElementKind::Contact | ElementKind::Diode) && outside)
        })
    }
}
