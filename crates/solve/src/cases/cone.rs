//! What can influence a place: the walk from it up to the barriers, and the undecided controls on the way.

use super::{
    facts::{Facts, Tri},
    frame::{Class, FAR, Frame, Gate, Net},
};
use keyon_circuit::ids::*;
use std::collections::BTreeMap;

/// How soon to decide a control: the lower, the more hangs on it. What it may have inherited from a thing whose condition it
/// is, its own distance from the supplies, and the steps from what was asked.
pub(crate) type Rank = (u32, u32, u32);

/// The undecided controls of a cone with the edges by which they matter.
pub(crate) type Undecided = BTreeMap<ControlId, (Rank, Vec<u32>)>;

/// The walk's result.
#[derive(Default)]
pub(crate) struct Cone {
    pub(crate) undecided: Undecided,
    /// Coils that nothing has decided yet, in the order they were met.
    pub(crate) coils: Vec<ElementId>,
    /// Potentials of all nets of the electrical part, barriers included.
    pub(crate) potentials: u64,
    /// A source or a transducer lies inside the electrical part.
    pub(crate) sources: bool,
    /// Nets of the electrical part that are no barriers.
    pub(crate) inner: Vec<Net>,
}

/// Walks cones; keeps its marks between walks.
pub(crate) struct Walker<'f, 'c> {
    frame: &'f Frame<'c>,
    facts: &'f Facts,
    seen: Vec<bool>,
    touched: Vec<Net>,
}

impl<'f, 'c> Walker<'f, 'c> {
    pub(crate) fn new(frame: &'f Frame<'c>, facts: &'f Facts) -> Self {
        Self { frame, facts, seen: vec![false; frame.at.len()], touched: Vec::new() }
    }

    /// The cone of these nets, and of the conditions of these edges. `inside` nets are walked though they are
    /// barriers (see `below`).
    pub(crate) fn cone(&mut self, nets: &[Net], edges: &[u32], inside: &[bool]) -> Cone {
        for net in self.touched.drain(..) {
            self.seen[net as usize] = false;
        }
        let mut cone = Cone::default();
        // What the electrical part depends on: nets with the rank that they inherit.
        let mut conditions: Vec<(Net, u32)> = Vec::new();
        let mut modules = vec![false; self.facts.alive.len()];
        let mut level: Vec<Net> = nets.to_vec();
        for &e in edges {
            self.condition(e, None, 0, &mut cone, &mut conditions, &mut modules);
        }
        let mut hops = 0;
        let mut electrical = true;
        let mut inherited: Vec<Option<u32>> = vec![None; level.len()];
        loop {
            while !level.is_empty() {
                let (mut next, mut next_inherited) = (Vec::new(), Vec::new());
                for (&net, &rank) in level.iter().zip(&inherited) {
                    if std::mem::replace(&mut self.seen[net as usize], true) {
                        continue;
                    }
                    self.touched.push(net);
                    if electrical {
                        cone.potentials |= self.facts.may[net as usize];
                    }
                    let forced = inside.get(net as usize).copied().unwrap_or(false);
                    if self.facts.barrier(net) && !forced {
                        continue;
                    }
                    if electrical {
                        cone.inner.push(net);
                    }
                    for &e in &self.frame.at[net as usize] {
                        if self.facts.edges[e as usize] == Tri::No {
                            continue;
                        }
                        let edge = &self.frame.edges[e as usize];
                        self.condition(e, rank, hops, &mut cone, &mut conditions, &mut modules);
                        if let Class::Load { feed: Some(feed) } = edge.class {
                            conditions.push((feed, rank.unwrap_or(FAR)));
                        }
                        if electrical {
                            cone.sources |=
                                edge.class.is_source() || matches!(edge.class, Class::Load { feed: Some(_) });
                        }
                        next.push(if edge.a == net { edge.b } else { edge.a });
                        next_inherited.push(rank);
                    }
                }
                (level, inherited) = (next, next_inherited);
                hops += 1;
            }
            electrical = false;
            if conditions.is_empty() {
                break;
            }
            hops = 0;
            (level, inherited) = conditions.drain(..).map(|(net, rank)| (net, Some(rank))).unzip();
        }
        cone
    }

    /// Notes what decides whether an edge conducts, unless that is decided.
    fn condition(
        &self,
        e: u32,
        inherited: Option<u32>,
        hops: u32,
        cone: &mut Cone,
        conditions: &mut Vec<(Net, u32)>,
        modules: &mut [bool],
    ) {
        if self.facts.edges[e as usize] != Tri::Maybe {
            return;
        }
        let edge = &self.frame.edges[e as usize];
        let near = |net: Net| self.frame.distance[net as usize];
        let own = near(edge.a).min(near(edge.b));
        let rank = inherited.map_or(own, |r| r.min(own));
        let open = self.facts.gates[e as usize] == Tri::Maybe;
        match edge.gate {
            Gate::In { control, .. } if open => {
                let slot = cone.undecided.entry(control).or_insert(((rank, own, hops), Vec::new()));
                slot.0 = slot.0.min((rank, own, hops));
                if !slot.1.contains(&e) {
                    slot.1.push(e);
                }
            }
            Gate::Energised { coil, .. } if open && !cone.coils.contains(&coil) => {
                cone.coils.push(coil);
                if let Some(coil) = self.frame.circuit.elements.get(coil.index()) {
                    conditions.push((self.frame.net(coil.from), rank));
                    conditions.push((self.frame.net(coil.to), rank));
                }
            }
            _ => {}
        }
        let Some(module) = edge.module.filter(|m| self.facts.alive[m.index()] == Tri::Maybe) else { return };
        if std::mem::replace(&mut modules[module.index()], true) {
            return;
        }
        let Some(module) = self.frame.circuit.modules.get(module.index()) else { return };
        for &(c, k) in module.feeds.iter().chain(&module.grounds) {
            if let Some(cavity) = module.connectors.get(c).and_then(|c| c.cavities.get(k)) {
                conditions.push((self.frame.net(cavity.inside), 0));
            }
        }
    }
}

impl Cone {
    /// No current can flow anywhere in it, whatever the undecided controls do.
    pub(crate) fn idle(&self, facts: &Facts) -> bool {
        !self.sources && facts.one_value(self.potentials)
    }
}
