//! How far a potential can be off where it arrives, whatever the open controls do.
//!
//! In a network of resistances and sources every current that flows runs through a load; so a piece of wiring carries
//! no more than the loads behind it can take at the circuit's full voltage, and its drop is at most that times its ohms.
//! "Behind" is told by the blocks of the wiring (J. Hopcroft, R. Tarjan, "Algorithm 447", Communications of the ACM
//! 16 (1973)): what hangs on a block hangs on it alone. Inside a block the way is not known, so all of its ohms count.

use super::{
    dag::{NO, YES},
    graph::Graph,
    reach::{Potential, Reach, same},
};
use crate::{
    plan::{Act, Plan},
    stiff::is_conductor,
};
use keyon_circuit::model::{Law, Rated};

/// Most amps of a transducer's output, with room.
const OUTPUT_AMPS: f64 = 0.03;

/// Bounds of one potential.
#[derive(Clone, Debug)]
pub(crate) struct Sag {
    pub(crate) potential: Potential,
    /// Volts by which each point that holds it may be off; infinite where nothing is known.
    pub(crate) volts: Vec<f64>,
    /// The most of them at any end of a load.
    pub(crate) most: f64,
}

/// See the module's page.
#[derive(Clone, Debug)]
pub(crate) struct Bounds {
    pub(crate) sags: Vec<Sag>,
    /// Amps that each part carries at the most, clashes apart.
    pub(crate) amps: Vec<f64>,
}

/// A piece of wiring of one potential's tree.
#[derive(Clone, Copy)]
struct Way {
    part: usize,
    /// Points; the last stands for the root.
    ends: [usize; 2],
    ohms: f64,
    /// Amps at which a source gives way.
    limit: f64,
}

/// Bounds for every potential of a circuit.
pub(crate) fn bounds(plan: &Plan<'_>, graph: &Graph, reach: &Reach) -> Bounds {
    let takes = Takes::new(plan, graph);
    let mut bounds = Bounds { sags: Vec::new(), amps: takes.own.clone() };
    // Ground first: sources stand on it.
    for at in 0..reach.held.len() {
        let potential = reach.held[at].potential;
        let ways = ways(plan, graph, reach, at);
        let mut sag = vec![f64::INFINITY; plan.points];
        if potential.against.is_none() {
            blocks(plan, &takes, &ways, &mut sag, &mut bounds.amps);
            if at > 0 {
                rise(plan, graph, potential, &bounds.sags[0], &mut sag);
            } else {
                (0..plan.points).filter(|&p| plan.anchored[p]).for_each(|p| sag[p] = 0.0);
            }
        }
        let ends = graph.loads.iter().chain(&graph.diodes).map(|e| &plan.parts[e.part]);
        let held = |p: usize| reach.held[at].any[graph.node_of[p] as usize] != NO;
        let ends = ends.flat_map(|p| [p.from, p.to]).filter(|&p| held(p));
        let most = ends.map(|p| sag[p]).fold(0.0, f64::max);
        bounds.sags.push(Sag { potential, volts: sag, most });
    }
    bounds
}

impl Bounds {
    /// How far off a potential may be at a point, or wherever loads take it.
    pub(crate) fn sag(&self, potential: Potential, point: Option<usize>) -> f64 {
        let of = |sag: &Sag| point.map_or(sag.most, |p| sag.volts.get(p).copied().unwrap_or(f64::INFINITY));
        match self.sags.iter().find(|s| same(s.potential, potential)) {
            Some(sag) => of(sag),
            // Behind diodes: as far off as any potential above it may be there.
            None => self.sags.iter().skip(1).filter(|s| s.potential.volts >= potential.volts).map(of).fold(0.0, f64::max),
        }
    }
}

/// What can flow through something else than wiring.
struct Takes {
    /// By part: amps at the most; zero for wiring.
    own: Vec<f64>,
    /// By point: of all that touches it.
    at: Vec<f64>,
}

impl Takes {
    fn new(plan: &Plan<'_>, graph: &Graph) -> Self {
        let spread = spread(plan, graph);
        let mut own = vec![0.0; plan.parts.len()];
        for edge in &graph.loads {
            own[edge.part] = spread / least_ohms(plan, edge.part, spread);
        }
        for (edge, _) in &graph.outputs {
            own[edge.part] = OUTPUT_AMPS;
        }
        let all: f64 = own.iter().sum();
        let mut at = vec![0.0; plan.points];
        for (index, part) in plan.parts.iter().enumerate().filter(|(i, _)| own[*i] > 0.0) {
            at[part.from] += own[index];
            at[part.to] += own[index];
            if let Act::Output { feed, .. } = part.act {
                at[feed] += own[index];
            }
        }
        // A source passes on at its one pole what flows at the other.
        for lift in &graph.lifts {
            own[lift.edge.part] = all.min(if lift.soft { plan.limit(lift.edge.part) } else { f64::INFINITY });
            at[plan.parts[lift.edge.part].from] += own[lift.edge.part];
        }
        Self { own, at }
    }
}

/// The largest difference between any two potentials.
fn spread(plan: &Plan<'_>, graph: &Graph) -> f64 {
    let stands = |lift: &&super::graph::Lift| graph.anchored[lift.edge.a as usize];
    let high = |lifts: &mut dyn Iterator<Item = f64>| lifts.fold(0.0, f64::max);
    let up = high(&mut graph.lifts.iter().filter(stands).map(|l| l.volts));
    let down = high(&mut graph.lifts.iter().filter(stands).map(|l| -l.volts));
    // What does not stand on ground itself may stand on any of the others.
    let rest: f64 = graph.lifts.iter().filter(|l| !stands(l)).map(|l| l.volts.abs()).fold(0.0, f64::max);
    let stacked = graph.lifts.iter().filter(|l| !stands(l)).any(|l| {
        plan.parts[l.edge.part].source == Some(crate::plan::SourceKind::Supply)
    });
    if stacked { graph.lifts.iter().map(|l| l.volts.abs()).sum() } else { up + down + rest }
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

/// The wiring in which one potential may arrive: all of it but what another one surely holds.
fn ways(plan: &Plan<'_>, graph: &Graph, reach: &Reach, at: usize) -> Vec<Way> {
    let root = plan.points;
    let potential = reach.held[at].potential;
    let node = |p: usize| graph.node_of[p] as usize;
    let mut other = vec![false; graph.nodes];
    for held in reach.held.iter().enumerate().filter(|(i, _)| *i != at).map(|(_, h)| h) {
        other.iter_mut().zip(&held.any).for_each(|(other, &any)| *other |= any == YES);
    }
    let mut ways = Vec::new();
    let ohms = |part: usize| if let Act::Ohms(ohms) = plan.parts[part].act { ohms } else { 0.0 };
    for edge in graph.conductors.iter().chain(&graph.diodes) {
        let part = &plan.parts[edge.part];
        debug_assert!(is_conductor(plan, edge.part) || matches!(part.act, Act::Diode(_)));
        let end = |p: usize| match plan.anchored[p] {
            true if at == 0 => Some(root),
            true => None,
            false if other[node(p)] => None,
            false => Some(p),
        };
        if let (Some(a), Some(b)) = (end(part.from), end(part.to)) {
            ways.push(Way { part: edge.part, ends: [a, b], ohms: ohms(edge.part), limit: f64::INFINITY });
        }
    }
    for lift in graph.lifts.iter().filter(|_| at > 0 && potential.against.is_none()) {
        let part = &plan.parts[lift.edge.part];
        let Act::Source { inner, limit, .. } = part.act else { continue };
        if plan.anchored[part.to] || other[node(part.to)] || !brings(reach, lift, potential) {
            continue;
        }
        ways.push(Way {
            part: lift.edge.part,
            ends: [root, part.to],
            ohms: inner,
            limit: limit.unwrap_or(f64::INFINITY),
        });
    }
    ways
}

/// Whether a source may bring this potential: standing on ground, or on another potential.
fn brings(reach: &Reach, lift: &super::graph::Lift, potential: Potential) -> bool {
    let from = lift.edge.a as usize;
    let sum = |base: f64| same(Potential { against: None, volts: base + lift.volts }, potential);
    reach.held.iter().any(|h| h.potential.against.is_none() && h.any[from] != NO && sum(h.potential.volts))
}

/// A source stands as far off as what it stands on.
fn rise(plan: &Plan<'_>, graph: &Graph, potential: Potential, ground: &Sag, sag: &mut [f64]) {
    let lifts = graph.lifts.iter().filter(|l| (l.volts - potential.volts).abs() < 1e-6);
    let from = lifts.map(|l| ground.volts[plan.parts[l.edge.part].from]).fold(0.0, f64::max);
    // One that stands on something else than ground is off by what that is, which is not known here.
    let stacked = graph.lifts.iter().all(|l| (l.volts - potential.volts).abs() >= 1e-6);
    sag.iter_mut().for_each(|s| *s += if stacked { f64::INFINITY } else { from });
}

/// Walks the tree of blocks from the root and sums up the drops.
fn blocks(plan: &Plan<'_>, takes: &Takes, ways: &[Way], sag: &mut [f64], amps: &mut [f64]) {
    let count = plan.points + 1;
    let root = plan.points;
    let mut first = vec![0u32; count + 1];
    for way in ways.iter().filter(|w| w.ends[0] != w.ends[1]) {
        way.ends.iter().for_each(|&end| first[end + 1] += 1);
    }
    (1..=count).for_each(|i| first[i] += first[i - 1]);
    let mut fill = first.clone();
    let mut near = vec![0u32; first[count] as usize];
    for (index, way) in ways.iter().enumerate().filter(|(_, w)| w.ends[0] != w.ends[1]) {
        for &end in &way.ends {
            near[fill[end] as usize] = index as u32;
            fill[end] += 1;
        }
    }
    let (mut found, mut low) = (vec![0u32; count], vec![0u32; count]);
    let mut below: Vec<f64> = takes.at.clone();
    below.push(0.0);
    let mut used = vec![false; ways.len()];
    let mut pending: Vec<u32> = Vec::new();
    // Blocks in the order in which they are closed: the point they hang on, their ways, what is behind them.
    let mut done: Vec<(usize, Vec<u32>, f64)> = Vec::new();
    let mut clock = 1;
    found[root] = 1;
    low[root] = 1;
    let mut stack: Vec<(usize, u32, u32)> = vec![(root, first[root], u32::MAX)];
    while let Some(&mut (node, ref mut next, by)) = stack.last_mut() {
        if *next < first[node + 1] {
            let way = near[*next as usize];
            *next += 1;
            if std::mem::replace(&mut used[way as usize], true) {
                continue;
            }
            pending.push(way);
            let [a, b] = ways[way as usize].ends;
            let other = if a == node { b } else { a };
            if found[other] == 0 {
                clock += 1;
                (found[other], low[other]) = (clock, clock);
                stack.push((other, first[other], way));
            } else {
                low[node] = low[node].min(found[other]);
            }
            continue;
        }
        stack.pop();
        let Some(&(above, ..)) = stack.last() else { break };
        low[above] = low[above].min(low[node]);
        if low[node] >= found[above] {
            let from = pending.iter().rposition(|&way| way == by).unwrap_or(0);
            let block = pending.split_off(from);
            // Behind it are its own points and all that hangs on them, which is closed already.
            let mut points: Vec<usize> = block.iter().flat_map(|&w| ways[w as usize].ends).collect();
            points.sort_unstable();
            points.dedup();
            let behind = points.iter().filter(|&&p| p != above).map(|&p| below[p]).sum::<f64>();
            below[above] += behind;
            done.push((above, block, behind));
        }
    }
    // From the root outwards: a block is closed after all that hangs on it.
    let mut off = vec![f64::INFINITY; count];
    off[root] = 0.0;
    for (above, block, behind) in done.into_iter().rev() {
        let over = block.iter().any(|&w| behind > ways[w as usize].limit);
        let ohms = block.iter().map(|&w| ways[w as usize].ohms).sum::<f64>();
        let drop = match (over, ohms > 0.0) {
            (true, _) => f64::INFINITY,
            (false, true) => ohms * behind,
            (false, false) => 0.0,
        };
        for &way in &block {
            let way = &ways[way as usize];
            amps[way.part] = amps[way.part].max(behind);
            for &end in way.ends.iter().filter(|&&end| end != above) {
                off[end] = off[above] + drop;
            }
        }
    }
    sag.copy_from_slice(&off[..plan.points]);
}
