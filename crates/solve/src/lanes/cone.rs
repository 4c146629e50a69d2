//! What lies around some nodes, up to where one potential always holds (decision 29: beyond it nothing matters here).

use super::{
    dag::{Bit, NO, YES},
    graph::Graph,
    reach::Reach,
};
use crate::plan::{Act, Plan};
use std::collections::BTreeSet;

/// See the module's page.
#[derive(Debug)]
pub(crate) struct Around {
    near: Vec<Vec<u32>>,
    /// Nodes at which a cone ends.
    pub(crate) ends: Vec<bool>,
    /// What is no wiring, by the nodes that it touches: indices into `Plan::parts`.
    touches: Vec<Vec<u32>>,
}

impl Around {
    pub(crate) fn new(plan: &Plan<'_>, graph: &Graph, reach: &Reach) -> Self {
        let mut near = vec![Vec::new(); graph.nodes];
        let mut join = |a: u32, b: u32| {
            near[a as usize].push(b);
            near[b as usize].push(a);
        };
        for edge in graph.wiring.iter().chain(&graph.loads).chain(&graph.diodes) {
            join(edge.a, edge.b);
        }
        for (edge, feed) in &graph.outputs {
            join(edge.a, edge.b);
            join(*feed, edge.b);
        }
        let mut ends: Vec<bool> = (0..graph.nodes)
            .map(|node| {
                let always = reach.held.iter().filter(|h| h.any[node] == YES).count();
                let ever = reach.held.iter().filter(|h| h.any[node] != NO).count();
                always == 1 && ever == 1
            })
            .collect();
        // But for a diode that would lead from one potential to a lower one.
        for edge in &graph.diodes {
            let Act::Diode(drop) = plan.parts[edge.part].act else { continue };
            let at = |node: u32| {
                reach.held.iter().filter(move |h| h.any[node as usize] != NO).map(|h| h.potential.volts)
            };
            let leads = at(edge.a).any(|a| at(edge.b).any(|b| a - b >= drop - 1e-6));
            if leads {
                ends[edge.a as usize] = false;
                ends[edge.b as usize] = false;
            }
        }
        let mut touches = vec![Vec::new(); graph.nodes];
        for edge in graph.loads.iter().chain(&graph.diodes).chain(graph.outputs.iter().map(|(e, _)| e)) {
            touches[edge.a as usize].push(edge.part as u32);
            touches[edge.b as usize].push(edge.part as u32);
        }
        Self { near, ends, touches }
    }

    /// The nodes around these, those at which the cone ends included.
    pub(crate) fn cone(&self, starts: &BTreeSet<u32>) -> BTreeSet<u32> {
        let mut seen = BTreeSet::new();
        let mut stack: Vec<u32> = starts.iter().copied().collect();
        while let Some(node) = stack.pop() {
            if seen.insert(node) && !self.ends[node as usize] {
                stack.extend(&self.near[node as usize]);
            }
        }
        seen
    }

    /// What is no wiring inside a cone: between two of its nodes of which one is no end.
    fn inside(&self, plan: &Plan<'_>, graph: &Graph, cone: &BTreeSet<u32>) -> BTreeSet<u32> {
        let mut parts = BTreeSet::new();
        for &node in cone.iter().filter(|&&n| !self.ends[n as usize]) {
            parts.extend(&self.touches[node as usize]);
        }
        // … and what joins two ends, if both belong to it.
        for &node in cone.iter().filter(|&&n| self.ends[n as usize]) {
            let both = |part: &&u32| {
                let p = &plan.parts[**part as usize];
                [p.from, p.to].iter().all(|&p| cone.contains(&graph.node_of[p]))
            };
            parts.extend(self.touches[node as usize].iter().filter(both));
        }
        parts
    }

    /// What a cone looks like to bounds.
    pub(crate) fn local(
        &self,
        plan: &Plan<'_>,
        graph: &Graph,
        reach: &Reach,
        takes: &[f64],
        starts: &BTreeSet<u32>,
    ) -> Local {
        let cone = self.cone(starts);
        let mut local = Local { own: 0.0, points: Vec::new() };
        for part in self.inside(plan, graph, &cone) {
            local.own += takes.get(part as usize).copied().unwrap_or(0.0);
            let p = &plan.parts[part as usize];
            let feed = if let Act::Output { feed, .. } = p.act { Some(feed) } else { None };
            local.points.extend([Some(p.from), Some(p.to), feed].into_iter().flatten());
        }
        local.points.sort_unstable();
        local.points.dedup();
        local.points.retain(|&p| reach.held.iter().any(|h| h.any[graph.node_of[p] as usize] != NO));
        local
    }
}

/// A cone as bounds see it.
#[derive(Clone, Debug)]
pub(crate) struct Local {
    /// Amps that all in it can take.
    pub(crate) own: f64,
    /// Points at which a potential may come into it.
    pub(crate) points: Vec<usize>,
}

impl Local {
    /// The points at which this potential may.
    pub(crate) fn points(&self, graph: &Graph, held: &[Bit]) -> Vec<usize> {
        self.points.iter().copied().filter(|&p| held[graph.node_of[p] as usize] != NO).collect()
    }
}
