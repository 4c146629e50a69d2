//! Ideal branches: shorts and sources without resistance. They fix differences of potential exactly, so nodes that they
//! join are one unknown; their currents follow from Kirchhoff's first law.

use super::{eliminate::Conductances, wide::Wide};

/// An ideal branch: `to` stands above `from` by the drive of branch `branch`.
#[derive(Clone, Copy, Debug)]
pub(super) struct Tie {
    pub(super) branch: usize,
    pub(super) from: usize,
    pub(super) to: usize,
    /// A joint, not a source: of a loop it carries all it can.
    pub(super) joint: bool,
}

/// What a source carries beside a joint in a loop of both.
const BESIDE_JOINT: f64 = 1e-18;

/// A spanning forest over the ideal branches.
#[derive(Clone, Debug)]
pub(super) struct Forest {
    pub(super) ties: Vec<Tie>,
    /// The tree of each node; tree 0 holds the reference.
    pub(super) tree: Vec<u32>,
    /// How many trees there are.
    pub(super) trees: usize,
    /// Nodes, each after the one it hangs on.
    order: Vec<u32>,
    /// The tie by which a node hangs on another; `u32::MAX` at a root.
    hangs_by: Vec<u32>,
    /// Ties that close a loop.
    chords: Vec<u32>,
}

/// Ideal branches that contradict each other: a loop of them whose volts do not add up to zero.
pub(super) struct Contradiction {
    /// The branches of the loop.
    pub(super) branches: Vec<usize>,
}

impl Forest {
    pub(super) fn new(nodes: usize, ties: Vec<Tie>) -> Self {
        let mut first = vec![0u32; nodes + 1];
        for tie in &ties {
            first[tie.from] += 1;
            first[tie.to] += 1;
        }
        let mut sum = 0;
        for count in &mut first {
            sum += *count;
            *count = sum;
        }
        let mut at_node = vec![0u32; ties.len() * 2];
        for (index, tie) in ties.iter().enumerate().rev() {
            for node in [tie.from, tie.to] {
                first[node] -= 1;
                at_node[first[node] as usize] = index as u32;
            }
        }
        let mut forest = Self {
            tree: vec![u32::MAX; nodes],
            trees: 0,
            order: Vec::with_capacity(nodes),
            hangs_by: vec![u32::MAX; nodes],
            chords: Vec::new(),
            ties,
        };
        let mut used = vec![false; forest.ties.len()];
        for root in 0..nodes {
            if forest.tree[root] != u32::MAX {
                continue;
            }
            let tree = forest.trees as u32;
            forest.trees += 1;
            forest.tree[root] = tree;
            let mut next = forest.order.len();
            forest.order.push(root as u32);
            while let Some(&node) = forest.order.get(next) {
                next += 1;
                let node = node as usize;
                for &index in &at_node[first[node] as usize..first[node + 1] as usize] {
                    if std::mem::replace(&mut used[index as usize], true) {
                        continue;
                    }
                    let tie = forest.ties[index as usize];
                    let other = if tie.from == node { tie.to } else { tie.from };
                    if forest.tree[other] == u32::MAX {
                        forest.tree[other] = tree;
                        forest.hangs_by[other] = index;
                        forest.order.push(other as u32);
                    } else {
                        forest.chords.push(index);
                    }
                }
            }
        }
        forest
    }

    /// The node that `node` hangs on.
    fn parent(&self, node: usize) -> Option<(Tie, usize)> {
        let tie = *self.ties.get(self.hangs_by[node] as usize)?;
        Some((tie, if tie.from == node { tie.to } else { tie.from }))
    }

    /// How far each node stands above its tree's root.
    ///
    /// # Errors
    /// The first loop whose volts do not add up to zero (to ten digits of what it sums).
    pub(super) fn offsets(&self, drive: &[f64]) -> Result<Vec<Wide>, Contradiction> {
        let mut offsets = vec![Wide::ZERO; self.tree.len()];
        for &node in &self.order {
            let node = node as usize;
            if let Some((tie, parent)) = self.parent(node) {
                let step = Wide::from(drive[tie.branch]);
                offsets[node] = offsets[parent] + if tie.to == node { step } else { -step };
            }
        }
        for &chord in &self.chords {
            let tie = self.ties[chord as usize];
            let miss = (offsets[tie.to] - offsets[tie.from] - Wide::from(drive[tie.branch])).value().abs();
            let scale =
                drive[tie.branch].abs() + offsets[tie.to].value().abs() + offsets[tie.from].value().abs();
            if miss > 1e-10 * scale {
                return Err(Contradiction { branches: self.loop_of(tie) });
            }
        }
        Ok(offsets)
    }

    /// The branches of the loop that a chord closes, in order.
    fn loop_of(&self, chord: Tie) -> Vec<usize> {
        let mut branches = vec![chord.branch];
        let up = |from: usize| {
            let mut way = Vec::new();
            let mut node = from;
            while let Some((tie, parent)) = self.parent(node) {
                way.push(tie.branch);
                node = parent;
            }
            way
        };
        let (mut left, mut right) = (up(chord.from), up(chord.to));
        while left.last().is_some() && left.last() == right.last() {
            left.pop();
            right.pop();
        }
        branches.extend(left);
        branches.extend(right);
        branches.sort_unstable();
        branches
    }

    /// The current of each tie, from `from` to `to`, where `surplus` is what flows into each node by other branches
    /// (left destroyed). A loop of ties shares its current as if each had the same small resistance.
    pub(super) fn currents(&self, surplus: &mut [Wide]) -> Vec<Wide> {
        let mut amps = vec![Wide::ZERO; self.ties.len()];
        let mut looped = vec![false; self.trees];
        for &chord in &self.chords {
            looped[self.tree[self.ties[chord as usize].from] as usize] = true;
        }
        for &node in self.order.iter().rev() {
            let node = node as usize;
            if looped[self.tree[node] as usize] {
                continue;
            }
            if let Some((tie, parent)) = self.parent(node) {
                let flow = surplus[node];
                surplus[parent] += flow;
                amps[self.hangs_by[node] as usize] = if tie.from == node { flow } else { -flow };
            }
        }
        if !self.chords.is_empty() {
            self.looped_currents(&looped, surplus, &mut amps);
        }
        amps
    }

    fn looped_currents(&self, looped: &[bool], surplus: &[Wide], amps: &mut [Wide]) {
        let mut unknown = vec![usize::MAX; self.tree.len()];
        let mut injected = Vec::new();
        for &node in &self.order {
            let node = node as usize;
            if looped[self.tree[node] as usize] && self.hangs_by[node] != u32::MAX {
                unknown[node] = injected.len();
                injected.push(surplus[node]);
            }
        }
        let place = |node: usize| Some(unknown[node]).filter(|&at| at != usize::MAX);
        let weight = |tie: &Tie| if tie.joint { Wide::ONE } else { Wide::from(BESIDE_JOINT) };
        let mut network = Conductances::new(injected.len());
        let mine = |tie: &Tie| looped[self.tree[tie.from] as usize];
        for tie in self.ties.iter().filter(|tie| mine(tie)) {
            network.add(place(tie.from), place(tie.to), weight(tie));
        }
        network.eliminate().substitute(&mut injected);
        let height = |node: usize| place(node).map_or(Wide::ZERO, |at| injected[at]);
        for (tie, amps) in self.ties.iter().zip(amps).filter(|(tie, _)| mine(tie)) {
            *amps = weight(tie) * (height(tie.from) - height(tie.to));
        }
    }
}
