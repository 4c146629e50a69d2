//! What can flow through anything but wiring, at the most.

use super::{
    dag::{NO, YES},
    graph::{Graph, Lift},
    reach::Reach,
};
use crate::{
    nets::Sets,
    plan::{Act, Plan, SourceKind},
};
use keyon_circuit::model::{Law, Rated};
use std::collections::BTreeSet;

/// Most amps of a transducer's output, with room.
const OUTPUT_AMPS: f64 = 0.03;

/// Amps at the most.
pub(crate) struct Takes {
    /// By part; zero for wiring.
    pub(crate) own: Vec<f64>,
    /// By point: of all that touches it.
    pub(crate) at: Vec<f64>,
    /// The same by node.
    pub(crate) at_node: Vec<f64>,
}

impl Takes {
    pub(crate) fn new(plan: &Plan<'_>, graph: &Graph, spreads: &Spreads) -> Self {
        let mut own = vec![0.0; plan.parts.len()];
        for edge in &graph.loads {
            let spread = spreads.of(edge.a as usize).max(spreads.of(edge.b as usize));
            own[edge.part] = spread / least_ohms(plan, edge.part, spread);
        }
        for (edge, _) in &graph.outputs {
            own[edge.part] = OUTPUT_AMPS;
        }
        let mut at = vec![0.0; plan.points];
        for (index, part) in plan.parts.iter().enumerate().filter(|(i, _)| own[*i] > 0.0) {
            at[part.from] += own[index];
            at[part.to] += own[index];
            if let Act::Output { feed, .. } = part.act {
                at[feed] += own[index];
            }
        }
        let by_node = |at: &[f64]| {
            let mut sums = vec![0.0; graph.nodes];
            at.iter().enumerate().for_each(|(point, amps)| sums[graph.node_of[point] as usize] += amps);
            sums
        };
        let mut at_node = by_node(&at);
        // A source passes on at its one pole what hangs on the other.
        let all: f64 = own.iter().sum();
        let mut through = Vec::new();
        let stands = |l: &Lift| graph.anchored[l.edge.a as usize];
        let stacked = graph.lifts.iter().any(|l| !stands(l) && l.kind == SourceKind::Supply);
        for lift in &graph.lifts {
            let limit = if lift.soft { plan.limit(lift.edge.part) } else { f64::INFINITY };
            // What stands on it in its turn comes on top.
            let hangs = if stacked { all } else { region(graph, &[], lift.edge.b, &at_node).min(all) };
            through.push((lift.edge.part, hangs.min(limit)));
        }
        for (part, amps) in through {
            own[part] = amps;
            at[plan.parts[part].from] += amps;
            at_node[graph.node_of[plan.parts[part].from] as usize] += amps;
        }
        Self { own, at, at_node }
    }
}

/// The largest difference between potentials that may reach a place.
pub(crate) struct Spreads {
    of_node: Vec<f64>,
}

impl Spreads {
    /// With sources on a module's ground no more than `rise` volts above ground themselves.
    pub(crate) fn new(plan: &Plan<'_>, graph: &Graph, reach: &Reach, rise: f64) -> Self {
        let most = everywhere(plan, graph, rise);
        // Nodes at which one potential always stands keep apart what is on their sides.
        let always = |node: usize| {
            let ever = reach.held.iter().filter(|h| h.any[node] != NO);
            ever.count() == 1 && reach.held.iter().any(|h| h.any[node] == YES)
        };
        let mut sets = Sets::new(graph.nodes);
        let edges = || {
            let simple = graph.wiring.iter().chain(&graph.loads).chain(&graph.diodes).map(|e| (e.a, e.b));
            let outputs = graph.outputs.iter().flat_map(|(e, feed)| [(e.a, e.b), (*feed, e.b)]);
            let lifts = graph
                .lifts
                .iter()
                .filter(|l| !graph.anchored[l.edge.a as usize])
                .map(|l| (l.edge.a, l.edge.b));
            simple.chain(outputs).chain(lifts)
        };
        for (a, b) in edges().filter(|&(a, b)| !always(a as usize) && !always(b as usize)) {
            sets.join(a as usize, b as usize);
        }
        let mut span: Vec<(f64, f64)> = vec![(0.0, 0.0); graph.nodes];
        let mut floats = vec![false; graph.nodes];
        let mut put = |set: usize, node: usize| {
            for held in reach.held.iter().filter(|h| h.any[node] != NO) {
                floats[set] |= held.potential.against.is_some();
                span[set] = (span[set].0.min(held.potential.volts), span[set].1.max(held.potential.volts));
            }
        };
        for node in 0..graph.nodes {
            put(sets.find(node), node);
        }
        for (a, b) in edges() {
            let (set_a, set_b) = (sets.find(a as usize), sets.find(b as usize));
            put(set_a, b as usize);
            put(set_b, a as usize);
        }
        let own = |set: usize| {
            let rises = graph.lifts.iter().any(|l| !graph.anchored[l.edge.a as usize]);
            let sum = span[set].1 - span[set].0 + if rises { 2.0 * rise } else { 0.0 };
            if floats[set] { most } else { sum.min(most) }
        };
        Self { of_node: (0..graph.nodes).map(|node| own(sets.find(node))).collect() }
    }

    fn of(&self, node: usize) -> f64 {
        self.of_node[node]
    }
}

/// The largest difference between any two potentials.
fn everywhere(plan: &Plan<'_>, graph: &Graph, rise: f64) -> f64 {
    let stands = |lift: &&Lift| graph.anchored[lift.edge.a as usize];
    let high = |lifts: &mut dyn Iterator<Item = f64>| lifts.fold(0.0, f64::max);
    let up = high(&mut graph.lifts.iter().filter(stands).map(|l| l.volts));
    let down = high(&mut graph.lifts.iter().filter(stands).map(|l| -l.volts));
    // What does not stand on ground itself may stand on any of the others.
    let rest: f64 = graph.lifts.iter().filter(|l| !stands(l)).map(|l| l.volts.abs()).fold(0.0, f64::max);
    let stacked = graph
        .lifts
        .iter()
        .filter(|l| !stands(l))
        .any(|l| plan.parts[l.edge.part].source == Some(SourceKind::Supply));
    match stacked {
        true => graph.lifts.iter().map(|l| l.volts.abs()).sum(),
        false if rise.is_finite() => (up + down).max(rest + down + rise),
        false => up + down + rest,
    }
}

/// The least that a load shows, turning or not.
fn least_ohms(plan: &Plan<'_>, part: usize, spread: f64) -> f64 {
    let Act::Ohms(ohms) = plan.parts[part].act else { return 0.0 };
    match plan.law(part) {
        Some(Law::Winding { rated, runs: Some(runs), .. }) => {
            let volts = match rated {
                Some(Rated::Volts(volts)) => volts.nominal,
                // Of whatever supply feeds it: the lowest there may be.
                _ => plan.state.supplies.iter().fold(spread, |least, v| least.min(v.abs())),
            };
            ohms.min(volts / runs.nominal)
        }
        _ => ohms,
    }
}

/// What all can take that wiring may join to a node, as far as it lies not `inside`; `at` is by node.
pub(crate) fn region(graph: &Graph, inside: &[bool], start: u32, at: &[f64]) -> f64 {
    let out = |n: u32| !inside.get(n as usize).copied().unwrap_or(false) && !graph.anchored[n as usize];
    let mut seen = BTreeSet::new();
    let mut stack = vec![start];
    let mut sum = 0.0;
    while let Some(node) = stack.pop() {
        if out(node) && seen.insert(node) {
            sum += at[node as usize];
            stack.extend(&graph.wired[node as usize]);
        }
    }
    sum
}
