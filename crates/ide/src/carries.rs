//! What a thing carries or does in every state that matters, condensed: states with the same answer are one row, and a
//! row names only the controls that matter.

use crate::display::cell;
use keyon_circuit::{ids::ControlId, model::Circuit};
use keyon_solve::{Cases, Solution};
use std::sync::Arc;

/// Most rows that a hover shows.
const ROWS: usize = 8;

/// One row: when, and what then.
#[derive(Clone, Debug)]
pub(crate) struct Row<K> {
    /// Sets of positions, one bit set a control of the cases; the row holds in any of them.
    pub(crate) when: Vec<Vec<u64>>,
    /// What the states of the row have in common.
    pub(crate) key: K,
    /// One of them.
    pub(crate) solution: Arc<Solution>,
}

/// The cases with the same `key` as one row each, in order of first appearance.
pub(crate) fn rows<K: PartialEq>(cases: &Cases, key: impl Fn(&Solution) -> K) -> Vec<Row<K>> {
    let mut rows: Vec<Row<K>> = Vec::new();
    for case in &cases.cases {
        let key = key(&case.solution);
        match rows.iter_mut().find(|row| row.key == key) {
            Some(row) => row.when.push(case.when.clone()),
            None => {
                rows.push(Row { when: vec![case.when.clone()], key, solution: Arc::clone(&case.solution) })
            }
        }
    }
    for row in &mut rows {
        join(&mut row.when);
    }
    rows
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

/// When a row holds: `key run, left_cmd off or key start`.
pub(crate) fn when(circuit: &Circuit, controls: &[ControlId], boxes: &[Vec<u64>]) -> String {
    const BOXES: usize = 3;
    let mut parts: Vec<String> = Vec::new();
    for set in boxes.iter().take(BOXES) {
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
    if boxes.len() > BOXES {
        parts.push(format!("{} more", boxes.len() - BOXES));
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
        text.push_str(&format!("\n{left} combinations of controls are not covered: there are too many.\n"));
    }
    text
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
}
