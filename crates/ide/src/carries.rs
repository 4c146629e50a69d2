//! What a thing carries or does in every state that matters, condensed: states with the same answer are one row, and a
//! row names only the controls that matter to it.

use crate::display::cell;
use keyon_circuit::{ids::ControlId, model::Circuit};
use keyon_solve::{Case, Cases, Solution};
use std::sync::Arc;

/// States that a hover may solve for one question before it says that there are more.
const LIMIT: usize = 256;
/// Elements that are solved for one hover at the most, over all its cases: somebody waits.
const WORK: usize = 60_000;

/// How many cases are looked at in a circuit of this size.
pub(crate) fn limit(circuit: &Circuit) -> usize {
    (WORK / circuit.elements.len().max(1)).clamp(4, LIMIT)
}
/// Most rows that a hover shows.
const ROWS: usize = 8;
/// Boxes above which their description is not shortened: the work grows with their square.
const BOXES: usize = 600;

/// One row: when, and what then.
#[derive(Clone, Debug)]
pub(crate) struct Row<K> {
    /// Sets of positions, one bit set a control of the cases; the row holds in any of them. They may overlap.
    pub(crate) when: Vec<Vec<u64>>,
    /// What the states of the row have in common.
    pub(crate) key: K,
    /// Lowest and highest figure of the row's states.
    pub(crate) figures: Option<(f64, f64)>,
    /// One of the states.
    pub(crate) solution: Arc<Solution>,
}

/// The cases as rows: one for each `key`, split where the figures lie more than `gap` of the larger, and more than the
/// least that counts, apart.
#[allow(
    clippy::type_complexity,
    reason = "groups by key, with the figure of each case: read in this function only"
)]
pub(crate) fn rows<K: PartialEq + Clone>(
    circuit: &Circuit,
    cases: &Cases,
    key: impl Fn(&Solution) -> K,
    figure: impl Fn(&Solution) -> Option<f64>,
    (gap, least): (f64, f64),
) -> Vec<Row<K>> {
    let mut groups: Vec<(K, Vec<(Option<f64>, &Case)>)> = Vec::new();
    for case in &cases.cases {
        let (key, figure) = (key(&case.solution), figure(&case.solution));
        match groups.iter_mut().find(|(known, _)| *known == key) {
            Some((_, group)) => group.push((figure, case)),
            None => groups.push((key, vec![(figure, case)])),
        }
    }
    let mut rows: Vec<Row<K>> = Vec::new();
    for (key, mut group) in groups {
        group.sort_by(|a, b| a.0.partial_cmp(&b.0).unwrap_or(std::cmp::Ordering::Equal));
        let mut last: Option<Option<f64>> = None;
        for (figure, case) in group {
            let apart = match (last, figure) {
                (None, _) => true,
                (Some(None), None) => false,
                (Some(Some(low)), Some(high)) => {
                    (high - low).abs() > (gap * high.abs().max(low.abs())).max(least)
                }
                _ => true,
            };
            last = Some(figure);
            match rows.last_mut().filter(|_| !apart) {
                Some(row) => {
                    row.when.push(case.when.clone());
                    row.figures = row.figures.zip(figure).map(|((low, high), f)| (low.min(f), high.max(f)));
                }
                None => rows.push(Row {
                    when: vec![case.when.clone()],
                    key: key.clone(),
                    figures: figure.map(|f| (f, f)),
                    solution: Arc::clone(&case.solution),
                }),
            }
        }
    }
    if cases.cut.is_none() {
        shorten(circuit, &cases.controls, &mut rows);
    }
    for row in &mut rows {
        join(&mut row.when);
    }
    rows
}

/// Lets each box forget the controls that it need not name: those in which it can grow without meeting another row.
fn shorten<K>(circuit: &Circuit, controls: &[ControlId], rows: &mut [Row<K>]) {
    if rows.iter().map(|row| row.when.len()).sum::<usize>() > BOXES {
        return;
    }
    let meets = |a: &[u64], b: &[u64]| a.iter().zip(b).all(|(a, b)| a & b != 0);
    for at in 0..rows.len() {
        let others: Vec<Vec<u64>> =
            rows.iter().enumerate().filter(|(n, _)| *n != at).flat_map(|(_, row)| row.when.clone()).collect();
        let Some(row) = rows.get_mut(at) else { continue };
        for set in &mut row.when {
            // What comes first in the circuit is what a person thinks of first: it is kept longest.
            for slot in (0..set.len()).rev() {
                let positions = controls.get(slot).and_then(|id| circuit.controls.get(id.index()));
                let positions = positions.map_or(0, |control| control.positions.len());
                for position in 0..positions {
                    let Some(mask) = set.get_mut(slot) else { continue };
                    let narrow = *mask;
                    *mask |= 1 << position;
                    let clash = others.iter().any(|other| meets(set.as_slice(), other.as_slice()));
                    if clash && let Some(mask) = set.get_mut(slot) {
                        *mask = narrow;
                    }
                }
            }
        }
        let within = |a: &[u64], b: &[u64]| a.iter().zip(b).all(|(a, b)| a & !b == 0);
        let mut kept: Vec<Vec<u64>> = Vec::new();
        for set in std::mem::take(&mut row.when) {
            if !kept.iter().any(|other| within(set.as_slice(), other.as_slice())) {
                kept.retain(|other| !within(other.as_slice(), set.as_slice()));
                kept.push(set);
            }
        }
        row.when = kept;
    }
}

/// Joins boxes that differ in one control only, as long as any do.
fn join(boxes: &mut Vec<Vec<u64>>) {
    let mut joined = true;
    while joined {
        joined = false;
        'search: for a in 0..boxes.len() {
            for b in a + 1..boxes.len() {
                let (Some(left), Some(right)) = (boxes.get(a), boxes.get(b)) else { continue };
                let mut differ = left.iter().zip(right).enumerate().filter(|(_, (l, r))| l != r);
                let (only, more) = (differ.next(), differ.next());
                if more.is_some() {
                    continue;
                }
                let both = only.map(|(at, (l, r))| (at, l | r));
                boxes.remove(b);
                if let Some((slot, both)) =
                    both.and_then(|(at, both)| Some((boxes.get_mut(a)?.get_mut(at)?, both)))
                {
                    *slot = both;
                }
                joined = true;
                break 'search;
            }
        }
    }
}

/// When a row holds: `key run, left_cmd off; or key start`.
pub(crate) fn when(circuit: &Circuit, controls: &[ControlId], boxes: &[Vec<u64>]) -> String {
    const SHOWN: usize = 3;
    let mut parts: Vec<String> = Vec::new();
    for set in boxes.iter().take(SHOWN) {
        let mut words = Vec::new();
        for (&id, &bits) in controls.iter().zip(set) {
            let Some(control) = circuit.controls.get(id.index()) else { continue };
            let count = control.positions.len();
            let stands = |position: &usize| bits >> position & 1 == 1;
            let positions: Vec<&str> =
                (0..count).filter(stands).filter_map(|p| Some(control.positions.get(p)?.as_str())).collect();
            if positions.len() < count {
                words.push(match positions.as_slice() {
                    [one] => format!("{} {one}", control.name),
                    // The shorter way to say it.
                    _ if positions.len() + 1 == count => {
                        let left = (0..count).find(|p| !stands(p)).and_then(|p| control.positions.get(p));
                        format!("{} not {}", control.name, left.map_or("", |name| name.as_str()))
                    }
                    _ => format!("{} {}", control.name, positions.join("/")),
                });
            }
        }
        parts.push(if words.is_empty() { "always".into() } else { words.join(", ") });
    }
    if boxes.len() > SHOWN {
        parts.push(format!("{} more", boxes.len() - SHOWN));
    }
    parts.join("; or ")
}

/// A Markdown table of rows, cut with a remark.
pub(crate) fn markdown<K>(
    circuit: &Circuit,
    cases: &Cases,
    rows: &[Row<K>],
    headings: &[&str],
    columns: impl Fn(&Row<K>) -> Vec<String>,
) -> String {
    let mut text = format!("| when | {} |\n|---|{}\n", headings.join(" | "), "---|".repeat(headings.len()));
    for row in rows.iter().take(ROWS) {
        let columns: Vec<_> = columns(row).iter().map(|column| cell(column)).collect();
        let when = cell(&when(circuit, &cases.controls, &row.when));
        text.push_str(&format!("| {when} | {} |\n", columns.join(" | ")));
    }
    if rows.len() > ROWS {
        text.push_str(&format!("\n{} more rows: see the truth table.\n", rows.len() - ROWS));
    }
    if let Some(left) = cases.cut {
        text.push_str(&format!(
            "\n{left} more combinations of controls were not looked at: see the truth table.\n"
        ));
    }
    text
}

/// A figure or a range of them: `12.56 V`, `12.53 .. 12.60 V`.
pub(crate) fn range(figures: (f64, f64), show: impl Fn(f64) -> String) -> String {
    let (low, high) = (show(figures.0), show(figures.1));
    if low == high {
        return low;
    }
    match (low.split_once(' '), high.split_once(' ')) {
        (Some((number, unit)), Some((_, same))) if unit == same => format!("{number} .. {high}"),
        _ => format!("{low} .. {high}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn joins_boxes() {
        let mut boxes = vec![vec![0b01, 0b01], vec![0b01, 0b10], vec![0b10, 0b11]];
        join(&mut boxes);
        assert_eq!(boxes, [vec![0b11, 0b11]]);
        let mut boxes = vec![vec![0b01, 0b01], vec![0b10, 0b10]];
        join(&mut boxes);
        assert_eq!(boxes.len(), 2);
        let mut same = vec![vec![1], vec![1]];
        join(&mut same);
        assert_eq!(same, [vec![1]]);
    }

    #[test]
    fn says_ranges() {
        let show = |f: f64| format!("{f:.2} V");
        assert_eq!(range((1.0, 1.001), show), "1.00 V");
        assert_eq!(range((1.0, 2.0), show), "1.00 .. 2.00 V");
    }
}
