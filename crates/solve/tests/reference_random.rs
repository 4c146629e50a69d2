//! Random circuits with answers from outside: `tests/reference/generate.py` made them with numpy and networkx.

#![allow(clippy::expect_used, clippy::panic)]

mod common;

use common::{device, element, point, read, reference};
use keyon_circuit::{ids::ScenarioId, model::*};
use keyon_solve::{NodeState, Solution, State, solve};
use serde_json::Value;
use std::fmt::Write as _;

fn state_of(code: &str) -> Option<NodeState> {
    Some(match code {
        "F" => NodeState::Fed,
        "G" => NodeState::Grounded,
        "R" => NodeState::Referenced,
        "f" => NodeState::FedViaLoad,
        "g" => NodeState::GroundedViaLoad,
        "b" => NodeState::Between,
        "o" => NodeState::Open,
        "c" => NodeState::Clash,
        // Left open by the definition.
        "?" => return None,
        other => panic!("node state {other}"),
    })
}

/// 1e-9 of the value, and a nanovolt or nanoampere for what is nearly nothing.
fn near(got: f64, expected: f64) -> bool {
    (got - expected).abs() <= 1e-9 * expected.abs() + 1e-9
}

/// `Some(None)` is "floats", `None` is "not to be compared".
fn value(json: &Value) -> Option<Option<f64>> {
    match json {
        Value::String(_) => None,
        other => Some(other.as_f64()),
    }
}

struct Case {
    seed: u64,
    text: String,
    circuit: Circuit,
    solution: Solution,
    expect: Value,
}

fn cases(file: &str) -> Vec<Case> {
    let cases: Vec<Case> = reference(file)
        .lines()
        .map(|line| {
            let json: Value = serde_json::from_str(line).expect("a line of JSON");
            let (seed, text) =
                (json["seed"].as_u64().expect("a seed"), json["text"].as_str().expect("a text"));
            let circuit = read(&format!("seed {seed}"), text).circuit;
            let solution = solve(&circuit, &State::scenario(&circuit, ScenarioId(0)));
            Case { seed, text: text.into(), circuit, solution, expect: json["expect"].clone() }
        })
        .collect();
    assert!(cases.len() >= 200);
    cases
}

/// What differs, one line each.
fn compare(case: &Case) -> String {
    let Case { circuit, solution, expect, .. } = case;
    let mut wrong = String::new();
    for (name, entry) in expect["points"].as_object().expect("points") {
        let p = point(circuit, name).index();
        let code = entry[0].as_str().expect("a code");
        if let Some(state) = state_of(code).filter(|s| *s != solution.node_states[p]) {
            let _ =
                writeln!(wrong, "  {name}: {} instead of {}", solution.node_states[p].words(), state.words());
        }
        let Some(volts) = entry.get(1) else { continue };
        let bare = entry.get(2).unwrap_or(volts);
        for (what, got, expected) in
            [("volts", solution.volts[p], volts), ("volts without meter", solution.unloaded[p], bare)]
        {
            let Some(expected) = value(expected) else { continue };
            let same = match (got, expected) {
                (Some(got), Some(expected)) => near(got, expected),
                (got, expected) => got == expected,
            };
            if !same {
                let _ = writeln!(wrong, "  {name} {what}: {got:?} instead of {expected:?}");
            }
        }
    }
    for (name, expected) in expect["amps"].as_object().into_iter().flatten() {
        let id = named(circuit, name);
        let (got, expected) = (solution.amps[id.index()].known(), expected.as_f64().expect("amps"));
        if !got.is_some_and(|got| near(got, expected)) {
            let _ = writeln!(wrong, "  {name} amps: {got:?} instead of {expected}");
        }
    }
    for (name, words) in expect["devices"].as_object().into_iter().flatten() {
        let got = solution.devices[device(circuit, name).index()].state.words();
        if got != words.as_str().expect("words") {
            let _ = writeln!(wrong, "  {name}: {got} instead of {words}");
        }
    }
    for (path, expected) in expect["inputs"].as_object().into_iter().flatten() {
        let PointKind::Cavity(m, c, k) = circuit.points[point(circuit, path).index()].kind else {
            panic!("{path} is no cavity")
        };
        let got = solution.input_volts(circuit, m, c, k);
        let same = match (got, expected.as_f64()) {
            (Some(got), Some(expected)) => near(got, expected),
            (got, expected) => got == expected,
        };
        if !same {
            let _ = writeln!(wrong, "  input {path}: {got:?} instead of {expected}");
        }
    }
    let blown: Vec<&str> =
        solution.blown.iter().map(|(e, _)| circuit.elements[e.index()].name.as_str()).collect();
    let expected: Vec<&str> =
        expect["blown"].as_array().into_iter().flatten().filter_map(|b| b.as_str()).collect();
    if blown != expected {
        let _ = writeln!(wrong, "  blown: {blown:?} instead of {expected:?}");
    }
    for (m, module) in circuit.modules.iter().enumerate() {
        let expected =
            expect["alive"].as_array().is_some_and(|a| a.iter().any(|n| n == module.name.as_str()));
        if solution.alive[m] != expected {
            let _ = writeln!(wrong, "  {} alive: {}", module.name, solution.alive[m]);
        }
    }
    wrong
}

/// The element that a branch of the fixture is: by its own name, or as the only one of a device.
fn named(circuit: &Circuit, name: &str) -> keyon_circuit::ids::ElementId {
    match circuit.devices.iter().find(|d| d.name == name) {
        Some(d) => d.elements[0],
        None => element(circuit, name),
    }
}

fn all(file: &str) {
    let mut failed = Vec::new();
    for case in cases(file) {
        let wrong = compare(&case);
        if !wrong.is_empty() {
            failed.push(
                format!("seed {}\n{wrong}", case.seed) + if failed.is_empty() { &case.text } else { "" },
            );
        }
    }
    assert!(failed.is_empty(), "{} circuits differ:\n{}", failed.len(), failed.join("\n"));
}

/// Volts with and without meter, amps, device states, inputs, fuses, modules: against a dense solution with numpy.
#[test]
fn random_circuits_against_numpy() {
    all("circuits.jsonl");
}

/// Node states against the definition, evaluated with networkx.
#[test]
fn node_states_against_networkx() {
    all("reach.jsonl");
}

/// What the fixtures are there for does occur in them: every kind of element, and what a person does to a circuit.
#[test]
fn fixtures_cover_what_they_should() {
    let text = reference("circuits.jsonl");
    for word in [
        "supply upper",
        " mm2 ",
        "AWG ",
        "connector X",
        "fuse ",
        "breaker ",
        "link ",
        "elsewhere ",
        "lamp ",
        " cold ",
        "heater ",
        "coil ",
        "winding ",
        " runs ",
        "resistor ",
        "thermistor ",
        " beta ",
        "steinhart ",
        "table {",
        "variable ",
        "track ",
        " wiper ",
        "transducer ",
        "  ratio",
        "diode ",
        "changeover ",
        " when K energised",
        "open in ",
        "contact ",
        "reference ",
        " inner ",
        " limit ",
        "return  switched",
        "pull_up ",
        "pull_down ",
        "senses digital",
        " draws ",
        "drives low",
        "drives high",
        "drives half",
        " to gnd_p",
        " from tap",
        "switches {",
        "gang ",
        "pwm ",
        "unplug ",
        "pull F",
        "jumper ",
        "load ",
        "\"weak\"",
        "\"operates\"",
        "\"operates reverse\"",
        "\"blown\":[\"",
    ] {
        let count = text.lines().filter(|l| l.contains(word)).count();
        assert!(count >= 3, "{word:?} in {count} circuits only");
    }
}
