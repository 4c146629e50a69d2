//! What is certain, possible or impossible while some controls are still undecided.
//!
//! The question behind it: which potentials does a net reach without a load between, surely and possibly? A net for
//! which the two answers are the same and not empty is a *barrier*: what lies beyond it has no influence on this side
//! (decision 29: fed, grounded and referenced nets separate). All sets grow to a least fixed point, as a circuit does
//! that is switched on from rest.

use super::{
    arrivals::{Arrival, Arrivals, Hold},
    frame::{Class, Edge, Frame, Gate, Net},
};
use keyon_circuit::{ids::*, model::Circuit};
use std::collections::{BTreeMap, VecDeque};

/// No, perhaps, yes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Tri {
    No,
    Maybe,
    Yes,
}

impl Tri {
    fn known(yes: bool) -> Self {
        if yes { Self::Yes } else { Self::No }
    }
}

/// Where each control may still stand: a bit a position.
pub(crate) type Masks = Vec<u64>;

/// Contacts of relays whose coil is decided: whether each conducts.
pub(crate) type Decided = BTreeMap<ElementId, bool>;

/// What a potential hangs on. A diode's far side is a potential of its own.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Origin {
    Ground,
    Supply,
    Reference,
}

/// The set of potentials: bits into a table that grows; the last bit stands for all that found no room.
pub(super) type Potentials = u64;

const CROWDED: u32 = 63;

/// See the module's page.
#[derive(Debug)]
pub(crate) struct Facts {
    /// Potentials that a net may reach without a load.
    pub(crate) may: Vec<Potentials>,
    /// Those it surely reaches.
    pub(crate) must: Vec<Potentials>,
    /// Whether each edge conducts.
    pub(crate) edges: Vec<Tri>,
    /// The same without regard to its module.
    pub(crate) gates: Vec<Tri>,
    /// Whether each module is alive.
    pub(crate) alive: Vec<Tri>,
    pub(super) table: Vec<(Origin, f64)>,
    /// How many of them the sources themselves have; the others come about behind diodes.
    own: usize,
    /// What has to hold for an open edge to conduct; empty once they are found.
    holds: Vec<Option<Hold>>,
}

impl Facts {
    pub(crate) fn new(frame: &Frame<'_>, masks: &[u64], decided: &Decided) -> Self {
        let nets = frame.at.len();
        let mut facts = Self {
            may: vec![0; nets],
            must: vec![0; nets],
            edges: vec![Tri::No; frame.edges.len()],
            gates: frame.edges.iter().map(|e| gate(e.gate, e.element, masks, decided)).collect(),
            alive: vec![Tri::No; frame.circuit.modules.len()],
            table: Vec::new(),
            own: 0,
            holds: Vec::new(),
        };
        let holds = frame.edges.iter().zip(&facts.gates).map(|(e, &g)| hold(e.gate, g, masks));
        facts.holds = holds.collect();
        // Potentials that every circuit has come first, so that those behind diodes cannot crowd them out.
        facts.intern(Origin::Ground, 0.0);
        for edge in &frame.edges {
            if let Class::Source { volts, supply } = edge.class {
                facts.intern(if supply { Origin::Supply } else { Origin::Reference }, volts);
            }
        }
        facts.own = facts.table.len();
        // Modules come alive, so more conducts, so more modules may come alive.
        let mut arrivals = Arrivals::default();
        let mut must_live = facts.settle(frame, Tri::Yes, &mut arrivals);
        let mut may_live = facts.settle(frame, Tri::Maybe, &mut arrivals);
        // What a diode or a reference surely brings hangs on what its near end may still meet: known only now.
        let hangs = |e: &Edge| match e.class {
            Class::Diode { .. } => true,
            Class::Source { .. } => !frame.anchored[e.a as usize],
            _ => false,
        };
        if frame.edges.iter().any(hangs) {
            must_live = facts.settle(frame, Tri::Yes, &mut arrivals);
            may_live = facts.settle(frame, Tri::Maybe, &mut arrivals);
        }
        facts.alive = may_live
            .iter()
            .zip(&must_live)
            .map(|(&may, &must)| if may && !must { Tri::Maybe } else { Tri::known(must) })
            .collect();
        for (i, edge) in frame.edges.iter().enumerate() {
            let module = edge.module.map_or(Tri::Yes, |m| facts.alive[m.index()]);
            facts.edges[i] = facts.gates[i].min(module);
        }
        // Facts are kept, and this is asked for only while they are found.
        facts.holds = Vec::new();
        facts
    }

    /// Fills `must` (`least` is yes) or `may`, and says which modules are alive with it.
    fn settle(&mut self, frame: &Frame<'_>, least: Tri, arrivals: &mut Arrivals) -> Vec<bool> {
        let mut live = vec![false; frame.circuit.modules.len()];
        loop {
            let conducts: Vec<bool> = frame
                .edges
                .iter()
                .zip(&self.gates)
                .map(|(e, &g)| g >= least && e.module.is_none_or(|m| live[m.index()]))
                .collect();
            let reach = self.spread(frame, &conducts, least == Tri::Yes, arrivals);
            let next = self.living(frame, &reach);
            if least == Tri::Yes {
                self.must = reach
            } else {
                self.may = reach
            }
            if next == live {
                return live;
            }
            live = next;
        }
    }

    /// Whether nothing beyond this net matters on this side of it.
    pub(crate) fn barrier(&self, net: Net) -> bool {
        let (may, must) = (self.may[net as usize], self.must[net as usize]);
        must != 0 && must == may && !Self::is_crowded(must)
    }

    /// Whether nothing but ground ever reaches this net without a load.
    pub(crate) fn only_ground(&self, net: Net) -> bool {
        self.only(net, true)
    }

    /// Whether something, and never ground, reaches this net without a load.
    pub(crate) fn only_sources(&self, net: Net) -> bool {
        self.only(net, false)
    }

    fn only(&self, net: Net, ground: bool) -> bool {
        let set = self.may[net as usize];
        set != 0 && set >> CROWDED == 0 && self.members(set).all(|(o, _)| (o == Origin::Ground) == ground)
    }

    /// Whether the potentials are of one value: then nothing flows among them.
    pub(crate) fn one_value(&self, set: Potentials) -> bool {
        let mut values = self.members(set).map(|(_, v)| v);
        let first = values.next();
        set >> CROWDED == 0 && values.all(|v| Some(v) == first)
    }

    /// Whether the set has more in it than is told apart.
    pub(super) fn is_crowded(set: Potentials) -> bool {
        set >> CROWDED != 0
    }

    pub(super) fn members(&self, set: Potentials) -> impl Iterator<Item = (Origin, f64)> + '_ {
        bits(set).filter_map(|i| self.table.get(i).copied())
    }

    pub(super) fn intern(&mut self, origin: Origin, volts: f64) -> Potentials {
        let found = self.table.iter().position(|&(o, v)| o == origin && (v - volts).abs() < 1e-9);
        let index = found.unwrap_or_else(|| {
            if (self.table.len() as u32) < CROWDED {
                self.table.push((origin, volts));
                self.table.len() - 1
            } else {
                CROWDED as usize
            }
        });
        1 << index
    }

    /// Which modules have a feed that reaches a source and a ground that reaches ground; what is not described is
    /// there.
    fn living(&self, frame: &Frame<'_>, reach: &[Potentials]) -> Vec<bool> {
        let has = |p: PointId, ground: bool| {
            self.members(reach[frame.net(p) as usize]).any(|(origin, _)| (origin == Origin::Ground) == ground)
        };
        frame
            .circuit
            .modules
            .iter()
            .map(|m| {
                let inside = |&(c, k): &(usize, usize)| Some(m.connectors.get(c)?.cavities.get(k)?.inside);
                let any = |list: &[(usize, usize)], ground| {
                    list.is_empty() || list.iter().filter_map(inside).any(|p| has(p, ground))
                };
                any(&m.feeds, false) && any(&m.grounds, true)
            })
            .collect()
    }

    /// The potentials that each net reaches over these edges. What is wanted *surely* takes only those diodes that
    /// no potential of the circuit can block.
    fn spread(
        &mut self,
        frame: &Frame<'_>,
        conducts: &[bool],
        sure: bool,
        arrivals: &mut Arrivals,
    ) -> Vec<Potentials> {
        arrivals.clear(frame.at.len());
        let ground = self.intern(Origin::Ground, 0.0);
        // First come, first served, and each arrival waits once: what grows while it waits is taken along.
        let mut queue: VecDeque<(Net, usize)> = VecDeque::new();
        let mut waits: Vec<bool> = Vec::new();
        for (net, _) in frame.anchored.iter().enumerate().filter(|(_, a)| **a) {
            queue.push_back((net as Net, arrivals.push(net, None, ground)));
        }
        while let Some((net, slot)) = queue.pop_back() {
            if let Some(waits) = waits.get_mut(slot) {
                *waits = false;
            }
            let Some(edges) = frame.at.get(net as usize) else { continue };
            for &e in edges {
                if !conducts[e as usize] {
                    continue;
                }
                let edge = &frame.edges[e as usize];
                let forward = edge.a == net;
                let other = if forward { edge.b } else { edge.a } as usize;
                if frame.anchored[other] {
                    continue;
                }
                let Arrival { hold: before, set, .. } = arrivals.all[slot];
                let hold = match self.holds[e as usize] {
                    None => before,
                    Some(hold) => match hold.and(before) {
                        Some(both) => Some(both),
                        None => continue,
                    },
                };
                let given = match edge.class {
                    Class::Wiring => set,
                    Class::Load { .. } => 0,
                    // Where the near end may be shorted it brings nothing for sure, nor where it always is: what stands in a
                    // clash goes by the lowest potential there.
                    Class::Diode { .. } | Class::Source { .. }
                        if sure
                            && !frame.anchored[net as usize]
                            && (self.may[net as usize] != set || !self.one_value(set)) =>
                    {
                        0
                    }
                    Class::Source { volts, supply } => {
                        self.over_source(set, volts, supply, forward, frame.highest)
                    }
                    Class::Diode { drop } if sure => self.through_surely(set, drop, forward, e, frame),
                    Class::Diode { drop } => self.through(set, drop, forward, self.must[other], frame),
                };
                if let Some(slot) = arrivals.arrive(other, hold, given) {
                    waits.resize(waits.len().max(slot + 1), false);
                    if !std::mem::replace(&mut waits[slot], true) {
                        queue.push_back((other as Net, slot));
                    }
                }
            }
        }
        (0..frame.at.len()).map(|net| arrivals.at(net).fold(0, |set, (_, a)| set | a.set)).collect()
    }

    fn over_source(
        &mut self,
        set: Potentials,
        volts: f64,
        supply: bool,
        forward: bool,
        highest: f64,
    ) -> Potentials {
        let origin = if supply { Origin::Supply } else { Origin::Reference };
        let step = if forward { volts } else { -volts };
        let mut given = set & 1 << CROWDED;
        for i in bits(set) {
            let Some(&(o, v)) = self.table.get(i) else { continue };
            // Against its direction only a supply carries, and only from ground (a positive earth).
            if (forward || (supply && o == Origin::Ground)) && (v + step).abs() <= highest + 1e-9 {
                given |= self.intern(origin, v + step);
            }
        }
        given
    }

    /// A diode that may conduct. It changes nothing where the far end surely has a potential beyond what it would bring.
    fn through(
        &mut self,
        set: Potentials,
        drop: f64,
        forward: bool,
        far: Potentials,
        frame: &Frame<'_>,
    ) -> Potentials {
        let highest = frame.highest;
        // An equal potential is no block: it may be the very one that came through this diode.
        let blocked =
            |v: f64| self.members(far).any(|(_, f)| if forward { f > v + 1e-9 } else { f < v - 1e-9 });
        let given: Vec<_> = self
            .members(set)
            .filter_map(|(o, v)| match (forward, o == Origin::Ground) {
                // A source drives through it …
                (true, false) => Some((o, v - drop)),
                // … a ground draws through it, and so does a source where something may stand above it.
                (false, true) => Some((o, v + drop)),
                (false, false) => (v < highest - 1e-9).then_some((o, v + drop)),
                (true, true) => None,
            })
            .filter(|&(_, v)| !blocked(v) && v.abs() <= highest + 10.0)
            .collect();
        let mut all = set & 1 << CROWDED;
        for (origin, volts) in given {
            match self.is_near_a_source(volts, frame.drops) {
                true => all |= self.intern(origin, volts),
                // No way leads through a diode twice; of very many diodes that is not counted out.
                false if frame.few_diodes => {}
                false => all |= 1 << CROWDED,
            }
        }
        all
    }

    /// Whether a potential may come from a source over diodes that take so many volts together.
    fn is_near_a_source(&self, volts: f64, drops: f64) -> bool {
        self.table.iter().take(self.own).any(|&(_, v)| (v - volts).abs() <= drops + 1e-9)
    }
}

/// The places of the bits that are set, the last one (which stands for several) left out.
pub(super) fn bits(set: Potentials) -> impl Iterator<Item = usize> {
    let mut left = set & !(1 << CROWDED);
    std::iter::from_fn(move || {
        let next = (left != 0).then(|| left.trailing_zeros() as usize)?;
        left &= left - 1;
        Some(next)
    })
}

/// What an edge asks for, if that is open.
fn hold(gate: Gate, known: Tri, masks: &[u64]) -> Option<Hold> {
    match gate {
        _ if known != Tri::Maybe => None,
        Gate::In { control, positions } => {
            let open = masks.get(control.index()).copied().unwrap_or(u64::MAX);
            Some(Hold::At { control, positions: positions & open })
        }
        Gate::Energised { coil, open } => Some(Hold::Coil { coil, open }),
        Gate::Always | Gate::Never => None,
    }
}

fn gate(gate: Gate, element: Option<ElementId>, masks: &[u64], decided: &Decided) -> Tri {
    match gate {
        Gate::Always => Tri::Yes,
        Gate::Never => Tri::No,
        Gate::In { control, positions } => match masks.get(control.index()) {
            Some(&mask) if mask & positions == 0 => Tri::No,
            Some(&mask) if mask & !positions == 0 => Tri::Yes,
            Some(_) => Tri::Maybe,
            None => Tri::No,
        },
        Gate::Energised { .. } => {
            element.and_then(|e| decided.get(&e)).map_or(Tri::Maybe, |&on| Tri::known(on))
        }
    }
}

/// All positions of each control.
pub(crate) fn all_positions(circuit: &Circuit) -> Masks {
    circuit
        .controls
        .iter()
        .map(|c| if c.positions.len() >= 64 { u64::MAX } else { (1 << c.positions.len()) - 1 })
        .collect()
}
