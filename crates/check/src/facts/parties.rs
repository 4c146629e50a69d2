//! Which sharers of a return serve the same input: the buttons of a ladder, a sensor and the resistor beside it.

use super::{
    Facts,
    graph::{Flood, is_wiring},
    returns::ReturnNet,
};
use keyon_circuit::{
    ids::*,
    model::{DeviceOrModule, ElementKind, Owner, Role},
};
use std::collections::{BTreeMap, BTreeSet};

/// A sensing pin: its module, its connector, its cavity.
type Place = (ModuleId, (usize, usize));

impl Facts<'_> {
    /// The sharers of a return, those together that serve one and the same input and nothing else: if the return opens, one
    /// reading is wrong, however many parts make it.
    pub fn parties(
        &self,
        net: &ReturnNet,
        sharers: &BTreeSet<DeviceOrModule>,
    ) -> Vec<BTreeSet<DeviceOrModule>> {
        let mut parties: Vec<BTreeSet<DeviceOrModule>> = Vec::new();
        let mut of: BTreeMap<Place, usize> = BTreeMap::new();
        if sharers.len() < 2 {
            return sharers.iter().map(|&sharer| BTreeSet::from([sharer])).collect();
        }
        for &sharer in sharers {
            let input = match sharer {
                DeviceOrModule::Device(device) => self.only_input(device, net),
                DeviceOrModule::Module(_) => None,
            };
            let at = input.and_then(|input| of.get(&input).copied());
            if let Some(party) = at.and_then(|at| parties.get_mut(at)) {
                party.insert(sharer);
                continue;
            }
            if let Some(input) = input {
                of.insert(input, parties.len());
            }
            parties.push(BTreeSet::from([sharer]));
        }
        parties
    }

    /// What supplies, references and ground hold by wires alone.
    fn firm(&self) -> &Flood {
        self.firm.get_or_init(|| {
            let references = self.cavities().filter(|(.., c)| matches!(c.role, Role::Reference { .. }));
            let supplies = self.circuit.supplies.iter().map(|s| s.point);
            let starts: Vec<PointId> = references.map(|(.., c)| c.outside).chain(supplies).collect();
            self.graph().flood(&starts, |e, _| is_wiring(e.kind))
        })
    }

    /// The input that a device serves, where it is one and no other pin of a module hangs on the device.
    fn only_input(&self, device: DeviceId, net: &ReturnNet) -> Option<Place> {
        let ends = |p: PointId| net.wiring.has(p) || self.firm().has(p) || self.ground_net().has(p);
        let pins = &self.circuit.devices.get(device.index())?.pins;
        let starts: Vec<PointId> = pins.iter().map(|pin| pin.outside).filter(|&p| !ends(p)).collect();
        let reach = self.graph().flood(&starts, |e, step| {
            let outside = !matches!(e.owner, Owner::Module(..)) || e.kind == ElementKind::Terminal;
            outside && !e.kind.is_source() && !ends(step.to)
        });
        let mut input = None;
        for (module, at, cavity) in self.cavities_on(&reach) {
            if !matches!(cavity.role, Role::Senses { .. }) || input.is_some() {
                return None;
            }
            input = Some((module, at));
        }
        input
    }
}
