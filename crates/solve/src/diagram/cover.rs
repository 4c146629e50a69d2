//! How few rows a function can have at the least.
//!
//! Two states need a row each where no row holds both: where the smallest row that does, with a dash for each control in
//! which they differ, says different things. A set of states of which any two are so needs as many rows as it has
//! members ("fooling set": E. Kushilevitz, N. Nisan, "Communication complexity", Cambridge University Press 1997,
//! section 1.3). Such a set is gathered greedily, so the bound may be too low, never too high.

use super::{Diagram, Ref, rows::Row};
use std::collections::BTreeSet;

/// Tables longer than this are not bounded: nobody counts their rows.
const BOUNDED: usize = 256;

/// A bound from below for the number of rows of a function that has these.
pub(crate) fn least(diagram: &Diagram, at: Ref, rows: &[Row]) -> usize {
    if rows.len() <= 2 {
        return rows.len();
    }
    if rows.len() > BOUNDED {
        return 0;
    }
    let mut members: Vec<(Vec<usize>, u32)> = Vec::new();
    for row in rows {
        let found = candidates(diagram, at, row)
            .into_iter()
            .find(|state| members.iter().all(|m| m.1 != row.code || !share(diagram, at, &m.0, state)));
        if let Some(state) = found {
            members.push((state, row.code));
        }
    }
    members.len()
}

/// States of a row, those first of which most neighbours say something else.
fn candidates(diagram: &Diagram, at: Ref, row: &Row) -> Vec<Vec<usize>> {
    // A linear congruential walk with a fixed start (Knuth's MMIX constants).
    let mut seed = 1u64;
    let mut draw = |count: usize| {
        seed = seed.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        ((seed >> 33) % count as u64) as usize
    };
    let mut states: Vec<Vec<usize>> = Vec::new();
    for turn in 0..24 {
        let position = |(level, when): (usize, &Option<usize>)| match (when, turn) {
            (Some(position), _) => *position,
            (None, 0) => 0,
            (None, 1) => diagram.radix(level) - 1,
            (None, _) => draw(diagram.radix(level)),
        };
        states.push(row.when.iter().enumerate().map(position).collect());
    }
    let apart = |state: &Vec<usize>| {
        let turned = |level: usize| {
            let mut other = state.clone();
            (0..diagram.radix(level)).any(|p| {
                other[level] = p;
                diagram.value(at, &other) != row.code
            })
        };
        std::cmp::Reverse((0..diagram.levels()).filter(|&l| turned(l)).count())
    };
    states.sort_by_cached_key(apart);
    states.dedup();
    states
}

/// Whether one row can hold both states: whether all states between them say the same.
fn share(diagram: &Diagram, at: Ref, a: &[usize], b: &[usize]) -> bool {
    let mut said = None;
    let mut seen = BTreeSet::new();
    let mut stack = vec![at];
    while let Some(node) = stack.pop() {
        if let Some(code) = node.code() {
            if *said.get_or_insert(code) != code {
                return false;
            }
        } else if seen.insert(node) {
            let level = diagram.level(node);
            if a[level] == b[level] {
                stack.push(diagram.branch(node, level, a[level]));
            } else {
                stack.extend((0..diagram.radix(level)).map(|p| diagram.branch(node, level, p)));
            }
        }
    }
    true
}
