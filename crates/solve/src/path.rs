//! Ways from a point to a source and to ground: along the current first, not by what only leaks, then fewest loads, then
//! fewest elements, then the elements' order.
//!
//! Along the current: on the way to a source the volts rise, on the way to ground they fall. What hangs on the same ground
//! stud or on the same splice has a way there too, through which nothing of what passes this point flows.

use crate::{
    Path, Solution,
    plan::{Act, Plan},
    stiff::{Closed, Stiff, is_conductor},
};
use keyon_circuit::{ids::*, model::Circuit};
use std::{cmp::Reverse, collections::BinaryHeap};

/// Finds ways in one solution; to be kept where many are asked for.
#[derive(Debug)]
pub struct Ways<'a> {
    plan: Plan<'a>,
    conducts: &'a [bool],
    stiff: Stiff,
    near: Near,
    /// Amps of each part; nothing where they have no limit.
    amps: Vec<f64>,
    /// Volts of each point, without a meter.
    volts: &'a [Option<f64>],
    /// Volts below which two points count as equal.
    still: f64,
    /// The strongest current through a load, by cluster.
    strongest: Vec<f64>,
}

/// The parts at each point: those of all points in one row, and where each point's begin.
#[derive(Debug)]
struct Near {
    starts: Vec<u32>,
    parts: Vec<u32>,
}

impl Near {
    /// `pairs` of a point and a part; those of a point keep their order.
    fn new(points: usize, pairs: &[(usize, u32)]) -> Self {
        let mut starts = vec![0; points + 1];
        for &(point, _) in pairs {
            starts[point + 1] += 1;
        }
        for point in 0..points {
            starts[point + 1] += starts[point];
        }
        let mut next = starts.clone();
        let mut parts = vec![0; pairs.len()];
        for &(point, part) in pairs {
            parts[next[point] as usize] = part;
            next[point] += 1;
        }
        Self { starts, parts }
    }

    fn at(&self, point: usize) -> &[u32] {
        &self.parts[self.starts[point] as usize..self.starts[point + 1] as usize]
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Goal {
    Source,
    Ground,
}

/// Steps against the current, steps through what leaks, loads, elements on a way.
type Cost = (u32, u32, u32, u32);

/// The share of the strongest current at its place below which a load leaks.
const LEAK: f64 = 0.05;
/// The share of the highest volts that is noise.
const NOISE: f64 = 1e-6;

impl<'a> Ways<'a> {
    /// Prepares a solution.
    pub fn new(circuit: &'a Circuit, solution: &'a Solution) -> Self {
        let plan = Plan::new(circuit, &solution.state);
        let conducts = solution.conducts.as_slice();
        let stiff = Stiff::new(&plan, Closed { conducts, on: conducts, forced: &[] });
        let mut near = Vec::with_capacity(2 * plan.parts.len());
        for (index, part) in plan.parts.iter().enumerate() {
            if conducts.get(index) == Some(&true) && !matches!(part.act, Act::Nothing | Act::Source { .. }) {
                near.extend([(part.from, index as u32), (part.to, index as u32)]);
                if let Act::Output { feed, .. } = part.act {
                    near.push((feed, index as u32));
                }
            }
        }
        let near = Near::new(plan.points, &near);
        let amps: Vec<f64> = solution.amps.iter().map(|a| a.known().map_or(0.0, f64::abs)).collect();
        let volts = solution.unloaded.as_slice();
        let still = NOISE * volts.iter().flatten().fold(0.0_f64, |most, v| most.max(v.abs()));
        let mut ways = Self { plan, conducts, stiff, near, amps, volts, still, strongest: Vec::new() };
        ways.strongest = ways.strongest();
        ways
    }

    fn strongest(&self) -> Vec<f64> {
        let mut strongest = vec![0.0_f64; self.stiff.clusters];
        for (index, part) in self.plan.parts.iter().enumerate() {
            let load = self.conducts.get(index) == Some(&true)
                && !matches!(part.act, Act::Nothing | Act::Source { .. } | Act::Diode(_))
                && !is_conductor(&self.plan, index);
            if load {
                for end in [part.from, part.to] {
                    let most = &mut strongest[self.stiff.of(end)];
                    *most = most.max(self.amps.get(index).copied().unwrap_or(0.0));
                }
            }
        }
        strongest
    }

    /// Whether a step leads away from where the current comes from, or goes to.
    fn against(&self, at: usize, other: usize, goal: Goal) -> bool {
        let volts = |p: usize| self.volts.get(p).copied().flatten().map(f64::abs);
        match (volts(at), volts(other), goal) {
            (Some(here), Some(there), Goal::Source) => there < here - self.still,
            (Some(here), Some(there), Goal::Ground) => there > here + self.still,
            _ => false,
        }
    }

    /// Whether hardly anything of what flows at this place flows through a load.
    fn leaks(&self, index: usize, at: usize) -> bool {
        self.amps.get(index).copied().unwrap_or(0.0) < LEAK * self.strongest[self.stiff.of(at)]
    }

    /// The way from a point to the terminal of a supply or of a reference; the source itself is not a step of it.
    pub fn to_source(&self, point: PointId) -> Option<Path> {
        self.way(point.index(), Goal::Source)
    }

    /// The way from a point to the common ground.
    pub fn to_ground(&self, point: PointId) -> Option<Path> {
        self.way(point.index(), Goal::Ground)
    }

    fn way(&self, start: usize, goal: Goal) -> Option<Path> {
        if start >= self.plan.points {
            return None;
        }
        let mut terminal = vec![false; self.plan.points];
        match goal {
            Goal::Ground => terminal[0] = true,
            Goal::Source => {
                for (index, part) in self.plan.parts.iter().enumerate() {
                    if self.conducts.get(index) == Some(&true) && part.source.is_some() {
                        terminal[part.to] = true;
                    }
                }
            }
        }
        let anchored = |p: usize| self.plan.anchored[p];
        if goal == Goal::Source && anchored(start) {
            return None;
        }
        let mut best: Vec<Option<(Cost, u32)>> = vec![None; self.plan.points];
        let mut heap = BinaryHeap::new();
        let nothing = (0, 0, 0, 0);
        best[start] = Some((nothing, u32::MAX));
        heap.push(Reverse((nothing, start)));
        while let Some(Reverse((cost, at))) = heap.pop() {
            if best[at].is_none_or(|(least, _)| least != cost) {
                continue;
            }
            if terminal[at] {
                return Some(self.trail(start, at, &best));
            }
            // Nothing is reached through the common ground, nor through what another potential holds.
            if anchored(at) && goal == Goal::Source {
                continue;
            }
            let own = self.stiff.of(at);
            let borrowed = own != self.stiff.of(start) && self.holds(own);
            for &index in self.near.at(at) {
                let Some((other, load)) = self.step(index as usize, at, goal) else { continue };
                if load && (borrowed || at == 0) {
                    continue;
                }
                if borrowed && !self.leads(own, goal) {
                    continue;
                }
                let next = (
                    cost.0 + u32::from(self.against(at, other, goal)),
                    cost.1 + u32::from(load && self.leaks(index as usize, at)),
                    cost.2 + u32::from(load),
                    cost.3 + 1,
                );
                let better = match best[other] {
                    None => true,
                    Some((least, by)) => next < least || (next == least && index < by),
                };
                if better {
                    let fresh = best[other].is_none_or(|(least, _)| next < least);
                    best[other] = Some((next, index));
                    if fresh {
                        heap.push(Reverse((next, other)));
                    }
                }
            }
        }
        None
    }

    fn holds(&self, cluster: usize) -> bool {
        self.stiff.is_held(cluster)
    }

    /// Whether a cluster that is held leads to the goal by continuity.
    fn leads(&self, cluster: usize, goal: Goal) -> bool {
        match goal {
            Goal::Source => self.stiff.fed[cluster] || self.stiff.referenced[cluster],
            Goal::Ground => self.stiff.grounded[cluster],
        }
    }

    /// Where a part leads from a point, and whether it counts as a load.
    fn step(&self, index: usize, at: usize, goal: Goal) -> Option<(usize, bool)> {
        let part = &self.plan.parts[index];
        let other = if part.from == at { part.to } else { part.from };
        match part.act {
            Act::Diode(_) => {
                let forward = part.from == at;
                let fits = match goal {
                    Goal::Ground => forward,
                    // Against the current; with it only where the far side is what clamps this one.
                    Goal::Source => {
                        !forward
                            || self.stiff.labels_of(self.stiff.of(other)).iter().any(|l| l.source.is_some())
                    }
                };
                fits.then_some((other, false))
            }
            Act::Output { feed, .. } => match goal {
                Goal::Source if at == part.to => Some((feed, true)),
                Goal::Ground if at == part.to => Some((part.from, true)),
                _ => None,
            },
            _ => Some((other, !is_conductor(&self.plan, index))),
        }
    }

    fn trail(&self, start: usize, end: usize, best: &[Option<(Cost, u32)>]) -> Path {
        let mut path = Path { steps: Vec::new(), points: vec![PointId::from(end)] };
        let mut at = end;
        while at != start {
            let Some((_, by)) = best[at] else { break };
            let part = &self.plan.parts[by as usize];
            let before = match part.act {
                Act::Output { .. } if at != part.from => part.to,
                _ if part.to == at => part.from,
                _ => part.to,
            };
            path.steps.push((ElementId(by), before == part.from));
            path.points.push(PointId::from(before));
            at = before;
        }
        path.steps.reverse();
        path.points.reverse();
        path
    }
}
