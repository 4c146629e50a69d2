//! The decision tree: decide controls one by one until the answer hangs on none that is open.

use super::{
    below::below,
    cone::{Cone, Undecided, Walker},
    facts::{Decided, Facts, Masks, Tri, all_positions},
    frame::{Class, Frame, Gate, Net},
    kept::{Kept, Side, lock},
    merge::Leaf,
    query::Query,
    settled::settled,
};
use crate::{Cancel, Cancelled, Solution, State, solve};
use keyon_circuit::{
    ids::*,
    model::{Circuit, Law},
};
use std::{
    collections::BTreeMap,
    sync::{Arc, OnceLock},
};

/// Searches one circuit under one base state, and remembers what it has solved.
pub struct Survey<'c> {
    pub(crate) circuit: &'c Circuit,
    pub(crate) base: State,
    pub(crate) frame: Frame<'c>,
    /// Contacts that each coil moves.
    contacts: BTreeMap<ElementId, Vec<(ElementId, bool)>>,
    /// What is known of the circuit in this base state.
    kept: Arc<Kept>,
    merge: bool,
    unmerged: OnceLock<Box<Survey<'c>>>,
}

/// Where controls may stand, and which contacts of relays are decided.
pub(crate) type FactsKey = (Masks, Vec<(ElementId, bool)>);

/// How many sets of facts are kept, the upper parts of all trees over a circuit being the same; and how many edges they have
/// together at the most, for each of them is as large as the circuit.
const FACTS_KEPT: usize = 256;
const EDGES_KEPT: usize = 400_000;

/// A place in the tree.
#[derive(Clone)]
pub(crate) struct Place {
    pub(crate) masks: Masks,
    pub(crate) decided: Decided,
}

/// What the tree came to.
pub(crate) struct Found {
    pub(crate) leaves: Vec<Leaf>,
    /// Product sets of states that were left out, beyond the limit.
    pub(crate) left: Vec<Masks>,
    /// Controls that were decided anywhere, or would have to be.
    pub(crate) controls: Vec<ControlId>,
}

impl<'c> Survey<'c> {
    /// Prepares the search. Controls stand where `base` has them wherever they do not matter.
    pub fn new(circuit: &'c Circuit, base: &State) -> Self {
        Self::on(circuit, base, Arc::default())
    }

    /// The same with what is known already of this circuit in this base state.
    pub(crate) fn on(circuit: &'c Circuit, base: &State, kept: Arc<Kept>) -> Self {
        Self::with(circuit, base, true, kept)
    }

    /// The same over a graph in which every joint is an edge of its own, for questions about currents.
    pub(crate) fn unmerged(&self) -> &Self {
        self.unmerged
            .get_or_init(|| Box::new(Self::with(self.circuit, &self.base, false, Arc::clone(&self.kept))))
    }

    /// What is known of the circuit as this survey looks at it.
    pub(crate) fn side(&self) -> &Side {
        let [merged, unmerged] = &self.kept.sides;
        if self.merge { merged } else { unmerged }
    }

    fn with(circuit: &'c Circuit, base: &State, merge: bool, kept: Arc<Kept>) -> Self {
        let side = usize::from(!merge);
        let body = kept.sides[side].frame.get_or_init(|| Arc::clone(Frame::new(circuit, base, merge).body()));
        let frame = Frame::of(circuit, Arc::clone(body));
        let mut contacts: BTreeMap<ElementId, Vec<(ElementId, bool)>> = BTreeMap::new();
        for edge in &frame.edges {
            if let (Gate::Energised { coil, open }, Some(element)) = (edge.gate, edge.element) {
                contacts.entry(coil).or_default().push((element, open));
            }
        }
        Self { circuit, base: base.clone(), frame, contacts, kept, merge, unmerged: OnceLock::new() }
    }

    /// Solves the base state with these positions; each set of positions once.
    pub fn solve(&self, positions: &[u8]) -> Arc<Solution> {
        if let Some(solution) = lock(&self.kept.solved).get(positions) {
            return solution;
        }
        let mut state = self.base.clone();
        state.positions = positions.to_vec();
        let solution = Arc::new(solve(self.circuit, &state));
        lock(&self.kept.solved).keep(positions.to_vec(), solution)
    }

    pub(crate) fn facts(&self, place: &Place) -> Arc<Facts> {
        let decided = place.decided.iter().map(|(&e, &on)| (e, on)).collect();
        let key = (place.masks.clone(), decided);
        let mut map = lock(&self.side().facts);
        if let Some(facts) = map.get(&key) {
            return facts;
        }
        let most = (EDGES_KEPT / self.frame.edges.len().max(1)).clamp(8, FACTS_KEPT);
        map.shrink(most - 1);
        map.keep(key, Arc::new(Facts::new(&self.frame, &place.masks, &place.decided)))
    }

    /// Everything open, but for the controls that `only` leaves out (none where it is empty).
    pub(crate) fn open(&self, only: &[ControlId]) -> Masks {
        let mut masks = all_positions(self.circuit);
        for (i, mask) in masks.iter_mut().enumerate() {
            if !only.is_empty() && !only.contains(&i.into()) {
                *mask = 1 << self.position(i);
            }
        }
        masks
    }

    fn position(&self, control: usize) -> u8 {
        self.base.positions.get(control).copied().unwrap_or(0).min(63)
    }

    /// The state of a set that is nearest the base.
    pub(crate) fn positions(&self, masks: &[u64]) -> Vec<u8> {
        let one = |(i, mask): (usize, &u64)| {
            let base = self.position(i);
            if mask >> base & 1 == 1 { base } else { mask.trailing_zeros().min(63) as u8 }
        };
        masks.iter().enumerate().map(one).collect()
    }

    /// How many controls of these positions are not where the base has them.
    pub(crate) fn departs(&self, positions: &[u8]) -> usize {
        positions.iter().enumerate().filter(|&(i, &p)| p != self.position(i)).count()
    }

    /// Walks the tree from these masks, depth first, to at most `limit` leaves.
    pub(crate) fn explore(
        &self,
        query: &Query,
        masks: Masks,
        limit: usize,
        cancel: &dyn Cancel,
    ) -> Result<Found, Cancelled> {
        let mut found = Found { leaves: Vec::new(), left: Vec::new(), controls: Vec::new() };
        let mut stack = vec![Place { masks, decided: Decided::new() }];
        while let Some(mut place) = stack.pop() {
            if cancel.cancelled() {
                return Err(Cancelled);
            }
            cancel.progress(found.leaves.len() as u64, limit as u64);
            let undecided = self.undecided(query, &mut place);
            found.controls.extend(undecided.keys());
            match first(&undecided) {
                _ if found.leaves.len() >= limit => found.left.push(place.masks),
                None => found.leaves.push(self.leaf(query, place.masks)),
                Some((control, edges)) => {
                    let parts = self.split(&place.masks, control, edges);
                    for part in parts.into_iter().rev() {
                        let mut child = place.clone();
                        child.masks[control.index()] = part;
                        stack.push(child);
                    }
                }
            }
        }
        found.controls.sort_unstable();
        found.controls.dedup();
        Ok(found)
    }

    fn leaf(&self, query: &Query, masks: Masks) -> Leaf {
        let positions = self.positions(&masks);
        let solution = self.solve(&positions);
        let key = query.key(self.circuit, &solution);
        Leaf { masks, departs: self.departs(&positions), solution, key }
    }

    /// The open positions of a control in groups that these edges do not tell apart, in order.
    pub(crate) fn split(&self, masks: &[u64], control: ControlId, edges: &[u32]) -> Vec<u64> {
        let mut groups: Vec<(Vec<bool>, u64)> = Vec::new();
        let mask = masks[control.index()];
        for position in (0..64).filter(|p| mask >> p & 1 == 1) {
            let conducts = |&e: &u32| match self.frame.edges[e as usize].gate {
                Gate::In { positions, .. } => positions >> position & 1 == 1,
                _ => true,
            };
            let signature: Vec<bool> = edges.iter().map(conducts).collect();
            match groups.iter_mut().find(|(s, _)| *s == signature) {
                Some((_, group)) => *group |= 1 << position,
                None => groups.push((signature, 1 << position)),
            }
        }
        groups.into_iter().map(|(_, group)| group).collect()
    }

    /// The controls on which hangs what these points are, with `volts` also how many volts they have, as far as one look at
    /// the circuit tells. There may be as many states as these have together, or more.
    pub fn controls_of(&self, points: &[PointId], volts: bool) -> Vec<ControlId> {
        let query = Query { points: points.to_vec(), volts, ..Query::default() };
        let mut place = Place { masks: self.open(&[]), decided: Decided::new() };
        self.undecided(&query, &mut place).into_keys().collect()
    }

    /// The open controls on which the answer hangs here. Relays that can be decided are decided on the way.
    pub(crate) fn undecided(&self, query: &Query, place: &mut Place) -> Undecided {
        // Coils that cannot settle: their contacts stay in doubt.
        let mut hopeless: Vec<ElementId> = Vec::new();
        loop {
            let facts = self.facts(place);
            let mut walker = Walker::new(&self.frame, &facts);
            let (mut undecided, mut coils) = (Undecided::new(), Vec::new());
            self.ask(query, &facts, &mut walker, &mut |cone| {
                gather(&mut undecided, cone.undecided);
                coils.extend(cone.coils);
            });
            coils.sort_unstable();
            coils.dedup();
            coils.retain(|c| !hopeless.contains(c));
            let mut news = false;
            for coil in coils {
                match self.relay(coil, &facts, &mut walker, place) {
                    Relay::Open => continue,
                    Relay::Races(controls) => gather(&mut undecided, controls),
                    Relay::Unsettled => hopeless.push(coil),
                    Relay::Contacts(contacts) => {
                        place.decided.extend(contacts);
                        news = true;
                    }
                }
            }
            if !news {
                for controls in self.coils(query).filter_map(|coil| self.race(coil, place)) {
                    gather(&mut undecided, controls);
                }
                for (_, edges) in undecided.values_mut() {
                    edges.sort_unstable();
                    edges.dedup();
                }
                return undecided;
            }
        }
    }

    /// Whether a coil's state is decided, and with it its contacts'.
    fn relay(&self, coil: ElementId, facts: &Facts, walker: &mut Walker<'_, '_>, place: &Place) -> Relay {
        let Some(contacts) = self.contacts.get(&coil) else { return Relay::Unsettled };
        let at_rest = || Relay::Contacts(contacts.clone());
        let Some(edge) = self.frame.edge_of.get(coil.index()).copied().flatten() else { return at_rest() };
        let e = self.frame.edges[edge as usize];
        let cone = walker.cone(&[e.a, e.b], &[edge], &[]);
        let idle = facts.edges[edge as usize] == Tri::No || cone.idle(facts);
        if !idle && !cone.undecided.is_empty() {
            return Relay::Open;
        }
        match self.race(coil, place) {
            None if idle => return at_rest(),
            Some(controls) if !controls.is_empty() => return Relay::Races(controls),
            _ => {}
        }
        let solution = self.solve(&self.positions(&place.masks));
        if solution.chatters.contains(&coil) {
            return Relay::Unsettled;
        }
        let conducts = |e: ElementId| solution.conducts.get(e.index()).copied().unwrap_or(false);
        Relay::Contacts(contacts.iter().map(|&(e, _)| (e, conducts(e))).collect())
    }

    /// The open controls on which a coil hangs before other relays have pulled in, where these change its current: it may
    /// pull in while they still rest, and stay with less, or hold itself.
    fn race(&self, coil: ElementId, place: &Place) -> Option<Undecided> {
        let edge = self.frame.edge_of.get(coil.index()).copied().flatten()?;
        let moved = |coil: &ElementId| {
            let contacts = self.contacts.get(coil).into_iter().flatten();
            contacts.into_iter().any(|(e, open)| place.decided.get(e).is_some_and(|on| on != open))
        };
        if !self.contacts.keys().any(moved) {
            return None;
        }
        let facts = self.facts(&Place { masks: place.masks.clone(), decided: Decided::new() });
        let e = self.frame.edges[edge as usize];
        let cone = Walker::new(&self.frame, &facts).cone(&[e.a, e.b], &[edge], &[]);
        let races = facts.edges[edge as usize] != Tri::No
            && !cone.idle(&facts)
            && cone.coils.iter().any(|other| *other == coil || moved(other));
        races.then_some(cone.undecided)
    }

    /// The coils that are asked.
    fn coils<'a>(&'a self, query: &'a Query) -> impl Iterator<Item = ElementId> + 'a {
        let devices = query.devices.iter().filter_map(|d| self.circuit.devices.get(d.index()));
        let asked = devices.flat_map(|d| &d.elements).chain(&query.elements).copied();
        let is_coil = |e: &ElementId| {
            self.circuit.elements.get(e.index()).is_some_and(|e| matches!(e.law, Law::Coil { .. }))
        };
        asked.filter(is_coil)
    }

    /// Gives the cone of each thing that is asked and not yet certain.
    fn ask(&self, query: &Query, facts: &Facts, walker: &mut Walker<'_, '_>, take: &mut dyn FnMut(Cone)) {
        let frame = &self.frame;
        let loads = query
            .devices
            .iter()
            .filter_map(|d| self.circuit.devices.get(d.index()))
            .flat_map(|d| &d.elements);
        let edge = |e: &ElementId| {
            let edge = frame.edge_of.get(e.index()).copied().flatten()?;
            (facts.edges[edge as usize] != Tri::No).then_some(edge)
        };
        for e in
            loads.filter_map(edge).filter(|&e| matches!(frame.edges[e as usize].class, Class::Load { .. }))
        {
            self.current(e, facts, walker, &[], take);
        }
        for e in query.elements.iter().filter_map(edge) {
            match frame.edges[e as usize].class {
                Class::Load { .. } | Class::Diode { .. } => self.current(e, facts, walker, &[], take),
                Class::Wiring | Class::Source { .. } => take(walker.cone(&[], &[e], &[])),
            }
        }
        for e in query.currents.iter().chain(&query.fuses).filter_map(edge) {
            match frame.edges[e as usize].class {
                Class::Load { .. } => self.current(e, facts, walker, &[], take),
                _ => self.current(e, facts, walker, &below(frame, facts, e), take),
            }
        }
        for net in query.points.iter().map(|&p| frame.net(p)) {
            let known = settled(frame, facts, net);
            if known && (!query.volts || facts.barrier(net)) {
                continue;
            }
            let cone = walker.cone(&[net], &[], &[]);
            if !(known && cone.idle(facts)) {
                take(cone);
            }
        }
    }

    /// The cone of a current, unless none can flow.
    fn current(
        &self,
        e: u32,
        facts: &Facts,
        walker: &mut Walker<'_, '_>,
        inside: &[bool],
        take: &mut dyn FnMut(Cone),
    ) {
        let edge = &self.frame.edges[e as usize];
        let mut nets: Vec<Net> = vec![edge.a, edge.b];
        if let Class::Load { feed: Some(feed) } = edge.class {
            nets.push(feed);
        }
        nets.extend(inside.iter().enumerate().filter(|(_, i)| **i).map(|(n, _)| n as Net));
        let cone = walker.cone(&nets, &[e], inside);
        if !cone.idle(facts) {
            take(cone);
        }
    }
}

/// What is known of a relay.
enum Relay {
    /// It hangs on open controls.
    Open,
    /// It may pull in before others do, by how these controls stand.
    Races(Undecided),
    /// It chatters, or is no relay.
    Unsettled,
    Contacts(Vec<(ElementId, bool)>),
}

/// Adds controls to others.
fn gather(all: &mut Undecided, more: Undecided) {
    for (control, (rank, edges)) in more {
        let slot = all.entry(control).or_insert((rank, Vec::new()));
        slot.0 = slot.0.min(rank);
        slot.1.extend(edges);
    }
}

/// The control to decide first.
pub(crate) fn first(undecided: &Undecided) -> Option<(ControlId, &[u32])> {
    let (control, (_, edges)) = undecided.iter().min_by_key(|(control, (rank, _))| (*rank, **control))?;
    Some((*control, edges))
}
