//! Which diodes surely conduct and which surely block, by potentials alone.
//!
//! What nothing holds lies between the lowest and the highest potential that reaches it in any way, over diodes that are
//! not decided yet too. So a diode blocks where its near end cannot stand above its far end by its drop; and of the
//! diodes that end at one node at least one conducts where, all of them taken out, a near end would surely stand above
//! it by more. A diode that is neither is left to the solver of single states.

use super::{
    bounds::Bounds,
    closure::Closure,
    cone::{Around, Local},
    dag::{Bit, Dag, NO},
    graph::{Edge, Graph, Logic},
    reach::{Potential, Reach, same},
    states::States,
};
use crate::plan::{Act, Plan};
use std::collections::BTreeSet;

/// Volts by which a decision must be clear.
const CLEAR: f64 = 1e-6;

/// A diode of the graph.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Decided {
    /// As `Plan::diodes`.
    pub(crate) diode: u32,
    /// It surely conducts.
    pub(crate) on: Bit,
    /// It is closed, and nothing is sure of it.
    pub(crate) doubt: Bit,
}

/// A potential at an end: when it is there, and how far off it may be.
struct There {
    /// `None` for what floats or is not known.
    potential: Option<Potential>,
    volts: f64,
    off: f64,
    /// It is held there; else it reaches it through loads or diodes.
    held: bool,
    when: Bit,
}

/// What was worked out before.
#[derive(Clone, Copy)]
pub(crate) struct Found<'a> {
    pub(crate) graph: &'a Graph,
    pub(crate) reach: &'a Reach,
    pub(crate) around: &'a Around,
    pub(crate) states: &'a States,
    pub(crate) bounds: &'a Bounds,
}

/// All diodes of a circuit. `None` where it is too meshed.
pub(crate) fn diodes(plan: &Plan<'_>, found: Found<'_>, logic: &mut Logic) -> Option<Vec<Decided>> {
    let dag = &mut logic.dag;
    let graph = found.graph;
    let around = Reached::new(found, dag, None)?;
    let mut blocks = Vec::new();
    for edge in &graph.diodes {
        blocks.push(around.blocks(plan, edge, dag));
    }
    let mut ends: Vec<u32> = graph.diodes.iter().map(|e| e.b).collect();
    ends.sort_unstable();
    ends.dedup();
    let mut decided = Vec::new();
    for end in ends {
        let group: Vec<usize> = (0..graph.diodes.len()).filter(|&i| graph.diodes[i].b == end).collect();
        let open = group.iter().map(|&i| dag.without(graph.diodes[i].when, blocks[i])).collect::<Vec<_>>();
        // Where all of them block whatever happens there is nothing more to find out.
        let pushes = if open.iter().all(|&bit| bit == NO) {
            vec![Vec::new(); group.len()]
        } else {
            let without = Reached::new(found, dag, Some(end))?;
            group.iter().map(|&i| without.pushes(plan, &graph.diodes[i], dag)).collect()
        };
        for (at, &i) in group.iter().enumerate() {
            let (mut on, mut higher) = (NO, NO);
            for (_, list) in pushes.iter().enumerate().filter(|(other, _)| *other != at) {
                for (volts, when) in list {
                    let mine = pushes[at].iter().filter(|(v, _)| *v + CLEAR < *volts).map(|(_, w)| *w);
                    let mine = dag.any(mine.collect::<Vec<_>>());
                    let both = dag.and(mine, *when);
                    higher = dag.or(higher, both);
                }
            }
            for &(_, when) in &pushes[at] {
                on = dag.or(on, when);
            }
            let on = dag.without(on, higher);
            let on = dag.and(on, open[at]);
            // Between two potentials that wiring holds it is part of a clash.
            let on = dag.without(on, around.direct[end as usize]);
            let doubt = dag.without(open[at], on);
            if let Ok(diode) = plan.diodes.binary_search(&graph.diodes[i].part) {
                decided.push(Decided { diode: diode as u32, on, doubt });
            }
        }
    }
    decided.sort_by_key(|d| d.diode);
    Some(decided)
}

/// What reaches each node, over any diode too.
struct Reached<'a> {
    graph: &'a Graph,
    reach: &'a Reach,
    around: &'a Around,
    bounds: &'a Bounds,
    /// By potential: nodes that hold it, and others that it reaches.
    held: Vec<(Potential, Vec<Bit>)>,
    reached: Vec<Vec<Bit>>,
    /// Nodes held by what is not known.
    unknown: Vec<Bit>,
    /// Nodes that wiring alone holds.
    direct: Vec<Bit>,
    /// Nodes that some potential reaches, whatever undecided diodes do.
    settled: Vec<Bit>,
}

impl<'a> Reached<'a> {
    /// With the diodes that end at node `without` taken out.
    fn new(found: Found<'a>, dag: &mut Dag, without: Option<u32>) -> Option<Self> {
        let Found { graph, reach, around, states, bounds } = found;
        let nodes = graph.nodes;
        let mut held: Vec<(Potential, Vec<Bit>)> = Vec::new();
        let mut known = vec![NO; nodes];
        let mut direct = vec![NO; nodes];
        for (at, (potential, any)) in reach
            .held
            .iter()
            .map(|h| (h.potential, &h.any))
            .chain(reach.behind.iter().map(|(p, at)| (*p, at)))
            .enumerate()
        {
            let mut here = Vec::with_capacity(nodes);
            for node in 0..nodes {
                let free = dag.without(any[node], reach.clash[node]);
                let free = if at >= reach.held.len() { dag.without(free, direct[node]) } else { free };
                known[node] = dag.or(known[node], free);
                here.push(free);
            }
            if at < reach.held.len() {
                for node in 0..nodes {
                    direct[node] = dag.or(direct[node], any[node]);
                }
            }
            held.push((potential, here));
        }
        let mut unknown = states.loose.clone();
        for node in 0..nodes {
            let odd = dag.without(states.held[node], known[node]);
            unknown[node] = dag.or(unknown[node], odd);
        }
        let both = |dag: &mut Dag, a: u32, b: u32, when: Bit| {
            let either = dag.or(states.held[a as usize], states.held[b as usize]);
            dag.without(when, either)
        };
        let links: Vec<(u32, u32, Bit)> = graph
            .wiring
            .iter()
            .chain(&graph.loads)
            .chain(graph.diodes.iter().filter(|e| Some(e.b) != without))
            .map(|e| (e.a, e.b, e.when))
            .chain(graph.outputs.iter().flat_map(|(e, feed)| [(e.a, e.b, e.when), (*feed, e.b, e.when)]))
            .collect();
        let mut edges = Vec::new();
        for &(a, b, when) in &links {
            let free = both(dag, a, b, when);
            edges.push((a, b, free, free));
        }
        let closure = Closure::new(dag, nodes, edges)?;
        let flood = |dag: &mut Dag, at: &[Bit]| {
            let mut seeds = vec![NO; nodes];
            for &(a, b, when) in &links {
                for (near, far) in [(a as usize, b as usize), (b as usize, a as usize)] {
                    let given = dag.and(when, at[far]);
                    let given = dag.without(given, states.held[near]);
                    seeds[near] = dag.or(seeds[near], given);
                }
            }
            for node in 0..nodes {
                let own = dag.without(at[node], states.held[node]);
                seeds[node] = dag.or(seeds[node], own);
            }
            closure.spread(dag, &mut seeds);
            seeds
        };
        let reached = held.iter().map(|(_, at)| flood(dag, at)).collect();
        let far = flood(dag, &unknown);
        let unknown = unknown.iter().zip(far).map(|(&a, b)| dag.or(a, b)).collect();
        let mut settled = states.held.clone();
        for node in 0..nodes {
            let via = states.via.iter().map(|(_, at)| at[node]).chain([states.ground_via[node]]);
            let via = dag.any(via.collect::<Vec<_>>());
            settled[node] = dag.or(settled[node], via);
        }
        Some(Self { graph, reach, around, bounds, held, reached, unknown, direct, settled })
    }

    /// The potentials that may be at an end.
    fn at(&self, point: usize, dag: &mut Dag) -> Vec<There> {
        let node = self.graph.node_of[point] as usize;
        let mut all = Vec::new();
        for ((potential, held), reached) in self.held.iter().zip(&self.reached) {
            let off = |point| match potential.against {
                None => self.bounds.sag(*potential, point),
                Some(_) => f64::INFINITY,
            };
            let there = |off: f64, held: bool, when: Bit| There {
                potential: Some(*potential),
                volts: potential.volts,
                off,
                held,
                when,
            };
            all.push(there(off(Some(point)), true, held[node]));
            all.push(there(off(None), false, reached[node]));
        }
        // What floats, or is left to float by a diode that blocks, stands at ground's potential by the leaks that
        // everything has.
        let none = |off: f64, when: Bit| There { potential: None, volts: 0.0, off, held: false, when };
        all.push(none(0.0, dag.not(self.settled[node])));
        all.push(none(f64::INFINITY, self.unknown[node]));
        all.retain(|there| there.when != NO);
        all
    }

    /// Where a diode surely blocks.
    fn blocks(&self, plan: &Plan<'_>, edge: &Edge, dag: &mut Dag) -> Bit {
        let part = &plan.parts[edge.part];
        let Act::Diode(drop) = part.act else { return NO };
        let (near, far) = (self.at(part.from, dag), self.at(part.to, dag));
        let local = self.local(plan, edge);
        let mut may = NO;
        for a in &near {
            for k in &far {
                let off = (a.off + k.off).min(self.apart(a, k, part.from, part.to, &local));
                if a.volts - k.volts + off >= drop - CLEAR {
                    let both = dag.and(a.when, k.when);
                    may = dag.or(may, both);
                }
            }
        }
        dag.not(may)
    }

    /// What lies around a diode.
    fn local(&self, plan: &Plan<'_>, edge: &Edge) -> Local {
        self.around.local(plan, self.graph, self.reach, &self.bounds.takes, &BTreeSet::from([edge.a, edge.b]))
    }

    /// Volts between the ends of a diode where one potential is at both, at the most.
    fn apart(&self, a: &There, k: &There, from: usize, to: usize, local: &Local) -> f64 {
        let (Some(p), Some(q)) = (a.potential, k.potential) else { return f64::INFINITY };
        let held = self.reach.held.iter().find(|h| same(h.potential, p));
        let (true, Some(held)) = (same(p, q), held) else { return f64::INFINITY };
        if a.held && k.held {
            return self.bounds.apart(p, &[from, to]);
        }
        self.bounds.apart(p, &local.points(self.graph, &held.any))
    }

    /// Where a diode of the group that was taken out would surely have more than its drop across it, by what its near end
    /// surely holds.
    fn pushes(&self, plan: &Plan<'_>, edge: &Edge, dag: &mut Dag) -> Vec<(f64, Bit)> {
        let part = &plan.parts[edge.part];
        let Act::Diode(drop) = part.act else { return Vec::new() };
        let node = self.graph.node_of[part.from] as usize;
        let far = self.at(part.to, dag);
        let mut list = Vec::new();
        for (potential, held) in self.held.iter().filter(|(p, _)| p.against.is_none()) {
            let off = self.bounds.sag(*potential, Some(part.from));
            let mut against = NO;
            for k in &far {
                if (potential.volts - off) - (k.volts + k.off) <= drop + CLEAR {
                    against = dag.or(against, k.when);
                }
            }
            let when = dag.without(held[node], against);
            let when = dag.and(when, edge.when);
            if when != NO {
                list.push((potential.volts - drop, when));
            }
        }
        list
    }
}
