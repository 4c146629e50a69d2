//! Wires of which an end was not read: where that may have been.

use super::{Facts, graph::is_continuity, paths::works};
use keyon_circuit::{
    hash::Set,
    ids::*,
    model::{Element, ElementKind, Owner, PointKind, Role},
};

/// What waits for a wire: its points, and the items that speak of it.
struct Waiting {
    points: Vec<PointId>,
    items: Vec<u32>,
}

impl Waiting {
    /// How many items lie between an item and the nearest that speaks of this.
    fn distance(&self, item: u32) -> u32 {
        self.items.iter().map(|own| own.abs_diff(item)).min().unwrap_or(u32::MAX)
    }
}

impl Facts<'_> {
    /// Where a wire is missing that one may have been of which an end was not read. Each such end explains one place: the wires of
    /// one thing stand together in a file, so it is the nearest, or the nearest ones where several are as near.
    pub(super) fn missed_by_lost_ends(&self) -> Vec<PointId> {
        if self.circuit.lost_ends.is_empty() {
            return Vec::new();
        }
        let waiting = self.waiting_for_a_wire();
        let mut found = Vec::new();
        let lost = &self.circuit.lost_ends;
        for (nth, &item) in lost.iter().enumerate() {
            // The second end of one item explains the next nearest place.
            let before = lost.iter().take(nth).filter(|other| **other == item).count();
            let mut distances: Vec<u32> = waiting.iter().map(|w| w.distance(item)).collect();
            distances.sort_unstable();
            let Some(&most) = distances.get(before).or(distances.last()) else { continue };
            let near = waiting.iter().filter(|w| w.distance(item) <= most);
            found.extend(near.flat_map(|w| w.points.iter().copied()));
        }
        found.sort_unstable();
        found.dedup();
        found
    }

    /// Ends without a wire, and what needs both ends held and has a side that neither supply nor ground reaches in any state.
    fn waiting_for_a_wire(&self) -> Vec<Waiting> {
        let circuit = self.circuit;
        let powered = self.powered(&Set::default(), true);
        let loose: Set<PointId> = circuit.loose_ends().into_iter().collect();
        let mut seen: Set<PointId> = Set::default();
        let mut all = Vec::new();
        for i in 0..circuit.points.len() {
            let point = PointId::from(i);
            if seen.contains(&point) || (powered.contains(&point) && !loose.contains(&point)) {
                continue;
            }
            let island = match powered.contains(&point) {
                true => vec![point],
                false => self.graph().flood(&[point], |e, _| is_continuity(e)).order,
            };
            seen.extend(island.iter().copied());
            let steps = island.iter().flat_map(|&p| self.graph().steps(p));
            let hang = steps.filter_map(|step| circuit.elements.get(step.element.index()));
            let loads: Vec<ElementKind> = hang.map(|e| e.kind).filter(|kind| kind.is_load()).collect();
            // Loads that need both ends held, and modules that need power.
            let needy = (!loads.is_empty() && loads.iter().all(|&kind| works(kind)))
                || island.iter().any(|&p| self.powers_a_module(p));
            let points: Vec<PointId> = match needy && !powered.contains(&point) {
                true => island.clone(),
                false => island.iter().copied().filter(|p| loose.contains(p)).collect(),
            };
            if !points.is_empty() {
                all.push(Waiting { points, items: self.items_about(&island) });
            }
        }
        all
    }

    /// Whether a point is a feed or a ground of a module.
    fn powers_a_module(&self, point: PointId) -> bool {
        match self.circuit.points.get(point.index()).map(|p| p.kind) {
            Some(PointKind::Cavity(m, c, k)) => {
                let cavity = self.circuit.cavity(m, c, k);
                cavity.is_some_and(|cavity| matches!(cavity.role, Role::Feed | Role::Ground))
            }
            _ => false,
        }
    }

    /// The items that declare the things at these points, or lead to one of them.
    fn items_about(&self, points: &[PointId]) -> Vec<u32> {
        let circuit = self.circuit;
        let mut items: Vec<u32> = Vec::new();
        let mut pins: Vec<PointId> = Vec::new();
        for &point in points {
            match circuit.points.get(point.index()).map(|p| p.kind) {
                Some(PointKind::Pin(d, _) | PointKind::PinInside(d, _)) => {
                    let device = circuit.devices.get(d.index());
                    items.extend(device.map(|d| d.loc.item));
                    pins.extend(device.iter().flat_map(|d| &d.pins).map(|p| p.outside));
                }
                Some(PointKind::Cavity(m, ..) | PointKind::CavityInside(m, ..)) => {
                    let connectors = circuit.modules.get(m.index()).map_or(&[][..], |m| &m.connectors);
                    pins.extend(connectors.iter().flat_map(|c| &c.cavities).map(|c| c.outside));
                }
                Some(PointKind::InlineSide(i, ..)) => {
                    let cavities = circuit.inlines.get(i.index()).map_or(&[][..], |i| &i.cavities);
                    pins.extend(cavities.iter().flat_map(|c| [c.a, c.b]));
                }
                Some(PointKind::Splice(i)) => {
                    items.extend(circuit.splices.get(i).map(|s| s.loc.item));
                    pins.push(point);
                }
                _ => pins.push(point),
            }
        }
        let leads = |e: &&Element| matches!(e.owner, Owner::Wire(_) | Owner::Fuse);
        let at = pins.iter().flat_map(|&p| self.graph().steps(p));
        let elements = at.filter_map(|step| circuit.elements.get(step.element.index()));
        items.extend(elements.filter(leads).map(|e| e.loc.item));
        items.sort_unstable();
        items.dedup();
        items
    }
}
