//! Sensor returns: what hangs on the pin of a module that is a return.

use super::{
    Facts,
    graph::{Flood, Step},
    modules::cavity,
};
use keyon_circuit::{
    ids::*,
    model::{Cavity, DeviceOrModule, Element, ElementKind, Owner, PointKind, Role},
};
use std::collections::BTreeSet;

/// A return and everything that wires join to it.
#[derive(Clone, Debug)]
pub struct ReturnNet {
    #[allow(missing_docs)]
    pub module: ModuleId,
    /// Connector and cavity.
    pub at: (usize, usize),
    /// Over wires and fuses, from the pin outward; no device is walked through.
    pub wiring: Flood,
    /// What has a pin on it, in order, each once; the module itself left out.
    pub sharers: BTreeSet<DeviceOrModule>,
    /// Indices of the splices on it.
    pub splices: Vec<usize>,
}

/// Wires and what joins them, without any device.
pub fn is_harness(element: &Element) -> bool {
    matches!(element.kind, ElementKind::Wire | ElementKind::Inline | ElementKind::Tie | ElementKind::Fuse(_))
}

impl Facts<'_> {
    /// Every return of every module that something hangs on and that no damage touches.
    pub fn returns(&self) -> &[ReturnNet] {
        self.returns.get_or_init(|| self.find_returns())
    }

    fn find_returns(&self) -> Vec<ReturnNet> {
        let mut nets = Vec::new();
        for (m, module) in self.circuit.modules.iter().enumerate() {
            for (c, connector) in module.connectors.iter().enumerate() {
                for (k, cavity) in connector.cavities.iter().enumerate() {
                    if matches!(cavity.role, Role::Return { .. }) && !self.held(cavity.outside) {
                        nets.push(self.net_of(m.into(), (c, k), cavity));
                    }
                }
            }
        }
        nets
    }

    fn net_of(&self, module: ModuleId, at: (usize, usize), cavity: &Cavity) -> ReturnNet {
        let wiring =
            self.graph().flood(&[cavity.outside], |e, step| is_harness(e) && !self.leaves_ground(e, step));
        let mut splices = Vec::new();
        for &point in &wiring.order {
            if let Some(PointKind::Splice(i)) = self.circuit.points.get(point.index()).map(|p| p.kind) {
                splices.push(i);
            }
        }
        let sharers = self.sharers_on(&wiring, module);
        ReturnNet { module, at, wiring, sharers, splices }
    }

    /// What hangs on a ground point to which a return was led by mistake does not hang on the return.
    fn leaves_ground(&self, element: &Element, step: Step) -> bool {
        let from = if step.forward { element.from } else { element.to };
        matches!(self.circuit.points.get(from.index()).map(|p| p.kind), Some(PointKind::Ground(_)))
    }

    /// Devices and other modules with a pin on what was walked.
    pub fn sharers_on(&self, wiring: &Flood, module: ModuleId) -> BTreeSet<DeviceOrModule> {
        let kind = |p: &PointId| self.circuit.points.get(p.index()).map(|p| p.kind);
        wiring
            .order
            .iter()
            .filter_map(|p| match kind(p)? {
                PointKind::Pin(device, _) => Some(DeviceOrModule::Device(device)),
                PointKind::Cavity(other, ..) if other != module => Some(DeviceOrModule::Module(other)),
                _ => None,
            })
            .collect()
    }

    /// What reaches the return only by way of this splice.
    pub fn sharers_behind(&self, net: &ReturnNet, splice: usize) -> BTreeSet<DeviceOrModule> {
        let (Some(pin), Some(splice)) = (self.return_pin(net), self.circuit.splices.get(splice)) else {
            return BTreeSet::new();
        };
        let before = self.graph().flood(&[pin.outside], |e, step| is_harness(e) && step.to != splice.point);
        let without = self.sharers_on(&before, net.module);
        net.sharers.difference(&without).copied().collect()
    }

    /// The pin of a return.
    pub fn return_pin(&self, net: &ReturnNet) -> Option<&Cavity> {
        cavity(self.circuit.modules.get(net.module.index())?, net.at)
    }

    /// Everything that has continuity to the return outside of the module, contacts of any state included.
    pub fn return_continuity(&self, net: &ReturnNet) -> Flood {
        let start = self.return_pin(net).map(|pin| pin.outside);
        self.graph().flood(start.as_slice(), |e, step| {
            let outside = !matches!(e.owner, Owner::Module(..));
            let kind = matches!(e.kind, ElementKind::Terminal | ElementKind::Contact | ElementKind::Diode);
            (is_harness(e) || (kind && outside)) && !self.leaves_ground(e, step)
        })
    }
}
