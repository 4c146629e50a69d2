//! Node states, and what reaches a node through loads. What `trace` finds for one state, as expressions.

use super::{
    closure::Closure,
    dag::{Bit, Dag, NO, YES},
    graph::{Graph, Input, Logic},
    reach::{Potential, Reach, same},
};
use crate::plan::Plan;

/// See the module's page. Vectors are indexed by node.
#[derive(Clone, Debug)]
pub(crate) struct States {
    /// Anything holds it.
    pub(crate) held: Vec<Bit>,
    pub(crate) clash: Vec<Bit>,
    pub(crate) grounded: Vec<Bit>,
    pub(crate) fed: Vec<Bit>,
    pub(crate) referenced: Vec<Bit>,
    pub(crate) between: Vec<Bit>,
    pub(crate) fed_via: Vec<Bit>,
    pub(crate) grounded_via: Vec<Bit>,
    /// The state of a node is not decided here.
    pub(crate) doubt: Vec<Bit>,
    /// Through loads: ground, and each potential (those of `Reach::held` but ground, then those behind diodes).
    pub(crate) ground_via: Vec<Bit>,
    pub(crate) via: Vec<(Potential, Vec<Bit>)>,
    /// Through loads: something whose volts are not known.
    pub(crate) unknown_via: Vec<Bit>,
    /// Through loads: a clash of potentials without a limit, whose volts are not told here.
    pub(crate) clash_via: Vec<Bit>,
    /// Joined to the pole of a source that nothing holds: a current may come in there that no potential tells of.
    pub(crate) loose: Vec<Bit>,
}

/// What lies at the border of what nothing holds.
struct Borders {
    ground: Vec<Bit>,
    potentials: Vec<(Potential, Vec<Bit>)>,
    strong: Vec<Bit>,
    unknown: Vec<Bit>,
}

/// States of all nodes. `None` where it is too meshed.
pub(crate) fn states(plan: &Plan<'_>, graph: &Graph, reach: &Reach, logic: &mut Logic) -> Option<States> {
    let on: Vec<Bit> = graph.diodes.iter().map(|edge| conducts(plan, edge.part, edge.when, logic)).collect();
    let dag = &mut logic.dag;
    let nodes = graph.nodes;
    let mut held = Vec::with_capacity(nodes);
    for node in 0..nodes {
        held.push(dag.any([reach.grounded[node], reach.fed[node], reach.referenced[node]]));
    }
    let borders = borders(reach, &held, dag);
    let closure = regions(graph, &held, &on, dag)?;
    let mut seeds = Seeds { graph, held: &held, closure: &closure };
    let ground_via = seeds.flood(dag, &borders.ground, false);
    let via: Vec<(Potential, Vec<Bit>)> =
        borders.potentials.iter().map(|(p, at)| (*p, seeds.flood(dag, at, true))).collect();
    let strong = seeds.flood(dag, &borders.strong, true);
    let unknown = seeds.flood(dag, &borders.unknown, true);
    let loose = loose(graph, &held, &closure, dag);
    let mut states = States {
        clash: reach.clash.clone(),
        grounded: vec![NO; nodes],
        fed: vec![NO; nodes],
        referenced: vec![NO; nodes],
        between: vec![NO; nodes],
        fed_via: vec![NO; nodes],
        grounded_via: vec![NO; nodes],
        doubt: vec![NO; nodes],
        ground_via,
        via,
        unknown_via: unknown,
        clash_via: strong.clone(),
        loose,
        held,
    };
    for (node, strong) in strong.into_iter().enumerate() {
        states.judge(node, reach, strong, dag);
    }
    Some(states)
}

/// When a diode conducts.
pub(crate) fn conducts(plan: &Plan<'_>, part: usize, when: Bit, logic: &mut Logic) -> Bit {
    match plan.diodes.binary_search(&part) {
        Ok(at) => {
            let on = logic.input(Input::Diode(at as u32));
            logic.dag.and(when, on)
        }
        Err(_) => NO,
    }
}

/// What each held node is to what hangs on it.
fn borders(reach: &Reach, held: &[Bit], dag: &mut Dag) -> Borders {
    let nodes = held.len();
    let mut potentials: Vec<(Potential, Vec<Bit>)> = Vec::new();
    let mut known = vec![NO; nodes];
    for (potential, at) in reach.held[1..]
        .iter()
        .map(|h| (h.potential, &h.any))
        .chain(reach.behind.iter().map(|(p, at)| (*p, at)))
    {
        let mut free = Vec::with_capacity(nodes);
        for node in 0..nodes {
            let here = dag.without(at[node], reach.grounded[node]);
            known[node] = dag.or(known[node], here);
            free.push(dag.without(here, reach.clash[node]));
        }
        match potentials.iter_mut().find(|(p, _)| same(*p, potential)) {
            Some((_, all)) => all.iter_mut().zip(free).for_each(|(all, free)| *all = dag.or(*all, free)),
            None => potentials.push((potential, free)),
        }
    }
    let mut unknown = Vec::with_capacity(nodes);
    for node in 0..nodes {
        // Held, not by ground, and by what is not known; two potentials at once; a clash that may count as two.
        let odd = dag.without(held[node], reach.grounded[node]);
        let odd = dag.without(odd, known[node]);
        let meeting = dag.without(reach.clash[node], reach.grounded[node]);
        let meeting = dag.without(meeting, reach.strong[node]);
        let several = several(dag, &reach.behind, node);
        let unclear = dag.without(reach.perhaps_strong[node], reach.strong[node]);
        unknown.push(dag.any([odd, meeting, several, unclear]));
    }
    Borders { ground: reach.grounded.clone(), potentials, strong: reach.strong.clone(), unknown }
}

/// Where more than one of these potentials arrives.
fn several(dag: &mut Dag, potentials: &[(Potential, Vec<Bit>)], node: usize) -> Bit {
    let mut any = NO;
    let mut two = NO;
    for (_, at) in potentials {
        let both = dag.and(any, at[node]);
        two = dag.or(two, both);
        any = dag.or(any, at[node]);
    }
    two
}

/// What is joined to poles of sources that nothing holds.
fn loose(graph: &Graph, held: &[Bit], closure: &Closure, dag: &mut Dag) -> Vec<Bit> {
    let mut forward = vec![NO; graph.nodes];
    for lift in &graph.lifts {
        let from = lift.edge.a as usize;
        let floats = dag.without(lift.edge.when, held[from]);
        forward[from] = dag.or(forward[from], floats);
    }
    let mut backward = forward.clone();
    closure.spread(dag, &mut forward);
    closure.gather(dag, &mut backward);
    forward.iter().zip(backward).map(|(&a, b)| dag.or(a, b)).collect()
}

/// What joins nodes that nothing holds: wiring, loads, conducting diodes in their direction.
fn regions(graph: &Graph, held: &[Bit], on: &[Bit], dag: &mut Dag) -> Option<Closure> {
    let mut edges = Vec::new();
    let mut join = |dag: &mut Dag, a: u32, b: u32, when: Bit, both: bool| {
        let either = dag.or(held[a as usize], held[b as usize]);
        let free = dag.without(when, either);
        if free != NO {
            edges.push((a, b, free, if both { free } else { NO }));
        }
    };
    for edge in graph.wiring.iter().chain(&graph.loads) {
        join(dag, edge.a, edge.b, edge.when, true);
    }
    for &(edge, feed) in &graph.outputs {
        join(dag, edge.a, edge.b, edge.when, true);
        join(dag, feed, edge.b, edge.when, true);
    }
    for (edge, &on) in graph.diodes.iter().zip(on) {
        join(dag, edge.a, edge.b, on, false);
    }
    Closure::new(dag, graph.nodes, edges)
}

struct Seeds<'a> {
    graph: &'a Graph,
    held: &'a [Bit],
    closure: &'a Closure,
}

impl Seeds<'_> {
    /// Where loads take what is at held nodes: forward what a source drives, backward what ground draws.
    fn flood(&mut self, dag: &mut Dag, at: &[Bit], forward: bool) -> Vec<Bit> {
        let mut reached = vec![NO; self.graph.nodes];
        if at.iter().all(|&bit| bit == NO) {
            return reached;
        }
        let mut link = |dag: &mut Dag, a: u32, b: u32, when: Bit| {
            for (near, far) in [(a as usize, b as usize), (b as usize, a as usize)] {
                if self.held[near] != YES && at[far] != NO {
                    let given = dag.and(when, at[far]);
                    let given = dag.without(given, self.held[near]);
                    reached[near] = dag.or(reached[near], given);
                }
            }
        };
        for edge in &self.graph.loads {
            link(dag, edge.a, edge.b, edge.when);
        }
        for &(edge, feed) in &self.graph.outputs {
            link(dag, edge.a, edge.b, edge.when);
            link(dag, feed, edge.b, edge.when);
        }
        if forward {
            self.closure.spread(dag, &mut reached);
        } else {
            self.closure.gather(dag, &mut reached);
        }
        reached
    }
}

impl States {
    fn judge(&mut self, node: usize, reach: &Reach, strong: Bit, dag: &mut Dag) {
        let free = dag.not(self.held[node]);
        let calm = dag.not(reach.clash[node]);
        self.grounded[node] = dag.and(reach.grounded[node], calm);
        let rest = dag.without(calm, reach.grounded[node]);
        let [supply, reference] = [reach.gives[0][node], reach.gives[1][node]];
        self.fed[node] = dag.and(supply, rest);
        let rest = dag.without(rest, supply);
        self.referenced[node] = dag.and(reference, rest);
        // Held by a diode to what cannot give through it.
        let clamped = dag.or(reach.fed[node], reach.referenced[node]);
        let clamped = dag.without(clamped, reference);
        let clamped = dag.and(clamped, rest);
        let two = several(dag, &self.via, node);
        let sources: Vec<Bit> = self.via.iter().map(|(_, at)| at[node]).collect();
        let known = dag.any(sources);
        let unknown = self.unknown_via[node];
        let source = dag.any([known, strong, unknown]);
        let both = dag.and(source, self.ground_via[node]);
        let between = dag.any([both, two, strong]);
        let across = dag.and(between, free);
        self.between[node] = dag.or(across, clamped);
        let one = dag.without(free, between);
        self.fed_via[node] = dag.and(one, source);
        let rest = dag.without(one, source);
        self.grounded_via[node] = dag.and(rest, self.ground_via[node]);
        // Something unknown is one source, or two.
        let unclear = dag.and(unknown, free);
        self.doubt[node] = dag.without(unclear, between);
    }
}
