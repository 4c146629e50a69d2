//! What reaches what: the closure of a graph whose edges are expressions.
//!
//! Nodes are taken out one after the other, the least connected first; a node that goes leaves its neighbours joined by
//! the ways that led through it. That is Gaussian elimination over "or" and "and" instead of plus and times (R. Backhouse,
//! B. Carré, "Regular algebra applied to path-finding problems", Journal of the IMA 15 (1975)). Wiring is nearly a tree,
//! so that it costs about as many operations as there are edges, and no round of it is ever repeated.

use super::dag::{Bit, Dag, NO};
use std::{cmp::Reverse, collections::BTreeMap, collections::BinaryHeap};

/// Operations that a closure may cost; a graph that is meshed beyond that is left to the solver of single states.
const MOST: usize = 4_000_000;

/// Ways from a node to a neighbour and back.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Ways {
    out: Bit,
    back: Bit,
}

#[derive(Debug)]
struct Step {
    node: u32,
    links: Vec<(u32, Ways)>,
}

/// An eliminated graph.
#[derive(Debug)]
pub(crate) struct Closure {
    steps: Vec<Step>,
}

impl Closure {
    /// Of these edges: from, to, when it leads there, when it leads back. `None` where it is too meshed.
    pub(crate) fn new(
        dag: &mut Dag,
        nodes: usize,
        edges: impl IntoIterator<Item = (u32, u32, Bit, Bit)>,
    ) -> Option<Self> {
        let mut near: Vec<BTreeMap<u32, Ways>> = vec![BTreeMap::new(); nodes];
        for (a, b, out, back) in edges.into_iter().filter(|&(a, b, ..)| a != b) {
            add(dag, &mut near, a, b, out, back);
        }
        let mut heap: BinaryHeap<Reverse<(usize, u32)>> =
            (0..nodes).map(|n| Reverse((near[n].len(), n as u32))).collect();
        let mut done = vec![false; nodes];
        let mut steps = Vec::with_capacity(nodes);
        while let Some(Reverse((degree, node))) = heap.pop() {
            if done[node as usize] || near[node as usize].len() != degree {
                continue;
            }
            done[node as usize] = true;
            let links: Vec<(u32, Ways)> = std::mem::take(&mut near[node as usize]).into_iter().collect();
            for &(other, _) in &links {
                near[other as usize].remove(&node);
            }
            for (at, &(u, to_u)) in links.iter().enumerate() {
                for &(w, to_w) in &links[at + 1..] {
                    let out = dag.and(to_u.back, to_w.out);
                    let back = dag.and(to_w.back, to_u.out);
                    add(dag, &mut near, u, w, out, back);
                }
            }
            if dag.len() > MOST {
                return None;
            }
            for &(other, _) in &links {
                heap.push(Reverse((near[other as usize].len(), other)));
            }
            if !links.is_empty() {
                steps.push(Step { node, links });
            }
        }
        Some(Self { steps })
    }

    /// What is at a node reaches where edges lead from there.
    pub(crate) fn spread(&self, dag: &mut Dag, at: &mut [Bit]) {
        self.run(dag, at, |ways| (ways.out, ways.back));
    }

    /// What is at a node reaches where edges lead there from.
    pub(crate) fn gather(&self, dag: &mut Dag, at: &mut [Bit]) {
        self.run(dag, at, |ways| (ways.back, ways.out));
    }

    fn run(&self, dag: &mut Dag, at: &mut [Bit], turn: impl Fn(&Ways) -> (Bit, Bit)) {
        for step in &self.steps {
            let own = at[step.node as usize];
            if own != NO {
                for (other, ways) in &step.links {
                    let more = dag.and(own, turn(ways).0);
                    at[*other as usize] = dag.or(at[*other as usize], more);
                }
            }
        }
        for step in self.steps.iter().rev() {
            let mut own = at[step.node as usize];
            for (other, ways) in &step.links {
                let more = dag.and(at[*other as usize], turn(ways).1);
                own = dag.or(own, more);
            }
            at[step.node as usize] = own;
        }
    }
}

fn add(dag: &mut Dag, near: &mut [BTreeMap<u32, Ways>], a: u32, b: u32, out: Bit, back: Bit) {
    if out == NO && back == NO {
        return;
    }
    for (from, to, out, back) in [(a, b, out, back), (b, a, back, out)] {
        let ways = near[from as usize].entry(to).or_insert(Ways { out: NO, back: NO });
        ways.out = dag.or(ways.out, out);
        ways.back = dag.or(ways.back, back);
    }
}

#[cfg(test)]
mod tests {
    use super::{super::dag::YES, *};

    /// All expressions of a dag for one assignment of its inputs.
    fn values(dag: &Dag, given: &[bool]) -> Vec<bool> {
        use super::super::dag::Node;
        let mut all: Vec<bool> = Vec::new();
        for at in 0..dag.len() as u32 {
            let is = |b: Bit| all[b.0 as usize];
            all.push(match dag.node(Bit(at)) {
                Node::Constant(yes) => yes,
                Node::Input(n) => given[n as usize],
                Node::And(a, b) => is(a) && is(b),
                Node::Or(a, b) => is(a) || is(b),
                Node::Without(a, b) => is(a) && !is(b),
            });
        }
        all
    }

    #[test]
    fn a_closure_is_what_a_walk_finds() {
        // A square with a diagonal, one edge of it a one-way street.
        let ends = [(0u32, 1u32), (1, 2), (2, 3), (3, 0), (0, 2)];
        let mut dag = Dag::new();
        let inputs: Vec<Bit> = (0..5).map(|n| dag.input(n)).collect();
        let edges = ends
            .iter()
            .zip(&inputs)
            .enumerate()
            .map(|(i, (&(a, b), &w))| (a, b, w, if i == 3 { NO } else { w }));
        let closure = Closure::new(&mut dag, 4, edges.collect::<Vec<_>>()).unwrap();
        let mut to = vec![YES, NO, NO, NO];
        let mut from = to.clone();
        closure.spread(&mut dag, &mut to);
        closure.gather(&mut dag, &mut from);
        for bits in 0..32u32 {
            let given: Vec<bool> = (0..5).map(|i| bits >> i & 1 == 1).collect();
            let values = values(&dag, &given);
            for (forward, found) in [(true, &to), (false, &from)] {
                let mut seen = [true, false, false, false];
                for _ in 0..4 {
                    for (i, &(a, b)) in ends.iter().enumerate().filter(|(i, _)| given[*i]) {
                        let (a, b) =
                            if forward { (a as usize, b as usize) } else { (b as usize, a as usize) };
                        seen[b] |= seen[a];
                        seen[a] |= seen[b] && i != 3;
                    }
                }
                for node in 0..4 {
                    assert_eq!(values[found[node].0 as usize], seen[node], "{bits:05b} {node} {forward}");
                }
            }
        }
    }
}
