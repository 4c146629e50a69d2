//! What lies around some nodes, up to where one potential always holds (decision 29: beyond it nothing matters here).

use super::{
    dag::{NO, YES},
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
        Self { near, ends }
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
}
