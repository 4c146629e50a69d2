//! From a function to the rows of a table: sets of states in which each control stands in one position, or in any (a
//! dash). Every state is in exactly one row.

use super::{Diagram, Ref, cover};
use keyon_circuit::hash::Map;

/// A row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Row {
    /// By level: the position, or a dash.
    pub(crate) when: Vec<Option<usize>>,
    pub(crate) code: u32,
}

/// The rows of a function.
#[derive(Clone, Debug)]
pub(crate) struct Rows {
    pub(crate) rows: Vec<Row>,
    /// A function with fewer rows than this there is not.
    pub(crate) least: usize,
    /// Sets of states that are left out, beyond the limit.
    pub(crate) left: Vec<(Vec<Option<usize>>, Ref)>,
}

/// Functions up to this size are searched for the best control to decide at every place, as long as that takes no more
/// than so many steps.
const SEARCHED: usize = 1000;
const STEPS: usize = 1 << 22;

/// The rows of a function, at most `limit` of them.
///
/// Which control is decided first at a place is chosen by what is left to say afterwards, so that few rows come out;
/// then rows that differ in one control only are joined. The fewest possible is a hard problem: how near these are is
/// told by a bound from below (`cover`).
pub(crate) fn rows(diagram: &mut Diagram, at: Ref, limit: usize) -> Rows {
    let mut made: Vec<Row> = Vec::new();
    let mut left = Vec::new();
    let mut choices: Map<Ref, usize> = Map::default();
    let mut steps = 0;
    let mut stack = vec![(at, vec![None; diagram.levels()])];
    while let Some((node, when)) = stack.pop() {
        if made.len() >= limit {
            left.push((when, node));
            continue;
        }
        if let Some(code) = node.code() {
            made.push(Row { when, code });
            continue;
        }
        let level = match choices.get(&node) {
            Some(&level) => level,
            None => {
                let level = choose(diagram, node, &mut steps);
                choices.insert(node, level);
                level
            }
        };
        for branch in (0..diagram.radix(level)).rev() {
            let mut when = when.clone();
            when[level] = Some(branch);
            let held = diagram.hold(node, level, branch);
            stack.push((held, when));
        }
    }
    if left.is_empty() {
        made = join(made, diagram);
    }
    let least = if left.is_empty() { cover::least(diagram, at, &made) } else { 0 };
    Rows { rows: made, least, left }
}

/// The level that leaves least to say.
fn choose(diagram: &mut Diagram, node: Ref, steps: &mut usize) -> usize {
    let own = diagram.level(node);
    let below = diagram.below(node);
    if below.len() > SEARCHED || *steps > STEPS || diagram.crowded() {
        return own;
    }
    let mut best = (u128::MAX, own);
    for level in diagram.support(node) {
        let mut cost = 0u128;
        *steps += below.len() * diagram.radix(level);
        for branch in 0..diagram.radix(level) {
            let held = diagram.hold(node, level, branch);
            cost = cost.saturating_add(paths(diagram, held));
        }
        if diagram.crowded() {
            return own;
        }
        if cost < best.0 {
            best = (cost, level);
        }
    }
    best.1
}

/// How many rows a function would have if its controls were decided in the diagram's order.
fn paths(diagram: &Diagram, at: Ref) -> u128 {
    let mut order = diagram.below(at);
    order.sort_by_key(|n| std::cmp::Reverse(diagram.level(*n)));
    let mut counts: Map<Ref, u128> = Map::default();
    let of = |counts: &Map<Ref, u128>, node: Ref| counts.get(&node).copied().unwrap_or(1);
    for node in order {
        let level = diagram.level(node);
        let sum = (0..diagram.radix(level))
            .map(|b| of(&counts, diagram.branch(node, level, b)))
            .fold(0u128, u128::saturating_add);
        counts.insert(node, sum);
    }
    of(&counts, at)
}

/// Joins rows that are equal but for one control, of which they have every position.
fn join(mut rows: Vec<Row>, diagram: &Diagram) -> Vec<Row> {
    loop {
        let before = rows.len();
        for level in 0..diagram.levels() {
            let mut place: Map<(Vec<Option<usize>>, u32), Vec<usize>> = Map::default();
            for (at, row) in rows.iter().enumerate().filter(|(_, r)| r.when[level].is_some()) {
                let mut rest = row.when.clone();
                rest[level] = None;
                place.entry((rest, row.code)).or_default().push(at);
            }
            let mut gone = vec![false; rows.len()];
            for ((rest, _), members) in place {
                if members.len() == diagram.radix(level) {
                    members.iter().skip(1).for_each(|&at| gone[at] = true);
                    rows[members[0]].when = rest;
                }
            }
            let mut at = 0;
            rows.retain(|_| {
                at += 1;
                !gone[at - 1]
            });
        }
        if rows.len() == before {
            return rows;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{super::*, *};

    fn check(d: &mut Diagram, f: Ref) -> Rows {
        let rows = rows(d, f, 10_000);
        let states: usize = (0..d.levels()).map(|l| d.radix(l)).product();
        for state in 0..states {
            let mut rest = state;
            let positions: Vec<usize> = (0..d.levels())
                .map(|l| {
                    let p = rest % d.radix(l);
                    rest /= d.radix(l);
                    p
                })
                .collect();
            let fits = |row: &&Row| row.when.iter().zip(&positions).all(|(w, p)| w.is_none_or(|w| w == *p));
            let found: Vec<&Row> = rows.rows.iter().filter(fits).collect();
            assert_eq!(found.len(), 1, "{positions:?}");
            assert_eq!(found[0].code, d.value(f, &positions));
        }
        rows
    }

    #[test]
    fn a_row_of_three_switches_has_four_rows() {
        let mut d = Diagram::new(vec![2; 3]);
        let mut all = YES;
        for level in 0..3 {
            let switch = d.literal(level, |p| p == 1);
            let mut next = NO;
            d.apply(Op::And, &all, &switch, &mut next);
            all = next;
        }
        let rows = check(&mut d, all);
        assert_eq!((rows.rows.len(), rows.least), (4, 4));
    }

    #[test]
    fn the_control_that_decides_most_comes_first() {
        // A selector of three positions chooses which of three switches counts: decided last, it would cost 8 rows.
        let mut d = Diagram::new(vec![2, 2, 2, 3]);
        let mut f = NO;
        for level in 0..3 {
            let chosen = d.literal(3, |p| p == level);
            let switch = d.literal(level, |p| p == 1);
            let mut both = NO;
            d.apply(Op::And, &chosen, &switch, &mut both);
            let mut next = NO;
            d.apply(Op::Or, &f, &both, &mut next);
            f = next;
        }
        let rows = check(&mut d, f);
        assert_eq!((rows.rows.len(), rows.least), (6, 6));
    }
}
