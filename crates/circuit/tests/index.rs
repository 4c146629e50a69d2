//! What names mean: occurrences, look-ups, settings from a command line.

#![allow(clippy::unwrap_used)]

mod common;

use common::{alone, bench, place, with};
use keyon_circuit::{Elaboration, Entity, model::COMMON};
use std::fmt::Write;

const LIB: &str = "part valve(coil: resistance = 24 ohm) \"Valve\" {\n  pins 1, 2\n  coil V 1 -> 2 coil\n}\npart key {\n  pins B, R\n  positions off, run\n  contact B -> R closed in run\n}\n";

const TEXT: &str = "circuit names\nuse \"lib\" as l\nsupply battery 12.6 V\nground G1\nsplice S12\nconnector C1 { 1 }\nfuse F7 battery -> S12 10 A\n\
device left : l.valve(coil = 22 ohm)\ndevice key : l.key\nwire 431 S12 -> C1.1 -> left.1\nwire 441 left.2 -> M.A.4\nwire 442 M.gnd -> G1\nwire S12 -> key.B\n\
module M \"Unit\" {\n  connector A {\n    2 gnd ground\n    4 cmd drives low\n    5 a switches { gnd, x }\n    6 x feed\n  }\n  gang g {\n    stop a gnd\n    go a x\n  }\n}\n\
scenario on \"On\" { key run, cmd on, M.g go }\nview on\nexpect in on {\n  left.V operates\n  431 0.5 A\n  431.2 0.5 A\n  C1.1.a fed\n}\n\
exercise e in on {\n  fault open S12.2\n  fault stuck key.B R\n  probes M.A, left\n}\nreadings card in on {\n  F7 good\n}\n";

fn occurrences(e: &Elaboration) -> String {
    let mut out = String::new();
    for n in &e.names {
        let mark = if n.definition { "*" } else { " " };
        let from = e.definition(n.entity).map(|loc| place(e, loc)).unwrap_or_default();
        writeln!(out, "{mark} {}  {}  <- {from}", place(e, n.loc), e.describe(n.entity)).unwrap();
    }
    out
}

#[test]
fn every_name_has_its_meaning() {
    let e = with(&[("lib", LIB)], TEXT);
    let said = format!("{}{}", common::problems(&e), occurrences(&e));
    insta::with_settings!({omit_expression => true}, { insta::assert_snapshot!(said) });
}

#[test]
fn definitions_of_a_part_are_shared_by_its_devices() {
    let e =
        with(&[("lib", LIB)], &bench("use \"lib\"\ndevice a : valve\ndevice b : valve\nwire 1 a.1 -> b.1"));
    let places: Vec<_> =
        ["a.1", "b.1"].iter().map(|n| e.definition(e.circuit.lookup(n)[0]).unwrap()).collect();
    assert_eq!(places[0], places[1]);
    assert_eq!(place(&e, places[0]), "lib:2:8 '1'");
}

#[test]
fn looks_up() {
    let e = with(&[("lib", LIB)], TEXT);
    let c = &e.circuit;
    let mut out = String::new();
    for name in [
        "battery",
        "ground",
        "G1",
        "S12",
        "left",
        "left.1",
        "left.V",
        "key",
        "M",
        "M.A",
        "M.A.4",
        "M.cmd",
        "cmd",
        "g",
        "M.g",
        "C1",
        "C1.1",
        "C1.1.b",
        "431",
        "431.2",
        "F7",
        "on",
        "e",
        "card",
        "S12->key.B",
        "nothing",
        "M.A.cmd",
        "",
    ] {
        let found: Vec<String> = c.lookup(name).into_iter().map(|entity| e.describe(entity)).collect();
        writeln!(out, "{name}: {}", found.join(" | ")).unwrap();
    }
    insta::with_settings!({omit_expression => true}, { insta::assert_snapshot!(out) });
    assert_eq!(c.point_of(c.lookup("ground")[0]), Some(COMMON));
    assert_eq!(c.control_of(c.lookup("cmd")[0]), c.control_of(c.lookup("M.A.4")[0]));
    assert!(matches!(c.lookup("key")[..], [Entity::Device(_)]));
}

#[test]
fn settings_of_a_command_line() {
    let e = alone(&bench(
        "thermistor temp battery -> G1 2 kohm at 25 degC beta 3500 K\nswitch sw battery -> G1\nmodule M {\n  connector A {\n    1 left_cmd drives low pwm 100 Hz\n  }\n}",
    ));
    let mut out = String::new();
    for text in [
        "left_cmd=on",
        "left_cmd = on 40 %",
        "M.left_cmd=on",
        "M.A.1=off",
        "temp=60 degC",
        "battery=11 V",
        "sw=on",
        "temp=140 degF",
        "left_cm=on",
        "left_cmd=onn",
        "temp=on",
        "temp=5 V",
        "battery=-1 V",
        "sw=on 40 %",
        "left_cmd",
        "=on",
        "sw=",
        "sw=on, temp 5 degC",
        "sw=}",
        "G1=5 V",
        "left_cmd=on 140 %",
    ] {
        match e.parse_setting(text) {
            Ok(s) => writeln!(out, "{text}: {:?} {:?} {:?}", s.controls, s.stimuli, s.supplies).unwrap(),
            Err(message) => writeln!(out, "{text}: ERROR {message}").unwrap(),
        }
    }
    insta::with_settings!({omit_expression => true}, { insta::assert_snapshot!(out) });
}

#[test]
fn a_supply_is_resting_running_or_cranking() {
    let e = alone(
        "circuit c\nsupply battery 12.6 V range 9.5 .. 14.8 V\nsupply aux 5 V\nground G1\nscenario start { battery cranking }\n",
    );
    assert!(e.problems.iter().all(|p| p.rule == "unused-name"), "{:?}", e.problems);
    assert_eq!(e.circuit.scenarios[0].settings.supplies, [(0, 9.5)]);
    let mut out = String::new();
    for text in [
        "battery=resting",
        "battery=running",
        "battery=cranking",
        "battery=crankin",
        "battery=flat",
        "battery=cranking 9 V",
        "aux=resting",
        "aux=cranking",
    ] {
        match e.parse_setting(text) {
            Ok(s) => writeln!(out, "{text}: {:?}", s.supplies).unwrap(),
            Err(message) => writeln!(out, "{text}: ERROR {message}").unwrap(),
        }
    }
    insta::assert_snapshot!(out, @r"
    battery=resting: [(0, 12.6)]
    battery=running: [(0, 14.8)]
    battery=cranking: [(0, 9.5)]
    battery=crankin: ERROR `battery` cannot be `crankin`: a supply is resting, running or cranking; did you mean `cranking`?
    battery=flat: ERROR `battery` cannot be `flat`: a supply is resting, running or cranking; say one of these, or set its volts: `battery 11 V`
    battery=cranking 9 V: ERROR `battery` is set to a word and to volts at once; keep one: `battery cranking` or `battery 11 V`
    aux=resting: [(1, 5.0)]
    aux=cranking: ERROR how low and how high `aux` goes is not said: it has no range; give the supply one (`range 11 .. 14.8 V`), or set its volts (`battery 11 V`)
    ");
}

#[test]
fn the_graph_has_the_same_indices() {
    let e = with(&[("lib", LIB)], TEXT);
    let graph = e.circuit.graph();
    assert_eq!(graph.node_count(), e.circuit.points.len());
    assert_eq!(graph.edge_count(), e.circuit.elements.len());
    for (i, element) in e.circuit.elements.iter().enumerate() {
        let edge = petgraph::graph::EdgeIndex::new(i);
        let (a, b) = graph.edge_endpoints(edge).unwrap();
        assert_eq!(
            (a.index(), b.index(), graph[edge].index()),
            (element.from.index(), element.to.index(), i)
        );
    }
}

#[test]
fn the_built_in_parts_are_sound() {
    let trade = with(&[("copy", include_str!("../src/trade.keyon"))], "circuit c\nuse \"copy\"\n");
    assert_eq!(common::problems(&trade), "");
    // Each can be a device.
    let e = alone("circuit c\nuse \"trade\"\n");
    let devices: String = e.scope.iter().map(|(name, _)| format!("device d_{name} : {name}\n")).collect();
    let e = alone(&format!("circuit c\nuse \"trade\"\nsupply battery 12 V\n{devices}"));
    assert_eq!(common::problems(&e), "");
    assert_eq!(e.circuit.devices.len(), e.scope.len());
    assert!(e.circuit.devices.iter().all(|d| !d.elements.is_empty() && d.pins.len() >= 2));
    for name in [
        "relay4",
        "relay5",
        "relay5_diode",
        "key_switch",
        "ntc_sensor",
        "sweep_sensor",
        "valve",
        "two_pin_motor",
        "lamp",
    ] {
        assert!(e.scope.iter().any(|(n, _)| n == name), "{name}");
    }
    insta::with_settings!({omit_expression => true}, { insta::assert_snapshot!(keyon_circuit::dump(&e.circuit)) });
}

#[test]
fn unicode_names_keep_their_places() {
    // Decomposed letters in the text: names are compared after normalisation, places stay those of the bytes.
    let e = alone(
        "circuit c\nsupply batterie 12 V\nground Masse\ndevice Scheinwerfer_fu\u{308}r { \n pins eins, zwe\u{ef}\n lamp 5 W 12 V\n}\nwire 1 batterie -> Scheinwerfer_f\u{fc}r.eins\nwire 2 Scheinwerfer_fu\u{308}r.zwe\u{ef} -> Masse\n",
    );
    assert_eq!(common::problems(&e), "");
    assert_eq!(e.circuit.lookup("Scheinwerfer_fu\u{308}r.eins").len(), 1);
    let texts: Vec<&str> = e.names.iter().map(|n| e.text(n.loc)).collect();
    assert!(
        texts.contains(&"Scheinwerfer_fu\u{308}r") && texts.contains(&"Scheinwerfer_f\u{fc}r"),
        "{texts:?}"
    );
    assert!(texts.iter().all(|t| !t.contains('.') && !t.is_empty()), "{texts:?}");
}
