//! Blocks of states: a bit a state, 64 states a word.

use super::program::{Algebra, Op};

/// Words of a block.
pub(crate) const WORDS: usize = 64;
/// States of a block at the most: all values of a circuit's program then stay in the fast cache.
pub(crate) const LANES: usize = WORDS * 64;

/// One yes or no for each state of a block.
#[derive(Clone, PartialEq, Eq)]
pub(crate) struct Lanes(pub(crate) Box<[u64; WORDS]>);

/// Words of states as values of a program.
pub(crate) struct Words;

impl Algebra for Words {
    type Value = Lanes;

    fn constant(&self, yes: bool) -> Lanes {
        Lanes(Box::new([if yes { u64::MAX } else { 0 }; WORDS]))
    }

    fn apply(&mut self, op: Op, a: &Lanes, b: &Lanes, out: &mut Lanes) {
        let words = out.0.iter_mut().zip(a.0.iter().zip(b.0.iter()));
        match op {
            Op::And => words.for_each(|(out, (a, b))| *out = a & b),
            Op::Or => words.for_each(|(out, (a, b))| *out = a | b),
            Op::Without => words.for_each(|(out, (a, b))| *out = a & !b),
        }
    }

    fn add(&mut self, all: &mut Lanes, more: &Lanes) -> bool {
        let mut news = 0;
        for (all, more) in all.0.iter_mut().zip(more.0.iter()) {
            news |= more & !*all;
            *all |= more;
        }
        news != 0
    }
}

impl Lanes {
    /// How many of the first `count` states have it.
    pub(crate) fn count(&self, count: usize) -> u64 {
        let whole = count / 64;
        let full: u64 = self.0.iter().take(whole).map(|w| u64::from(w.count_ones())).sum();
        let rest = match (count % 64, self.0.get(whole)) {
            (0, _) | (_, None) => 0,
            (rest, Some(word)) => u64::from((word & ((1 << rest) - 1)).count_ones()),
        };
        full + rest
    }

    /// Whether state `at` has it.
    pub(crate) fn get(&self, at: usize) -> bool {
        self.0.get(at / 64).is_some_and(|word| word >> (at % 64) & 1 == 1)
    }

    /// No state has it.
    pub(crate) fn none() -> Self {
        Self(Box::new([0; WORDS]))
    }

    /// How many of the first `count` states have it and not the other.
    pub(crate) fn count_without(&self, other: &Self, count: usize) -> u64 {
        let mut left = Self::none();
        Words.apply(Op::Without, self, other, &mut left);
        left.count(count)
    }

    fn set(&mut self, at: usize) {
        if let Some(word) = self.0.get_mut(at / 64) {
            *word |= 1 << (at % 64);
        }
    }

    /// Where states repeat: `run` states of each of `radix` positions in turn; those whose position is in `positions`.
    pub(crate) fn pattern(run: usize, positions: &[bool], count: usize) -> Self {
        let mut lanes = Self(Box::new([0; WORDS]));
        let mut at = 0;
        while at < count {
            for &wanted in positions {
                let end = (at + run).min(count);
                if wanted {
                    (at..end).for_each(|lane| lanes.set(lane));
                }
                at = end;
            }
        }
        lanes
    }
}
