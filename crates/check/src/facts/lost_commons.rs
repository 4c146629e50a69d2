//! Where several loads meet on their way to ground, and nothing leads on from there.

use super::{
    Facts,
    graph::{Flood, is_continuity, is_wiring},
    paths::works,
};
use keyon_circuit::{
    hash::Set,
    ids::*,
    model::{Element, Owner, PointKind},
};

/// A common way to ground that breaks off.
#[derive(Clone, Debug)]
pub struct LostCommon {
    /// What wires join to the splice at which it meets.
    pub wiring: Flood,
    /// The same with all that may conduct in some state: it reaches neither a supply nor ground.
    pub reach: Flood,
    /// The loads at it and their devices, in order.
    pub loads: Vec<(DeviceId, ElementId)>,
    /// Modules of which every ground pin hangs on it.
    pub modules: Vec<ModuleId>,
}

impl Facts<'_> {
    /// Splices that several loads, or a module and a load, have for their way to ground, and that no wire leads to ground. Each of
    /// those loads has its feed and no other way: what current finds through others of them is not what anybody meant.
    pub fn lost_commons(&self) -> &[LostCommon] {
        self.lost_commons.get_or_init(|| self.find_lost_commons())
    }

    /// Whether an end of an element hangs on a common way to ground that breaks off.
    pub fn at_lost_common(&self, element: ElementId) -> bool {
        let Some(e) = self.circuit.elements.get(element.index()) else { return false };
        self.lost_commons().iter().any(|common| common.reach.has(e.from) || common.reach.has(e.to))
    }

    fn find_lost_commons(&self) -> Vec<LostCommon> {
        let circuit = self.circuit;
        let (fed, grounded) = (self.fed_somehow(), self.grounded_somehow());
        let mut seen: Set<PointId> = Set::default();
        let mut found = Vec::new();
        for splice in &circuit.splices {
            let start = splice.point;
            if seen.contains(&start) || fed.has(start) || grounded.has(start) || self.held(start) {
                continue;
            }
            let reach = self.graph().flood(&[start], |e, _| is_continuity(e));
            seen.extend(reach.order.iter().copied());
            let known = |p: &PointId| !fed.has(*p) && !grounded.has(*p) && !self.held(*p);
            if reach.order.iter().all(known) {
                found.extend(self.common_at(start, reach));
            }
        }
        found
    }

    fn common_at(&self, start: PointId, reach: Flood) -> Option<LostCommon> {
        let circuit = self.circuit;
        let wiring = self.graph().flood(&[start], |e, _| is_wiring(e.kind));
        let mut loads: Vec<(DeviceId, ElementId)> = Vec::new();
        for (i, e) in circuit.elements.iter().enumerate() {
            let (from, to) = (reach.has(e.from), reach.has(e.to));
            if from == to || !e.kind.is_load() {
                continue;
            }
            let far = if from { e.to } else { e.from };
            let own = works(e.kind) && matches!(e.owner, Owner::Device(_));
            if own && (!self.fed_somehow().has(far) || self.grounded_somehow().has(far)) {
                return None;
            }
            if let (true, Owner::Device(device)) = (own, e.owner) {
                loads.push((device, i.into()));
            }
        }
        loads.sort_unstable();
        let modules: Vec<ModuleId> = (0..circuit.modules.len())
            .map(ModuleId::from)
            .filter(|id| circuit.modules.get(id.index()).is_some_and(|m| self.hangs(m, &wiring)))
            .collect();
        let mut near: Vec<DeviceId> =
            loads.iter().filter(|(_, e)| self.lands(*e, &wiring)).map(|l| l.0).collect();
        near.dedup();
        (near.len() + modules.len() > 1 && !near.is_empty()).then_some(LostCommon {
            wiring,
            reach,
            loads,
            modules,
        })
    }

    /// Whether every ground pin of a module is on a net.
    fn hangs(&self, module: &keyon_circuit::model::Module, net: &Flood) -> bool {
        let mut pins = module.grounds.iter().filter_map(|&at| super::modules::cavity(module, at)).peekable();
        pins.peek().is_some() && pins.all(|cavity| net.has(cavity.outside))
    }

    fn lands(&self, element: ElementId, net: &Flood) -> bool {
        let on = |e: &Element| net.has(e.from) || net.has(e.to);
        self.circuit.elements.get(element.index()).is_some_and(on)
    }

    /// Whether a splice is one at which a common way to ground breaks off.
    pub fn is_lost_common(&self, splice: PointId) -> bool {
        let is_splice =
            self.circuit.points.get(splice.index()).is_some_and(|p| matches!(p.kind, PointKind::Splice(_)));
        is_splice && self.lost_commons().iter().any(|common| common.wiring.has(splice))
    }
}
