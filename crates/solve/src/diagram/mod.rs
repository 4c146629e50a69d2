//! Decision diagrams: functions of several controls in which equal parts are one (R. Bryant, "Graph-based algorithms for
//! boolean function manipulation", IEEE Transactions on Computers C-35 (1986)), with a branch for each position of a
//! control, and any number at the leaves. However many states there are, a function is as large as what it says.

mod cover;
mod rows;

pub(crate) use rows::{Rows, rows};

use crate::lanes::program::{Algebra, Op};
use keyon_circuit::hash::Map;
use std::collections::BTreeMap;

/// A node of a [`Diagram`], or a leaf with its code.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) struct Ref(u32);

const LEAF: u32 = 1 << 31;
/// No, and yes, where a function is of that kind.
pub(crate) const NO: Ref = Ref(LEAF);
pub(crate) const YES: Ref = Ref(LEAF | 1);

/// Nodes that a diagram may have, and pairs of nodes that may be looked at to combine functions. Beyond that it is marked
/// as full, and what it says is void.
const MOST: usize = 1 << 19;
const PAIRS: usize = 1 << 24;
/// Results for which room is kept from one combination to the next.
const ROOM: usize = 1 << 8;

/// Functions over the same controls.
#[derive(Debug)]
pub(crate) struct Diagram {
    /// Positions of the control of each level; level 0 is decided first.
    radices: Vec<usize>,
    /// Level of each node, and where its branches begin.
    nodes: Vec<(u32, u32)>,
    branches: Vec<Ref>,
    unique: Map<(u32, Vec<Ref>), Ref>,
    /// The same of controls with two positions, which nearly all have.
    unique_pairs: Map<(u32, Ref, Ref), Ref>,
    /// To work in.
    results: Map<(Ref, Ref), Ref>,
    pairs: usize,
    pub(crate) full: bool,
}

impl Ref {
    pub(crate) fn leaf(code: u32) -> Self {
        Self(LEAF | code)
    }

    /// The code of a leaf.
    pub(crate) fn code(self) -> Option<u32> {
        (self.0 & LEAF != 0).then_some(self.0 & !LEAF)
    }
}

impl Diagram {
    pub(crate) fn new(radices: Vec<usize>) -> Self {
        Self {
            radices,
            nodes: Vec::new(),
            branches: Vec::new(),
            unique: Map::default(),
            unique_pairs: Map::default(),
            results: Map::default(),
            pairs: 0,
            full: false,
        }
    }

    /// Whether there is little room left for new functions.
    pub(crate) fn crowded(&self) -> bool {
        self.nodes.len() > MOST / 2
    }

    pub(crate) fn levels(&self) -> usize {
        self.radices.len()
    }

    pub(crate) fn radix(&self, level: usize) -> usize {
        self.radices[level]
    }

    /// The level that a function decides first; the number of levels for a leaf.
    pub(crate) fn level(&self, at: Ref) -> usize {
        self.nodes.get(at.0 as usize).map_or(self.radices.len(), |n| n.0 as usize)
    }

    /// The function with the control of `level` in position `branch`; `level` is not below the function's own.
    pub(crate) fn branch(&self, at: Ref, level: usize, branch: usize) -> Ref {
        match self.nodes.get(at.0 as usize) {
            Some(&(own, first)) if own as usize == level => self.branches[first as usize + branch],
            _ => at,
        }
    }

    /// The function that is `branches` by the position of the control of `level`.
    pub(crate) fn make(&mut self, level: usize, branches: &[Ref]) -> Ref {
        match branches.split_first() {
            None => return NO,
            Some((first, rest)) if rest.iter().all(|b| b == first) => return *first,
            Some(_) => {}
        }
        let known = match *branches {
            [a, b] => self.unique_pairs.get(&(level as u32, a, b)),
            _ => self.unique.get(&(level as u32, branches.to_vec())),
        };
        if let Some(&known) = known {
            return known;
        }
        if self.nodes.len() >= MOST {
            self.full = true;
            return NO;
        }
        let made = Ref(self.nodes.len() as u32);
        self.nodes.push((level as u32, self.branches.len() as u32));
        self.branches.extend_from_slice(branches);
        match *branches {
            [a, b] => self.unique_pairs.insert((level as u32, a, b), made),
            _ => self.unique.insert((level as u32, branches.to_vec()), made),
        };
        made
    }

    /// Yes where the control of `level` stands in one of these positions.
    pub(crate) fn literal(&mut self, level: usize, wanted: impl Fn(usize) -> bool) -> Ref {
        let branches: Vec<Ref> = (0..self.radices[level]).map(|p| if wanted(p) { YES } else { NO }).collect();
        self.make(level, &branches)
    }

    /// Two functions combined state by state. `short` knows the results that need no walk, those of two leaves at the
    /// least.
    pub(crate) fn combine(&mut self, a: Ref, b: Ref, short: &mut dyn FnMut(Ref, Ref) -> Option<Ref>) -> Ref {
        if let Some(known) = short(a, b) {
            return known;
        }
        let mut results = std::mem::take(&mut self.results);
        let combined = self.walk(a, b, short, &mut results);
        // Large room is not kept: to empty it takes longer than to make a small one.
        if results.capacity() <= ROOM {
            results.clear();
            self.results = results;
        }
        combined
    }

    /// Both by all that they branch to.
    fn walk(
        &mut self,
        a: Ref,
        b: Ref,
        short: &mut dyn FnMut(Ref, Ref) -> Option<Ref>,
        results: &mut Map<(Ref, Ref), Ref>,
    ) -> Ref {
        // All pairs that are met, by level downwards; then their results upwards. Most functions ask few of many controls, so
        // that only the levels that are met are kept.
        let mut met: BTreeMap<usize, Vec<(Ref, Ref)>> = BTreeMap::new();
        met.insert(self.level(a).min(self.level(b)), vec![(a, b)]);
        results.insert((a, b), NO);
        let mut looked: Vec<(usize, Vec<(Ref, Ref)>)> = Vec::new();
        // What a pair branches to lies deeper.
        while let Some((level, pairs)) = met.pop_first().filter(|(level, _)| *level < self.levels()) {
            for &(a, b) in &pairs {
                for branch in 0..self.radices[level] {
                    let pair = (self.branch(a, level, branch), self.branch(b, level, branch));
                    match short(pair.0, pair.1) {
                        Some(known) => _ = results.insert(pair, known),
                        None if results.contains_key(&pair) => {}
                        None => {
                            results.insert(pair, NO);
                            met.entry(self.level(pair.0).min(self.level(pair.1))).or_default().push(pair);
                        }
                    }
                }
            }
            looked.push((level, pairs));
            if self.pairs + results.len() > PAIRS {
                self.full = true;
                return NO;
            }
        }
        self.pairs += results.len();
        let mut branches = Vec::new();
        for (level, pairs) in looked.into_iter().rev() {
            for (a, b) in pairs {
                branches.clear();
                for branch in 0..self.radices[level] {
                    let pair = (self.branch(a, level, branch), self.branch(b, level, branch));
                    branches.push(results.get(&pair).copied().unwrap_or(NO));
                }
                let made = self.make(level, &branches);
                results.insert((a, b), made);
            }
        }
        results.get(&(a, b)).copied().unwrap_or(NO)
    }

    /// `code` where `when` is yes, else what `rest` says.
    pub(crate) fn pick(&mut self, when: Ref, code: u32, rest: Ref) -> Ref {
        self.combine(when, rest, &mut |when, rest| match when.code() {
            Some(0) => Some(rest),
            Some(_) => Some(Ref::leaf(code)),
            None if rest == Ref::leaf(code) => Some(rest),
            None => None,
        })
    }

    /// The function with other codes at its leaves.
    pub(crate) fn relabel(&mut self, at: Ref, codes: &Map<u32, u32>) -> Ref {
        self.combine(at, NO, &mut |leaf, _| {
            let code = leaf.code()?;
            Some(Ref::leaf(codes.get(&code).copied().unwrap_or(code)))
        })
    }

    /// The function with its codes one higher.
    pub(crate) fn shift(&mut self, at: Ref) -> Ref {
        self.combine(at, NO, &mut |leaf, _| leaf.code().map(|code| Ref::leaf(code + 1)))
    }

    /// The function with the control of a level held.
    pub(crate) fn hold(&mut self, at: Ref, level: usize, branch: usize) -> Ref {
        if self.level(at) == level {
            return self.branch(at, level, branch);
        }
        let mut order = self.below(at);
        order.retain(|n| self.level(*n) <= level);
        let mut held: Map<Ref, Ref> = Map::default();
        // From the lowest level upwards.
        order.sort_by_key(|n| std::cmp::Reverse(self.level(*n)));
        for node in order {
            let own = self.level(node);
            let made = if own == level {
                self.branch(node, level, branch)
            } else {
                let branches: Vec<Ref> = (0..self.radices[own])
                    .map(|b| self.branch(node, own, b))
                    .map(|b| held.get(&b).copied().unwrap_or(b))
                    .collect();
                self.make(own, &branches)
            };
            held.insert(node, made);
        }
        held.get(&at).copied().unwrap_or(at)
    }

    /// The nodes of a function, leaves left out.
    pub(crate) fn below(&self, at: Ref) -> Vec<Ref> {
        let mut seen = std::collections::BTreeSet::new();
        let mut stack = vec![at];
        while let Some(node) = stack.pop() {
            if node.code().is_none() && seen.insert(node) {
                let level = self.level(node);
                stack.extend((0..self.radices[level]).map(|b| self.branch(node, level, b)));
            }
        }
        seen.into_iter().collect()
    }

    /// The levels on which a function depends.
    pub(crate) fn support(&self, at: Ref) -> Vec<usize> {
        let mut levels: Vec<usize> = self.below(at).into_iter().map(|n| self.level(n)).collect();
        levels.sort_unstable();
        levels.dedup();
        levels
    }

    /// The codes that a function takes.
    pub(crate) fn codes(&self, at: Ref) -> Vec<u32> {
        let mut codes: Vec<u32> = at.code().into_iter().collect();
        for node in self.below(at) {
            let level = self.level(node);
            codes.extend((0..self.radices[level]).filter_map(|b| self.branch(node, level, b).code()));
        }
        codes.sort_unstable();
        codes.dedup();
        codes
    }

    /// The code in one state: the position of each level's control.
    pub(crate) fn value(&self, at: Ref, positions: &[usize]) -> u32 {
        let mut node = at;
        loop {
            match node.code() {
                Some(code) => return code,
                None => {
                    let level = self.level(node);
                    node = self.branch(node, level, positions[level]);
                }
            }
        }
    }

    /// In how many states a function takes a code, of all controls of the diagram.
    pub(crate) fn count(&self, at: Ref, code: u32) -> u128 {
        let between = |from: usize, to: usize| {
            self.radices[from..to].iter().fold(1u128, |n, &r| n.saturating_mul(r as u128))
        };
        let mut counts: Map<Ref, u128> = Map::default();
        let mut order = self.below(at);
        order.sort_by_key(|n| std::cmp::Reverse(self.level(*n)));
        let of = |counts: &Map<Ref, u128>, node: Ref, above: usize| {
            let own = match node.code() {
                Some(found) => u128::from(found == code),
                None => counts.get(&node).copied().unwrap_or(0),
            };
            own.saturating_mul(between(above, self.level(node)))
        };
        for node in order {
            let level = self.level(node);
            let sum = (0..self.radices[level])
                .map(|b| of(&counts, self.branch(node, level, b), level + 1))
                .fold(0u128, u128::saturating_add);
            counts.insert(node, sum);
        }
        of(&counts, at, 0)
    }

    /// A function of another diagram, whose levels are these of this one.
    pub(crate) fn copy(&mut self, from: &Self, at: Ref, levels: &[usize]) -> Ref {
        let mut order = from.below(at);
        order.sort_by_key(|n| std::cmp::Reverse(from.level(*n)));
        let mut copies: Map<Ref, Ref> = Map::default();
        for node in order {
            let level = from.level(node);
            let branches: Vec<Ref> = (0..from.radices[level])
                .map(|b| from.branch(node, level, b))
                .map(|b| copies.get(&b).copied().unwrap_or(b))
                .collect();
            let made = self.make(levels[level], &branches);
            copies.insert(node, made);
        }
        copies.get(&at).copied().unwrap_or(at)
    }
}

/// Functions as values of a program.
impl Algebra for Diagram {
    type Value = Ref;

    fn constant(&self, yes: bool) -> Ref {
        if yes { YES } else { NO }
    }

    fn apply(&mut self, op: Op, a: &Ref, b: &Ref, out: &mut Ref) {
        if self.full {
            *out = NO;
            return;
        }
        *out = self.combine(*a, *b, &mut |a, b| match op {
            _ if a == b => Some(if op == Op::Without { NO } else { a }),
            Op::And if a == NO || b == NO => Some(NO),
            Op::And if a == YES => Some(b),
            Op::And if b == YES => Some(a),
            Op::Or if a == YES || b == YES => Some(YES),
            Op::Or if a == NO => Some(b),
            Op::Or if b == NO => Some(a),
            Op::Without if a == NO || b == YES => Some(NO),
            Op::Without if b == NO => Some(a),
            _ => None,
        });
    }

    fn add(&mut self, all: &mut Ref, more: &Ref) -> bool {
        let mut sum = NO;
        self.apply(Op::Or, all, more, &mut sum);
        std::mem::replace(all, sum) != sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_functions_are_one() {
        let mut d = Diagram::new(vec![2, 3, 2]);
        let a = d.literal(0, |p| p == 1);
        let b = d.literal(1, |p| p > 0);
        let (mut both, mut either, mut back) = (NO, NO, NO);
        d.apply(Op::And, &a, &b, &mut both);
        d.apply(Op::Or, &both, &a, &mut either);
        assert_eq!(either, a);
        d.apply(Op::Without, &a, &both, &mut back);
        assert_eq!(d.count(both, 1), 4);
        assert_eq!(d.count(back, 1), 2);
        assert_eq!(d.count(back, 0), 10);
        let three = d.pick(both, 7, back);
        assert_eq!(d.codes(three), vec![0, 1, 7]);
        assert_eq!(d.value(three, &[1, 2, 0]), 7);
        assert_eq!(d.hold(three, 1, 0), d.literal(0, |p| p == 1));
        assert_eq!(d.support(three), vec![0, 1]);
    }

    #[test]
    fn a_ladder_is_as_large_as_it_is_long() {
        // Forty pairs in a row, of each of which one has to be closed: 2^80 states.
        let mut d = Diagram::new(vec![2; 80]);
        let mut all = YES;
        for stage in 0..40 {
            let (a, b) = (d.literal(2 * stage, |p| p == 1), d.literal(2 * stage + 1, |p| p == 1));
            let mut pair = NO;
            d.apply(Op::Or, &a, &b, &mut pair);
            let mut next = NO;
            d.apply(Op::And, &all, &pair, &mut next);
            all = next;
        }
        assert_eq!(d.below(all).len(), 80);
        assert_eq!(d.count(all, 1), 3u128.pow(40));
    }
}
