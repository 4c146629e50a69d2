//! The circuit as the search for cases sees it: nets, and edges that may or may not conduct.
//!
//! Points over joints that nothing can open are merged once; every other element stays an edge with the condition on
//! which it conducts. What was done to the circuit ([`State::changes`]) is applied here.

use crate::State;
use keyon_circuit::{
    ids::*,
    model::{COMMON, Change, Circuit, ElementKind, Law, When},
};
use std::sync::Arc;

/// A net: index into the vectors of [`Frame`].
pub(crate) type Net = u32;

/// What an edge is to tracing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Class {
    /// Continuity: wires, contacts, stages, fuses, grounds, returns.
    Wiring,
    /// Anything with a voltage of its own across it; a transducer's output names the net that feeds it.
    Load { feed: Option<Net> },
    /// Conducts from `a` to `b` with this drop.
    Diode { drop: f64 },
    /// `b` stands this many volts over `a`.
    Source { volts: f64, supply: bool },
}

/// When an edge conducts, its module being alive.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Gate {
    Always,
    Never,
    In { control: ControlId, positions: u64 },
    Energised { coil: ElementId, open: bool },
}

/// An element, or something a change added.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Edge {
    /// `None` for a jumper, a short, a test load.
    pub(crate) element: Option<ElementId>,
    pub(crate) a: Net,
    pub(crate) b: Net,
    pub(crate) class: Class,
    pub(crate) gate: Gate,
    pub(crate) module: Option<ModuleId>,
}

/// Nets and edges of one circuit under one set of changes.
#[derive(Clone)]
pub(crate) struct Frame<'c> {
    pub(crate) circuit: &'c Circuit,
    body: Arc<Body>,
}

/// What a frame is made of: the same for every circuit in which the same flows.
#[derive(Debug)]
pub(crate) struct Body {
    /// Net of each point.
    pub(crate) net_of: Vec<Net>,
    /// Edges that touch each net, in source order.
    pub(crate) at: Vec<Vec<u32>>,
    pub(crate) edges: Vec<Edge>,
    /// Edge of each element; `None` where it was merged away or cannot conduct.
    pub(crate) edge_of: Vec<Option<u32>>,
    /// How far each net is from the nearest supply or reference: steps, a load counting as [`FAR`] of them.
    pub(crate) distance: Vec<u32>,
    /// The common ground and the ground points that are joined to it: fixed, so that nothing passes through.
    pub(crate) anchored: Vec<bool>,
    /// No potential in the circuit can be above this.
    pub(crate) highest: f64,
    /// Volts that diodes can take on one way; without a bound where supplies stand on one another.
    pub(crate) drops: f64,
    /// All diodes are reckoned in that, and not only the first few.
    pub(crate) few_diodes: bool,
}

/// Diodes that one way is reckoned to lead through at the most.
const DIODES: usize = 4;

/// The steps that a load counts for: more than any chain of wiring has.
pub(crate) const FAR: u32 = 1 << 20;

impl<'c> Frame<'c> {
    /// With `merge` points over lasting joints are one net; without it every element stays an edge, as questions about
    /// currents in joints need it.
    pub(crate) fn new(circuit: &'c Circuit, base: &State, merge: bool) -> Self {
        let mut open = vec![false; circuit.elements.len()];
        let mut stuck: Vec<Option<bool>> = vec![None; circuit.elements.len()];
        let mut laws: Vec<&Law> = circuit.elements.iter().map(|e| &e.law).collect();
        let mut added = Vec::new();
        for change in &base.changes {
            match change {
                Change::Open(e) => set(&mut open, e.index(), true),
                Change::Stuck(e, on) => set(&mut stuck, e.index(), Some(*on)),
                Change::Replace(e, law) => set(&mut laws, e.index(), law),
                Change::Add { from, to, law } => added.push((*from, *to, law)),
                Change::Drift(..) => {}
            }
        }

        // Conditions, and the joints that always hold.
        let mut gates = Vec::with_capacity(circuit.elements.len());
        let mut joints = Vec::new();
        let mut anchored = vec![false; circuit.points.len().max(1)];
        anchored[COMMON.index()] = true;
        for (i, element) in circuit.elements.iter().enumerate() {
            let (gate, module) = match (open[i], stuck[i]) {
                (true, _) | (_, Some(false)) => (Gate::Never, None),
                (_, Some(true)) => (Gate::Always, None),
                _ => (gate(element.when), element.alive),
            };
            if gate == Gate::Always && module.is_none() && matches!(laws[i], Law::Joint) {
                joints.push((element.from, element.to));
                if element.kind == ElementKind::Ground && (element.from == COMMON || element.to == COMMON) {
                    set(&mut anchored, element.from.index(), true);
                    set(&mut anchored, element.to.index(), true);
                }
            }
            gates.push((gate, module));
        }
        joints.extend(added.iter().filter(|(.., law)| matches!(law, Law::Joint)).map(|&(a, b, _)| (a, b)));
        let mut sets = Sets::new(anchored.len());
        let is_anchored = |p: PointId| anchored.get(p.index()).copied().unwrap_or(false);
        for &(a, b) in joints.iter().filter(|(a, b)| merge && is_anchored(*a) == is_anchored(*b)) {
            sets.join(a.0, b.0);
        }
        let (net_of, nets) = sets.number();
        let net = |p: PointId| net_of.get(p.index()).copied().unwrap_or(0);

        let mut frame = Body {
            at: vec![Vec::new(); nets],
            edges: Vec::new(),
            edge_of: vec![None; circuit.elements.len()],
            distance: vec![u32::MAX; nets],
            anchored: vec![false; nets],
            highest: highest(circuit, base),
            drops: drops(circuit),
            few_diodes: diode_drops(circuit).count() <= DIODES,
            net_of: Vec::new(),
        };
        for (point, _) in anchored.iter().enumerate().filter(|(_, a)| **a) {
            frame.anchored[net(point.into()) as usize] = true;
        }
        for (i, element) in circuit.elements.iter().enumerate() {
            let (gate, module) = gates[i];
            let (a, b) = (net(element.from), net(element.to));
            if gate == Gate::Never || (merge && a == b && matches!(laws[i], Law::Joint)) {
                continue;
            }
            let supply = |s: &keyon_circuit::model::Supply| s.element.index() == i;
            let volts = circuit.supplies.iter().position(supply).and_then(|s| base.supplies.get(s)).copied();
            let class = class(element.kind, laws[i], volts, &net);
            frame.edge_of[i] = Some(frame.push(Edge { element: Some(i.into()), a, b, class, gate, module }));
        }
        for (from, to, law) in added {
            let joint = matches!(law, Law::Joint);
            if joint && net(from) == net(to) {
                continue;
            }
            let class = if joint { Class::Wiring } else { Class::Load { feed: None } };
            frame.push(Edge {
                element: None,
                a: net(from),
                b: net(to),
                class,
                gate: Gate::Always,
                module: None,
            });
        }
        frame.net_of = net_of;
        frame.measure();
        Self { circuit, body: Arc::new(frame) }
    }

    /// The frame of a circuit in which the same flows as in that of which this body was made, under the same changes.
    pub(crate) fn of(circuit: &'c Circuit, body: Arc<Body>) -> Self {
        Self { circuit, body }
    }

    /// What it is made of.
    pub(crate) fn body(&self) -> &Arc<Body> {
        &self.body
    }
}

impl std::ops::Deref for Frame<'_> {
    type Target = Body;

    fn deref(&self) -> &Body {
        &self.body
    }
}

impl Body {
    fn push(&mut self, edge: Edge) -> u32 {
        let id = self.edges.len() as u32;
        for net in [Some(edge.a), (edge.a != edge.b).then_some(edge.b)].into_iter().flatten() {
            self.at[net as usize].push(id);
        }
        self.edges.push(edge);
        id
    }

    /// The net of a point.
    pub(crate) fn net(&self, point: PointId) -> Net {
        self.net_of.get(point.index()).copied().unwrap_or(0)
    }

    /// Fills `distance`: breadth first over wiring, then over one load more, and so on.
    fn measure(&mut self) {
        let mut level: Vec<Net> = self.edges.iter().filter(|e| e.class.is_source()).map(|e| e.b).collect();
        let mut base = 0;
        while !level.is_empty() {
            let mut behind_loads = Vec::new();
            let mut steps = base;
            while !level.is_empty() {
                let mut next = Vec::new();
                for &net in &level {
                    if self.distance[net as usize] != u32::MAX {
                        continue;
                    }
                    self.distance[net as usize] = steps;
                    if self.anchored[net as usize] {
                        continue;
                    }
                    for &e in &self.at[net as usize] {
                        let edge = &self.edges[e as usize];
                        let other = if edge.a == net { edge.b } else { edge.a };
                        match edge.class {
                            Class::Wiring | Class::Diode { .. } => next.push(other),
                            Class::Load { .. } => behind_loads.push(other),
                            Class::Source { .. } => {}
                        }
                    }
                }
                level = next;
                steps = steps.saturating_add(1);
            }
            level = behind_loads;
            level.retain(|&n| self.distance[n as usize] == u32::MAX);
            base = base.saturating_add(FAR).min(u32::MAX / 2);
        }
    }
}

impl Class {
    pub(crate) fn is_source(self) -> bool {
        matches!(self, Self::Source { .. })
    }
}

fn set<T>(slots: &mut [T], index: usize, value: T) {
    if let Some(slot) = slots.get_mut(index) {
        *slot = value;
    }
}

fn gate(when: When) -> Gate {
    match when {
        When::Always => Gate::Always,
        When::In { control, positions } => Gate::In { control, positions },
        When::Energised { coil, open } => Gate::Energised { coil, open },
        When::Never => Gate::Never,
    }
}

fn class(kind: ElementKind, law: &Law, volts: Option<f64>, net: &dyn Fn(PointId) -> Net) -> Class {
    match law {
        Law::Joint => Class::Wiring,
        Law::Source { volts: own, .. } => {
            Class::Source { volts: volts.unwrap_or(own.nominal), supply: kind == ElementKind::Supply }
        }
        Law::Diode { drop } => Class::Diode { drop: drop.nominal },
        Law::Transducer { feed, .. } => Class::Load { feed: Some(net(*feed)) },
        _ if kind.is_load() => Class::Load { feed: None },
        _ => Class::Wiring,
    }
}

fn diode_drops(circuit: &Circuit) -> impl Iterator<Item = f64> + '_ {
    circuit.elements.iter().filter_map(|e| match &e.law {
        Law::Diode { drop } => Some(drop.nominal),
        _ => None,
    })
}

/// The drops of the few diodes that take most.
fn drops(circuit: &Circuit) -> f64 {
    if circuit.supplies.iter().any(|s| s.negative != COMMON) {
        return f64::INFINITY;
    }
    let mut drops: Vec<f64> = diode_drops(circuit).collect();
    drops.sort_by(|a, b| b.total_cmp(a));
    drops.iter().take(DIODES).sum()
}

/// The sum of all sources where supplies stand on one another, else the highest of them.
fn highest(circuit: &Circuit, base: &State) -> f64 {
    let supplies = base.supplies.iter().map(|v| v.abs());
    let stacked = circuit.supplies.iter().any(|s| s.negative != COMMON);
    let inside = circuit.elements.iter().filter_map(|e| match (&e.law, e.kind) {
        (Law::Source { volts, .. }, ElementKind::Reference | ElementKind::Rail) => Some(volts.nominal.abs()),
        _ => None,
    });
    if stacked { supplies.chain(inside).sum() } else { supplies.chain(inside).fold(0.0, f64::max) }
}

/// Disjoint sets, numbered in the end by their lowest member.
pub(crate) struct Sets(Vec<u32>);

impl Sets {
    pub(crate) fn new(len: usize) -> Self {
        Self((0..len as u32).collect())
    }
    pub(crate) fn root(&mut self, mut x: u32) -> u32 {
        while self.0[x as usize] != x {
            let up = self.0[self.0[x as usize] as usize];
            self.0[x as usize] = up;
            x = up;
        }
        x
    }
    pub(crate) fn join(&mut self, a: u32, b: u32) {
        let (a, b) = (self.root(a), self.root(b));
        self.0[a.max(b) as usize] = a.min(b);
    }
    /// Set number of each member, and how many sets there are.
    fn number(mut self) -> (Vec<u32>, usize) {
        let mut next = 0;
        let mut of_root = vec![u32::MAX; self.0.len()];
        let numbers = (0..self.0.len() as u32)
            .map(|x| {
                let root = self.root(x) as usize;
                if of_root[root] == u32::MAX {
                    of_root[root] = next;
                    next += 1;
                }
                of_root[root]
            })
            .collect();
        (numbers, next as usize)
    }
}
