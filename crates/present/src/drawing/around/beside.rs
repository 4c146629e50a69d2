//! What is shown beside the one way to feed and return: other ways to the same end, other supplies on the same wiring, what
//! hangs behind a contact.

use super::{Along, Around, Reached, way};
use crate::state::has_loads;
use keyon_circuit::{ids::*, model::*};
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// How many loads behind a contact are shown.
const CONSUMERS: usize = 4;

impl Around<'_> {
    /// The ways beside one to the same end: a bypass around a chain of switches. Each leaves what is known at one point and
    /// comes back to it at another.
    pub(super) fn other_ways(&self, by: &Reached, end: PointId) -> Vec<(Reached, PointId)> {
        let mut known = BTreeSet::from([end]);
        let mut elements = BTreeSet::new();
        let mut at = end;
        while let Some(Some((element, before))) = by.get(&at) {
            elements.insert(*element);
            known.insert(*before);
            at = *before;
        }
        let mut found = Vec::new();
        let mut open: VecDeque<PointId> = known.iter().copied().collect();
        while let Some(start) = open.pop_front() {
            while let Some((by, end)) = self.detour(start, &known, &elements) {
                let way = way(&by, end);
                elements.extend(&way);
                // Through two throws of one selector nothing is fed.
                if self.exclude_each_other(&way) {
                    continue;
                }
                let fresh: Vec<PointId> = by.keys().copied().filter(|p| known.insert(*p)).collect();
                open.extend(fresh);
                found.push((by, end));
            }
        }
        found
    }

    /// Whether some of these contacts are never closed together.
    fn exclude_each_other(&self, way: &[ElementId]) -> bool {
        let mut closed: BTreeMap<ControlId, u64> = BTreeMap::new();
        way.iter().filter_map(|e| self.circuit.elements.get(e.index())).any(|element| match element.when {
            When::In { control, positions } => {
                let both = closed.entry(control).or_insert(u64::MAX);
                *both &= positions;
                *both == 0
            }
            _ => false,
        })
    }

    /// The shortest way from a known point to another one over nothing that is known; only what lies on it.
    fn detour(
        &self,
        start: PointId,
        known: &BTreeSet<PointId>,
        elements: &BTreeSet<ElementId>,
    ) -> Option<(Reached, PointId)> {
        if self.is_end(start) {
            return None;
        }
        let mut by: Reached = BTreeMap::from([(start, None)]);
        let mut queue = VecDeque::from([start]);
        while let Some(at) = queue.pop_front() {
            for &(element, to) in self.steps.get(&at).map_or(&[][..], Vec::as_slice) {
                if elements.contains(&element) || by.contains_key(&to) {
                    continue;
                }
                by.insert(to, Some((element, at)));
                if known.contains(&to) {
                    let on =
                        std::iter::successors(Some(to), |p| by.get(p).copied().flatten().map(|(_, p)| p));
                    let on: BTreeSet<PointId> = on.collect();
                    by.retain(|p, _| on.contains(p));
                    return Some((by, to));
                }
                if !self.is_end(to) {
                    queue.push_back(to);
                }
            }
        }
        None
    }

    /// The other supplies on the wiring of one: a generator on its battery, a panel behind its diode. Which of them feeds is a
    /// matter of the state.
    pub(super) fn beside(&mut self, supply: PointId) {
        let index = |p: PointId| match self.circuit.points.get(p.index()).map(|p| p.kind) {
            Some(PointKind::Supply(index)) => Some(index),
            _ => None,
        };
        let Some(own) = index(supply) else { return };
        for other in (0..self.circuit.supplies.len()).filter(|&other| other != own) {
            let (by, Some(end)) = self.flood(supply, Along::Any, |kind| kind == PointKind::Supply(other))
            else {
                continue;
            };
            let wiring = way(&by, end).iter().all(|e| {
                let kind = self.circuit.elements.get(e.index()).map(|e| e.kind);
                !matches!(kind, Some(ElementKind::Contact | ElementKind::Stage))
            });
            if wiring && !self.points.contains(&end) {
                self.take(&by, end);
            }
        }
    }

    /// What hangs behind a switch or the contact of a relay: the nearest loads and modules on those pins that have a wire
    /// and no feed by it.
    pub(super) fn consumers(&mut self, device: DeviceId) {
        let Some(own) = self.circuit.devices.get(device.index()) else { return };
        let contact = |e: &ElementId| {
            self.circuit.elements.get(e.index()).is_some_and(|e| e.kind == ElementKind::Contact)
        };
        if !own.elements.iter().any(contact) {
            return;
        }
        let mut next: Vec<DeviceId> = Vec::new();
        for pin in own.pins.iter().filter(|pin| !pin.landings.is_empty()) {
            let mut seen = BTreeSet::from([pin.outside, pin.inside]);
            let mut queue = VecDeque::from([pin.outside]);
            let mut found: Vec<DeviceId> = Vec::new();
            let mut is_fed = false;
            while let Some(at) = queue.pop_front() {
                match self.circuit.points.get(at.index()).map(|p| p.kind) {
                    Some(PointKind::Supply(_)) => is_fed = true,
                    Some(PointKind::Pin(other, _))
                        if other != device && has_loads(self.circuit, other) && !found.contains(&other) =>
                    {
                        found.push(other);
                    }
                    _ => {}
                }
                if self.is_end(at) && at != pin.outside {
                    continue;
                }
                for &(element, to) in self.steps.get(&at).map_or(&[][..], Vec::as_slice) {
                    let backward = |e: &Element| e.kind == ElementKind::Diode && e.to == at;
                    let passes = self.circuit.elements.get(element.index()).is_some_and(|e| !backward(e));
                    if passes && seen.insert(to) {
                        queue.push_back(to);
                    }
                }
            }
            if !is_fed {
                next.extend(found.into_iter().take(CONSUMERS));
            }
        }
        for device in next {
            self.device(device);
        }
    }
}
