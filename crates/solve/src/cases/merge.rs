//! Fewer, larger sets of states: cases of equal outcome that differ in one control become one.

use keyon_circuit::hash::Map;
use keyon_circuit::ids::*;
use std::sync::Arc;

use crate::Solution;

/// A product set of states with one of them solved.
#[derive(Clone, Debug)]
pub(crate) struct Leaf {
    /// Positions of every control of the circuit.
    pub(crate) masks: Vec<u64>,
    pub(crate) solution: Arc<Solution>,
    /// In how many controls the solved state departs from the base.
    pub(crate) departs: usize,
    /// What counts as the outcome.
    pub(crate) key: String,
}

/// Joins leaves, and drops the controls that do not matter. `all` are the positions that were open at the start;
/// `whole` says that the leaves cover them all.
pub(crate) fn reduce(leaves: Vec<Leaf>, all: &[u64], controls: &[ControlId], whole: bool) -> Vec<Leaf> {
    let mut leaves = merge(leaves, controls);
    if !whole {
        return leaves;
    }
    for control in controls.iter().map(|c| c.index()) {
        if leaves.iter().all(|l| l.masks[control] == all[control]) || matters(&leaves, control) {
            continue;
        }
        // The outcome is the same in every position: keep those leaves that hold for one of them, for all of them.
        let of = |l: &Leaf| l.masks[control];
        let Some(keep) = leaves.iter().min_by_key(|l| l.departs).map(|l| of(l) & of(l).wrapping_neg()) else {
            continue;
        };
        leaves.retain(|l| l.masks[control] & keep != 0);
        for leaf in &mut leaves {
            leaf.masks[control] = all[control];
        }
        leaves = merge(leaves, controls);
    }
    leaves
}

/// Whether two states that differ in this control alone have different outcomes.
fn matters(leaves: &[Leaf], control: usize) -> bool {
    let meet = |a: &Leaf, b: &Leaf| {
        a.masks.iter().zip(&b.masks).enumerate().all(|(c, (x, y))| c == control || x & y != 0)
    };
    leaves.iter().enumerate().any(|(i, a)| leaves[..i].iter().any(|b| a.key != b.key && meet(a, b)))
}

/// Joins leaves until no two differ in one control only. The sets stay disjoint and cover the same states. Of two
/// solved states the one with fewer departures from the base is kept, then the earlier.
fn merge(mut leaves: Vec<Leaf>, controls: &[ControlId]) -> Vec<Leaf> {
    loop {
        let before = leaves.len();
        // The last decided matter least: joining them first undoes the tree from its leaves.
        for &control in controls.iter().rev() {
            // Of disjoint sets no two are equal: those that do not differ here are not joined here.
            if differ(&leaves, control.index()) {
                leaves = join(leaves, control.index(), controls);
            }
        }
        if leaves.len() == before {
            return leaves;
        }
    }
}

/// Whether leaves differ in a control.
fn differ(leaves: &[Leaf], control: usize) -> bool {
    leaves.windows(2).any(|pair| pair[0].masks[control] != pair[1].masks[control])
}

/// Joins leaves that are equal but for this control. Only `controls` were decided: in all others they are equal.
fn join(leaves: Vec<Leaf>, control: usize, controls: &[ControlId]) -> Vec<Leaf> {
    let others: Vec<usize> =
        controls.iter().map(|c| c.index()).filter(|&c| c != control && differ(&leaves, c)).collect();
    let mut place: Map<(Vec<u64>, String), usize> = Map::default();
    let mut joined: Vec<Leaf> = Vec::with_capacity(leaves.len());
    for leaf in leaves {
        let rest = (others.iter().map(|&c| leaf.masks[c]).collect(), leaf.key.clone());
        match place.get(&rest) {
            Some(&at) => {
                let kept = &mut joined[at];
                kept.masks[control] |= leaf.masks[control];
                if leaf.departs < kept.departs {
                    kept.departs = leaf.departs;
                    kept.solution = leaf.solution;
                }
            }
            None => {
                place.insert(rest, joined.len());
                joined.push(leaf);
            }
        }
    }
    joined
}
