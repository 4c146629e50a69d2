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
    takes::{Spreads, Takes, region},
};
use crate::plan::{Act, Plan};

/// A block of wiring: what hangs on the point `above` it.
#[derive(Clone, Copy, Debug)]
struct Block {
    /// A point; the number of points stands for the root.
    above: u32,
    /// Of all its wiring.
    ohms: f64,
    /// Amps at the most of all that is behind it; what one of its sources cannot give counts as endless.
    behind: f64,
    /// Amps in the base state; endless where they are not known.
    base: f64,
}

/// Bounds of one potential.
#[derive(Clone, Debug)]
pub(crate) struct Sag {
    pub(crate) potential: Potential,
    /// Volts by which each point that holds it may be off; infinite where nothing is known.
    pub(crate) volts: Vec<f64>,
    /// The most of them at any end of a load.
    pub(crate) most: f64,
    /// By how much what it stands on may be off.
    rise: f64,
    /// The block in which each point hangs on another.
    block_of: Vec<u32>,
    blocks: Vec<Block>,
    /// The parts of each block.
    parts: Vec<Vec<u32>>,
}

/// See the module's page.
#[derive(Clone, Debug)]
pub(crate) struct Bounds {
    pub(crate) sags: Vec<Sag>,
    /// Amps that each part carries at the most, clashes apart.
    pub(crate) amps: Vec<f64>,
    /// Amps that what is no wiring takes at the most.
    pub(crate) takes: Vec<f64>,
}

/// Blocks that are climbed to compare two points.
const CLIMBED: usize = 1000;

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
    // A source that stands on a module's ground may rise with it: by how much is first taken at its worst.
    let worst = bounds_with(
        plan,
        graph,
        reach,
        &Takes::new(plan, graph, &Spreads::new(plan, graph, reach, f64::INFINITY)),
    );
    let rise = worst.sags.first().map_or(f64::INFINITY, |ground| {
        let stands = graph.lifts.iter().map(|l| plan.parts[l.edge.part].from);
        stands.map(|p| ground.volts[p]).fold(0.0, f64::max)
    });
    bounds_with(plan, graph, reach, &Takes::new(plan, graph, &Spreads::new(plan, graph, reach, rise)))
}

fn bounds_with(plan: &Plan<'_>, graph: &Graph, reach: &Reach, takes: &Takes) -> Bounds {
    let mut bounds = Bounds { sags: Vec::new(), amps: takes.own.clone(), takes: takes.own.clone() };
    // Ground first: sources stand on it.
    for at in 0..reach.held.len() {
        let potential = reach.held[at].potential;
        let mut sag = Sag {
            potential,
            volts: vec![f64::INFINITY; plan.points],
            most: 0.0,
            rise: 0.0,
            block_of: vec![u32::MAX; plan.points],
            blocks: Vec::new(),
            parts: Vec::new(),
        };
        if potential.against.is_none() {
            if at > 0 {
                sag.rise = rise(plan, graph, reach, potential, &bounds.sags);
            }
            let (ways, hangs) = ways(plan, graph, reach, at, takes);
            blocks(plan, &hangs, &ways, &mut sag, &mut bounds.amps);
            (0..plan.points).filter(|&p| at == 0 && plan.anchored[p]).for_each(|p| sag.volts[p] = 0.0);
        }
        let ends = graph.loads.iter().chain(&graph.diodes).map(|e| &plan.parts[e.part]);
        let inside = inside(graph, reach, at);
        let held = |p: usize| inside[graph.node_of[p] as usize];
        let ends = ends.flat_map(|p| [p.from, p.to]).filter(|&p| held(p));
        sag.most = ends.map(|p| sag.volts[p]).fold(0.0, f64::max);
        bounds.sags.push(sag);
    }
    bounds
}

impl Sag {
    /// Volts between two points that both hold the potential, at the most.
    fn apart(&self, a: usize, b: usize) -> f64 {
        if a == b {
            return 0.0;
        }
        let full = self.volts[a] + self.volts[b];
        let up = |point: usize| {
            let mut way = vec![(point, 0.0)];
            let mut off = 0.0;
            let mut at = point;
            while let Some(block) = self.block_of.get(at).and_then(|&b| self.blocks.get(b as usize)) {
                off += drop(block.ohms, block.behind);
                at = block.above as usize;
                way.push((at, off));
                if way.len() > CLIMBED {
                    return None;
                }
            }
            Some(way)
        };
        let (Some(a), Some(b)) = (up(a), up(b)) else { return full };
        // Both ways end at the root; where they part is the last point that they share.
        let shared = a.iter().rev().zip(b.iter().rev()).take_while(|(x, y)| x.0 == y.0).last();
        shared.map_or(full, |(x, y)| (x.1 + y.1).min(full))
    }

    /// As `volts`, with `own` amps behind it and everything else as it is in the base state.
    fn beside(&self, point: usize, own: f64) -> f64 {
        let mut off = self.rise;
        let mut at = point;
        let mut steps = 0;
        while let Some(block) = self.block_of.get(at).and_then(|&b| self.blocks.get(b as usize)) {
            // What else draws there changes a little with the volts: hence a tenth more.
            off += drop(block.ohms, block.behind.min(1.1 * block.base + own));
            at = block.above as usize;
            steps += 1;
            if steps > 10 * CLIMBED {
                return f64::INFINITY;
            }
        }
        if at == self.block_of.len() || self.volts[point] == 0.0 {
            off.min(self.volts[point])
        } else {
            f64::INFINITY
        }
    }
}

/// Volts over ohms that carry amps.
fn drop(ohms: f64, amps: f64) -> f64 {
    match (amps.is_finite(), ohms > 0.0) {
        (false, _) => f64::INFINITY,
        (true, true) => ohms * amps,
        (true, false) => 0.0,
    }
}

impl Bounds {
    /// Takes what flows in the base state into account.
    pub(crate) fn set_base(&mut self, amps: &[f64]) {
        let of = |part: &u32| amps.get(*part as usize).map_or(f64::INFINITY, |amps| amps.abs());
        for sag in &mut self.sags {
            for (block, parts) in sag.blocks.iter_mut().zip(&sag.parts) {
                block.base = parts.iter().map(of).fold(0.0, f64::max);
            }
        }
    }

    /// Volts between any two of these points, where they hold this potential, at the most.
    pub(crate) fn apart(&self, potential: Potential, points: &[usize]) -> f64 {
        let Some(sag) = self.sags.iter().find(|s| same(s.potential, potential)) else { return f64::INFINITY };
        match points {
            [] | [_] => 0.0,
            [a, b] => sag.apart(*a, *b),
            [first, rest @ ..] => 2.0 * rest.iter().map(|p| sag.apart(*first, *p)).fold(0.0, f64::max),
        }
    }

    /// As `sag` at a point, with `own` amps behind it and everything else as it is in the base state.
    pub(crate) fn beside(&self, potential: Potential, point: usize, own: f64) -> f64 {
        let sag = self.sags.iter().find(|s| same(s.potential, potential));
        sag.map_or(f64::INFINITY, |sag| sag.beside(point, own))
    }

    /// How far off a potential may be at a point, or wherever loads take it.
    pub(crate) fn sag(&self, potential: Potential, point: Option<usize>) -> f64 {
        let of = |sag: &Sag| point.map_or(sag.most, |p| sag.volts.get(p).copied().unwrap_or(f64::INFINITY));
        match self.sags.iter().find(|s| same(s.potential, potential)) {
            Some(sag) => of(sag),
            // Behind diodes: as far off as any potential above it may be there.
            None => self
                .sags
                .iter()
                .skip(1)
                .filter(|s| s.potential.volts >= potential.volts)
                .map(of)
                .fold(0.0, f64::max),
        }
    }
}

/// The wiring in which one potential may arrive, diodes in its direction included; and by point what hangs on it by
/// diodes beside that.
fn ways(plan: &Plan<'_>, graph: &Graph, reach: &Reach, at: usize, takes: &Takes) -> (Vec<Way>, Vec<f64>) {
    let root = plan.points;
    let potential = reach.held[at].potential;
    let inside = inside(graph, reach, at);
    let node = |p: usize| graph.node_of[p] as usize;
    let end = |p: usize| match plan.anchored[p] {
        true => (at == 0).then_some(root),
        false => inside[node(p)].then_some(p),
    };
    let mut ways = Vec::new();
    for edge in &graph.conductors {
        let part = &plan.parts[edge.part];
        if let (Some(a), Some(b)) = (end(part.from), end(part.to)) {
            let ohms = if let Act::Ohms(ohms) = part.act { ohms } else { 0.0 };
            ways.push(Way { part: edge.part, ends: [a, b], ohms, limit: f64::INFINITY });
        }
    }
    let mut hangs = takes.at.clone();
    for edge in &graph.diodes {
        let part = &plan.parts[edge.part];
        match (end(part.from), end(part.to)) {
            (Some(a), Some(b)) if at > 0 => {
                ways.push(Way { part: edge.part, ends: [a, b], ohms: 0.0, limit: f64::INFINITY });
            }
            (Some(near), None) => hangs_on(&mut hangs, near, region(graph, &inside, edge.b, &takes.at_node)),
            (None, Some(near)) => hangs_on(&mut hangs, near, region(graph, &inside, edge.a, &takes.at_node)),
            (Some(a), Some(b)) => {
                // Between two places that may be grounded nothing drives a current through a diode but what hangs on
                // either of them.
                hangs_on(&mut hangs, a, region(graph, &[], edge.b, &takes.at_node));
                hangs_on(&mut hangs, b, region(graph, &[], edge.a, &takes.at_node));
            }
            (None, None) => {}
        }
    }
    for lift in graph.lifts.iter().filter(|_| at > 0 && potential.against.is_none()) {
        let part = &plan.parts[lift.edge.part];
        let Act::Source { inner, limit, .. } = part.act else { continue };
        if let Some(to) = end(part.to).filter(|_| brings(reach, lift, potential)) {
            let limit = limit.unwrap_or(f64::INFINITY);
            ways.push(Way { part: lift.edge.part, ends: [root, to], ohms: inner, limit });
        }
    }
    (ways, hangs)
}

fn hangs_on(hangs: &mut [f64], point: usize, amps: f64) {
    if let Some(at) = hangs.get_mut(point) {
        *at += amps;
    }
}

/// Nodes at which a potential may stand by wiring, or behind diodes, and no other one always does.
fn inside(graph: &Graph, reach: &Reach, at: usize) -> Vec<bool> {
    let mut inside = vec![false; graph.nodes];
    let behind = reach.behind.iter().filter(|_| at > 0).map(|(_, at)| at);
    for bits in [&reach.held[at].any].into_iter().chain(behind) {
        inside.iter_mut().zip(bits).for_each(|(inside, &bit)| *inside |= bit != NO);
    }
    for held in reach.held.iter().enumerate().filter(|(i, _)| *i != at).map(|(_, h)| h) {
        inside.iter_mut().zip(&held.any).for_each(|(inside, &bit)| *inside &= bit != YES);
    }
    inside
}

/// Whether a source may bring this potential: standing on ground, or on another potential.
fn brings(reach: &Reach, lift: &super::graph::Lift, potential: Potential) -> bool {
    let from = lift.edge.a as usize;
    let sum = |base: f64| same(Potential { against: None, volts: base + lift.volts }, potential);
    reach.held.iter().any(|h| h.potential.against.is_none() && h.any[from] != NO && sum(h.potential.volts))
}

/// A source stands as far off as what it stands on: ground, or a potential that was bounded before.
fn rise(plan: &Plan<'_>, graph: &Graph, reach: &Reach, potential: Potential, before: &[Sag]) -> f64 {
    let mut most = 0.0f64;
    for lift in &graph.lifts {
        let from = lift.edge.a as usize;
        for held in reach.held.iter().filter(|h| h.potential.against.is_none() && h.any[from] != NO) {
            let sum = Potential { against: None, volts: held.potential.volts + lift.volts };
            if same(sum, potential) {
                let below = before.iter().find(|s| same(s.potential, held.potential));
                let point = plan.parts[lift.edge.part].from;
                most = most.max(below.map_or(f64::INFINITY, |s| s.volts[point]));
            }
        }
    }
    most
}

/// Walks the tree of blocks from the root and sums up the drops.
fn blocks(plan: &Plan<'_>, hangs: &[f64], ways: &[Way], sag: &mut Sag, amps: &mut [f64]) {
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
    let mut below: Vec<f64> = hangs.to_vec();
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
    off[root] = sag.rise;
    for (above, block, behind) in done.into_iter().rev() {
        let over = block.iter().any(|&w| behind > ways[w as usize].limit);
        let ohms = block.iter().map(|&w| ways[w as usize].ohms).sum::<f64>();
        let number = sag.blocks.len() as u32;
        let behind_it = if over { f64::INFINITY } else { behind };
        sag.blocks.push(Block { above: above as u32, ohms, behind: behind_it, base: f64::INFINITY });
        for &way in &block {
            let way = &ways[way as usize];
            amps[way.part] = amps[way.part].max(behind);
            for &end in way.ends.iter().filter(|&&end| end != above && end != root) {
                off[end] = off[above] + drop(ohms, behind_it);
                sag.block_of[end] = number;
            }
        }
        sag.parts.push(block.iter().map(|&w| ways[w as usize].part as u32).collect());
    }
    sag.volts.copy_from_slice(&off[..plan.points]);
}
