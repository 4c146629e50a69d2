//! Fuses that several loads blow together, in truth tables.

use super::support::*;
use keyon_solve::{Never, State, Table, table};
use std::fmt::Write as _;

fn tabulated(text: &str) -> (keyon_circuit::Elaboration, Table) {
    let elaboration = circuit(text);
    let base = State::rest(&elaboration.circuit);
    let table = table(&elaboration.circuit, &base, &[], &[], &[], &Never).unwrap();
    (elaboration, table)
}

/// Lamps of these watts, each behind a switch of its own, on one fuse.
fn lamps(watts: &[f64], rating: f64) -> String {
    let mut text = format!(
        "circuit shared\nsupply battery 12 V\nground G1\nsplice S1\nfuse F1 battery -> S1 {rating} A\n"
    );
    for (i, w) in watts.iter().enumerate() {
        let _ = writeln!(text, "switch A{i} S1 -> L{i}.1 positions off, on closed in on");
        let _ = writeln!(text, "lamp L{i} {w} W 12 V\nwire {i} L{i}.2 -> G1");
    }
    text
}

#[test]
fn a_row_says_that_a_shared_fuse_blows() {
    let (elaboration, table) = tabulated(&lamps(&[84.0, 84.0, 12.0], 10.0));
    assert!(table.overloads.is_empty());
    let [group] = table.groups.as_slice() else { panic!("{} groups", table.groups.len()) };
    assert_eq!((group.controls.len(), group.devices.len()), (3, 3));
    for row in &group.rows {
        // Each alone is 7 A or less; two of 7 A are more than 1.35 times 10 A.
        let both = row.when[0] == Some(1) && row.when[1] == Some(1);
        assert_eq!(row.blown.len(), usize::from(both), "{row:?}");
        assert_eq!(
            row.devices.iter().all(|words| words == "rests"),
            both || row.when == [Some(0); 3],
            "{row:?}"
        );
    }
    let combinations = |row: &keyon_solve::TableRow| 1 << row.when.iter().filter(|w| w.is_none()).count();
    assert_eq!(group.rows.iter().map(combinations).sum::<usize>(), 8);
    assert_eq!(
        elaboration.circuit.elements[group.rows.iter().find_map(|r| r.blown.first()).unwrap().index()].name,
        "F1"
    );
}

#[test]
fn a_fuse_that_carries_all_leaves_the_groups_apart() {
    let (_, table) = tabulated(&lamps(&[84.0, 84.0, 12.0], 15.0));
    assert!(table.overloads.is_empty());
    assert_eq!(table.groups.len(), 3);
    assert!(table.groups.iter().flat_map(|g| &g.rows).all(|row| row.blown.is_empty()));
}

#[test]
fn what_is_too_large_for_one_table_is_told_beside_it() {
    // Twelve of 2 A on 15 A.
    let (elaboration, table) = tabulated(&lamps(&[24.0; 12], 15.0));
    assert_eq!(table.groups.len(), 12);
    let [overload] = table.overloads.as_slice() else { panic!("{:?}", table.overloads) };
    assert_eq!(elaboration.circuit.elements[overload.fuse.index()].name, "F1");
    assert!((overload.amps.unwrap() - 24.0).abs() < 1e-9);
    assert_eq!(overload.positions, [1; 12]);
}
