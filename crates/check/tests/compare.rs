//! Comparing two versions: what is told is what differs when every state is solved, no more and no less.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use keyon_check::compare::{Difference, Reading, Value, compare};
use keyon_circuit::{Elaboration, Source, World};
use keyon_solve::{State, device_words, solve};
use std::{
    collections::{BTreeMap, BTreeSet},
    sync::Arc,
};

struct NoFiles;

impl World for NoFiles {
    fn library(&self, _: &str, _: &str) -> Option<Source> {
        None
    }
}

fn elaborated(text: &str) -> Elaboration {
    let source =
        Source { key: "test.keyon".into(), text: text.into(), parse: Arc::new(keyon_syntax::parse(text)) };
    let elaboration = keyon_circuit::elaborate(&NoFiles, &source);
    let wrong = elaboration.problems.iter().filter(|p| p.rule != "unused-name").count();
    assert_eq!(wrong, 0, "{:?}", elaboration.problems);
    elaboration
}

fn differ(old: &str, new: &str) -> Difference {
    compare(&elaborated(old).circuit, &elaborated(new).circuit, &keyon_solve::Never).unwrap()
}

const CIRCUIT: &str = "\
circuit two \"Two lamps\"
supply battery 12.6 V
ground G1
fuse F1 battery -> main.1 10 A
switch main \"Main switch\"
switch left \"Left\"
switch right \"Right\"
device K \"Relay\" {
  pins 30, 87, 85, 86
  coil c 85 -> 86 90 ohm
  contact 30 -> 87 closed when c energised
}
lamp red 21 W 12 V
lamp blue 5 W 12 V
splice S
wire 1 main.2 -> S 1 mm2 RD 1 m
wire 2 S -> K.30 1 mm2 RD 1 m
wire 3 S -> left.1 1 mm2 RD 1 m
wire 4 left.2 -> K.85 1 mm2 GN 1 m
wire 5 K.86 -> G1 1 mm2 BK 1 m
wire 6 K.87 -> red.1 1 mm2 GY 1 m
wire 7 red.2 -> G1 1 mm2 BK 1 m
wire 8 S -> right.1 1 mm2 RD 1 m
wire 9 right.2 -> blue.1 1 mm2 VT 1 m
wire 10 blue.2 -> G1 1 mm2 BK 1 m
scenario lit { main on, left on }
scenario dark { }
exercise dim \"Red lamp dark\" in lit {
  fault open 6
  ask volts red.1
}
";

/// Every position of every control by name, and the words of a device in it.
type Cells = BTreeMap<BTreeMap<String, String>, String>;

fn every_cell(text: &str, device: &str) -> Cells {
    let elaboration = elaborated(text);
    let circuit = &elaboration.circuit;
    let index = circuit.devices.iter().position(|d| d.name == device).unwrap();
    let mut cells = Cells::new();
    let mut state = State::rest(circuit);
    loop {
        let when = circuit.controls.iter().zip(&state.positions);
        let when =
            when.map(|(c, &p)| (c.name.to_string(), c.positions[usize::from(p)].to_string())).collect();
        cells.insert(when, device_words(&solve(circuit, &state).devices[index]).to_string());
        let Some(next) = (0..state.positions.len())
            .find(|&c| usize::from(state.positions[c]) + 1 < circuit.controls[c].positions.len())
        else {
            return cells;
        };
        state.positions[next] += 1;
        state.positions[..next].fill(0);
    }
}

/// The cells that differ by solving every state of both (which have the same controls).
fn brute(old: &str, new: &str, device: &str) -> BTreeSet<BTreeMap<String, String>> {
    let before = every_cell(old, device);
    every_cell(new, device)
        .into_iter()
        .filter(|(when, words)| before[when] != *words)
        .map(|(when, _)| when)
        .collect()
}

/// The cells that a difference tells, spread over every position of the controls it does not name.
fn told(difference: &Difference, new: &str, device: &str) -> BTreeSet<BTreeMap<String, String>> {
    let cells: Vec<_> = difference.tables.cells.iter().filter(|cell| cell.device == device).collect();
    let fits = |when: &BTreeMap<String, String>| {
        cells.iter().any(|cell| cell.when.iter().all(|(c, p)| when[c.as_str()] == p.as_str()))
    };
    every_cell(new, device).into_keys().filter(fits).collect()
}

#[test]
fn table_cells_are_those_that_solving_every_state_gives() {
    let changes = [
        ("coil c 85 -> 86 90 ohm", "coil c 85 -> 86 90 ohm pulls_in 1 A"),
        ("wire 8 S -> right.1 1 mm2", "wire 8 K.87 -> right.1 1 mm2"),
        ("wire 5 K.86 -> G1 1 mm2 BK 1 m\n", ""),
        ("closed when c energised", "open when c energised"),
        ("wire 3 S -> left.1", "wire 3 right.2 -> left.1"),
        ("lamp red 21 W 12 V", "lamp red 21 W 24 V"),
    ];
    for (from, to) in changes {
        let new = CIRCUIT.replace(from, to);
        assert_ne!(new, CIRCUIT, "{from}");
        let difference = differ(CIRCUIT, &new);
        let mut any = false;
        for device in ["red", "blue", "K"] {
            let expected = brute(CIRCUIT, &new, device);
            any |= !expected.is_empty();
            assert_eq!(told(&difference, &new, device), expected, "{from} -> {to}: {device}");
        }
        assert!(any, "{from} -> {to} changes nothing: a poor example");
        // And the other way round the same cells.
        let back = differ(&new, CIRCUIT);
        assert_eq!(told(&back, CIRCUIT, "red"), brute(CIRCUIT, &new, "red"));
    }
}

#[test]
fn formatting_and_order_are_no_difference() {
    let mut lines: Vec<&str> = CIRCUIT.lines().collect();
    let wire = lines.iter().position(|line| line.starts_with("wire 9")).unwrap();
    let line = lines.remove(wire);
    lines.insert(4, line);
    let moved = lines.join("\n").replace("wire 1 ", "# a comment\n\nwire   1   ");
    assert!(differ(CIRCUIT, &moved).is_empty(), "{:?}", differ(CIRCUIT, &moved));
    assert!(differ(CIRCUIT, CIRCUIT).is_empty());
}

#[test]
fn readings_are_told_by_scenario_and_fault() {
    let new = CIRCUIT
        .replace("lamp red 21 W", "lamp red 42 W")
        .replace("scenario dark { }", "scenario dim { left on }");
    let difference = differ(CIRCUIT, &new);
    assert_eq!(
        (difference.added.as_slice(), difference.removed.as_slice()),
        (&["dim".into()][..], &["dark".into()][..])
    );
    let lit = difference.states.iter().find(|state| state.name == "lit").unwrap();
    let fuse = lit.readings.iter().find(|change| change.reading == Reading::Fuse).unwrap();
    let amps = |value: &Option<Value>| match value {
        Some(Value::Amps(Some(amps))) => *amps,
        other => panic!("{other:?}"),
    };
    // 21 W more at about 12.6 V.
    assert!((amps(&fuse.new) - amps(&fuse.old) - 1.8).abs() < 0.1, "{fuse:?}");
    // With wire 6 open the lamp draws nothing, whatever its watts.
    assert!(difference.states.iter().all(|state| !state.exercise), "{:?}", difference.states);
    let harder = differ(CIRCUIT, &CIRCUIT.replace("fault open 6", "fault open 7"));
    let sheet = harder.states.iter().find(|state| state.exercise).unwrap();
    assert_eq!(sheet.name, "exercise dim");
    assert!(sheet.readings.iter().any(|change| change.name == "red.1"));
}

#[test]
fn points_of_a_net_that_change_alike_are_one() {
    let difference = differ(CIRCUIT, &CIRCUIT.replace("battery 12.6 V", "battery 13.6 V"));
    let dark = difference.states.iter().find(|state| state.name == "dark").unwrap();
    let names: Vec<&str> = dark.readings.iter().map(|change| change.name.as_str()).collect();
    assert_eq!(names, ["battery"]);
    assert_eq!(dark.readings[0].alike, ["main.1"]);
}

#[test]
fn devices_that_come_and_go_are_told() {
    let new = CIRCUIT.replace("lamp blue 5 W", "lamp green 5 W").replace("blue.", "green.");
    let difference = differ(CIRCUIT, &new);
    assert_eq!(difference.tables.devices, [("green".into(), true), ("blue".into(), false)]);
    assert!(difference.tables.cells.is_empty());
}
