//! Which faults can matter to a place at all.
//!
//! In a state, what a place carries hangs on what lies between it and the nets that are fed, grounded or referenced, and
//! on the way from those to their source. Of the rest only a short that blows a fuse on that way is felt here. So of a
//! thousand faults a few dozen have to be solved.

use super::Fault;
use crate::{NodeState, Solution, Ways};
use keyon_circuit::{
    ids::*,
    model::{Circuit, ElementKind, Law, When},
};
use std::collections::BTreeSet;

/// What is near some points in one state.
#[derive(Debug)]
pub struct Near<'a> {
    circuit: &'a Circuit,
    solution: &'a Solution,
    ways: Ways<'a>,
    elements: BTreeSet<ElementId>,
    points: BTreeSet<PointId>,
    /// Fuses on the way from the sources.
    fuses: BTreeSet<ElementId>,
}

impl<'a> Near<'a> {
    /// Walks from these points, in the state that is solved here.
    pub fn new(circuit: &'a Circuit, solution: &'a Solution, starts: &[PointId]) -> Self {
        let ways = Ways::new(circuit, solution);
        let mut near = Self {
            circuit,
            solution,
            ways,
            elements: BTreeSet::new(),
            points: BTreeSet::new(),
            fuses: BTreeSet::new(),
        };
        near.walk(starts);
        near
    }

    fn walk(&mut self, starts: &[PointId]) {
        let circuit = self.circuit;
        let mut at: Vec<Vec<ElementId>> = vec![Vec::new(); circuit.points.len()];
        for (e, element) in circuit.elements.iter().enumerate() {
            for end in [element.from, element.to] {
                if let Some(list) = at.get_mut(end.index()) {
                    list.push(e.into());
                }
            }
        }
        let mut open: Vec<PointId> = starts.to_vec();
        while let Some(point) = open.pop() {
            if point == keyon_circuit::model::COMMON || !self.points.insert(point) {
                continue;
            }
            let state = self.solution.node_states.get(point.index()).copied().unwrap_or(NodeState::Open);
            let way = match state {
                NodeState::Fed | NodeState::Referenced => self.ways.to_source(point),
                NodeState::Grounded => self.ways.to_ground(point),
                _ => None,
            };
            let held = way.is_some();
            for (e, _) in way.iter().flat_map(|way| &way.steps) {
                self.touch(*e, &mut open);
            }
            self.points.extend(way.iter().flat_map(|way| &way.points));
            for &e in at.get(point.index()).into_iter().flatten() {
                let Some(element) = circuit.elements.get(e.index()) else { continue };
                // A net that holds its potential is felt here, what else hangs on it is not; but it may be cut off here.
                let own = !held || matches!(element.kind, ElementKind::Wire | ElementKind::Terminal);
                if !own {
                    continue;
                }
                self.touch(e, &mut open);
                let conducts = self.solution.conducts.get(e.index()).copied().unwrap_or(false);
                if !held && (conducts || element.kind.is_load()) {
                    open.extend([element.from, element.to]);
                }
            }
        }
    }

    /// An element that matters, with what decides whether it conducts.
    fn touch(&mut self, e: ElementId, open: &mut Vec<PointId>) {
        if !self.elements.insert(e) {
            return;
        }
        let Some(element) = self.circuit.elements.get(e.index()) else { return };
        if matches!(element.kind, ElementKind::Fuse(_)) {
            self.fuses.insert(e);
        }
        if let Law::Transducer { feed, .. } = element.law {
            open.push(feed);
        }
        if let When::Energised { coil, .. } = element.when
            && let Some(coil) = self.circuit.elements.get(coil.index())
        {
            open.extend([coil.from, coil.to]);
        }
        if let Some(module) = element.alive.and_then(|m| self.circuit.modules.get(m.index())) {
            let power = module.feeds.iter().chain(&module.grounds);
            open.extend(power.filter_map(|&(c, k)| Some(module.connectors.get(c)?.cavities.get(k)?.inside)));
        }
    }

    /// Whether a point lies on the ways that were walked.
    pub fn has(&self, point: PointId) -> bool {
        self.points.contains(&point)
    }

    /// Whether a fault may change anything there.
    pub fn concerns(&self, fault: &Fault) -> bool {
        if fault.elements.iter().any(|e| self.elements.contains(e)) {
            return true;
        }
        let Some((a, b)) = fault.joins else { return false };
        let blows = |p: PointId| {
            let way = self.ways.to_source(p);
            way.iter().flat_map(|way| &way.steps).any(|(e, _)| self.fuses.contains(e))
        };
        [a, b].into_iter().any(|p| self.points.contains(&p) && p != keyon_circuit::model::COMMON)
            || self.on_near_net(a)
            || self.on_near_net(b)
            || blows(a)
            || blows(b)
    }

    /// Whether a point shares its net with one that is near.
    fn on_near_net(&self, p: PointId) -> bool {
        let net = |p: PointId| self.solution.nets.get(p.index());
        p != keyon_circuit::model::COMMON && self.points.iter().any(|&q| net(q) == net(p))
    }
}
