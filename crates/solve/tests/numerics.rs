//! Numerical honesty: figures to the last digits however far apart resistances lie, and an answer or a finding, never noise,
//! where there is nothing to compute.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod common;
mod support;
use common::{device, point, read, reference};
use keyon_circuit::model::Law;
use keyon_solve::{NodeState, State, solve};
use serde_json::Value;
use support::solved;

/// Exact fractions (`generate.py`): every volt and every ampere to 1e-12 of itself, or to a yoctovolt across the
/// resistor, over fifteen decades of ohms. The numbers of the text are rounded once when they are read; nothing of that may grow.
#[test]
fn fifteen_decades_against_exact_fractions() {
    let (mut compared, mut floating, mut tiny) = (0, 0, 0);
    for line in reference("exact.jsonl").lines() {
        let case: Value = serde_json::from_str(line).unwrap();
        let text = case["text"].as_str().unwrap();
        let name = format!("exact {}", case["seed"]);
        let circuit = read(&name, text).circuit;
        let solution = solve(&circuit, &State::rest(&circuit));
        let near = |got: f64, exact: f64| (got - exact).abs() <= 1e-12 * exact.abs();
        for (node, volts) in case["volts"].as_object().unwrap() {
            let got = solution.unloaded[point(&circuit, node).index()];
            match volts.as_str() {
                None => {
                    assert_eq!(got, None, "{name}: {node} floats");
                    floating += 1;
                }
                Some(exact) => {
                    let exact: f64 = exact.parse().unwrap();
                    assert!(
                        got.is_some_and(|v| near(v, exact)),
                        "{name}: {node} {got:?} instead of {exact}\n{text}"
                    );
                    compared += 1;
                }
            }
        }
        for (resistor, exact) in case["amps"].as_object().unwrap() {
            let exact: f64 = exact.as_str().unwrap().parse().unwrap();
            let at = circuit.devices[device(&circuit, resistor).index()].elements[0];
            let got = solution.amps[at.index()].known().unwrap();
            let Law::Resistance(ohms) = &circuit.elements[at.index()].law else { panic!("{resistor}") };
            let same = near(got, exact) || (got - exact).abs() * ohms.nominal <= 1e-24;
            assert!(same, "{name}: {resistor} {got} instead of {exact}\n{text}");
            compared += 1;
            tiny += usize::from(exact != 0.0 && exact.abs() < 1e-12);
        }
    }
    assert!(
        compared > 1500 && floating > 60 && tiny > 50,
        "{compared} compared, {floating} float, {tiny} tiny"
    );
}

/// What hangs on nothing reads nothing: exactly no current, no volts, and the meter's 0 V as a floating net.
#[test]
fn islands_are_silent() {
    let s = solved(
        "circuit island\nsupply battery 12 V\nground G1\nsplice S1\nsplice S2\nsplice S3\nlamp L1 battery -> G1 5 W 12 V\n\
         resistor R1 S1 -> S2 1e-6 ohm\nresistor R2 S2 -> S3 1e9 ohm\nwire 1 S3 -> S1\ndiode D1 S1 -> S3 drop 0.7 V\n",
        &[],
    );
    for point in ["S1", "S2", "S3"] {
        assert_eq!((s.state(point), s.unloaded(point), s.volts(point)), ("open", None, 0.0));
    }
    for element in ["R1", "R2", "D1", "1"] {
        assert_eq!(s.amps(element).to_bits(), 0, "{element} carries {}", s.amps(element));
    }
    // An island with a supply of its own has currents, and still no volts against ground.
    let s = solved(
        "circuit island\nsupply battery 12 V\nground G1\nsplice S1\nlamp L1 battery -> G1 5 W 12 V\n\
         supply cell 1.5 V negative S1\nresistor R1 cell -> S1 1.5 kohm\n",
        &[],
    );
    assert!((s.amps("R1") - 1e-3).abs() < 1e-15);
    assert_eq!((s.unloaded("cell"), s.volts("cell")), (None, 0.0));
}

/// Full supply through a load carries exactly nothing, whatever stands around it.
#[test]
fn an_open_stage_carries_exactly_nothing() {
    let s = solved(
        "circuit off\nsupply battery 12.6 V inner 15 mohm\nground G1\nfuse F1 battery -> S1 10 A\nsplice S1\n\
         wire 1 S1 -> valve.1 0.75 mm2 2.4 m\nwire 2 valve.2 -> sw.1 0.75 mm2 3.1 m\ncoil valve 24 ohm\nswitch sw\n\
         wire 3 sw.2 -> G1\nlamp L1 S1 -> G1 21 W 12 V\n",
        &[],
    );
    assert_eq!(s.state("valve.2"), "fed via load");
    for element in ["1", "2", "3", "valve"] {
        assert_eq!(s.amps(element).abs().to_bits(), 0, "{element} carries {}", s.amps(element));
    }
    assert_eq!(s.unloaded("valve.2"), s.unloaded("valve.1"));
    assert_eq!(s.unloaded("valve.2"), s.unloaded("S1"));
}

/// Loops without resistance share their current and lose nothing; no share is more than what flows.
#[test]
fn loops_without_resistance() {
    let s = solved(
        "circuit loops\nsupply battery 12 V\nground G1\nsplice S1\nsplice S2\nsplice S3\nwire 1 battery -> S1\n\
         wire 2 S1 -> S2\nwire 3 S2 -> S3\nwire 4 S3 -> S1\nwire 5 S1 -> S3\nwire 6 battery -> S3\nresistor R1 S3 -> G1 12 ohm\n\
         wire 7 S2 -> S2b\nsplice S2b\n",
        &[],
    );
    assert_eq!(s.amps("R1"), 1.0);
    for point in ["S1", "S2", "S2b", "S3"] {
        assert_eq!(s.unloaded(point), Some(12.0));
    }
    let into = s.amps("6") + s.amps("3") + s.amps("5") - s.amps("4");
    assert!((into - 1.0).abs() < 1e-12, "{into}");
    for wire in ["1", "2", "3", "4", "5", "6"] {
        assert!(s.amps(wire).abs() <= 1.0, "{wire} carries {}", s.amps(wire));
    }
    assert_eq!(s.amps("7"), 0.0);
}

/// What has no limit is a finding with no figure, and the rest keeps its own.
#[test]
fn a_short_gives_a_finding_not_a_number() {
    let s = solved(
        "circuit short\nsupply battery 12 V\nsupply other 24 V\nground G1\nground G2\nwire 1 battery -> G1\n\
         lamp L1 battery -> G1 5 W 12 V\nlamp L2 other -> G2 24 W 24 V\n",
        &[],
    );
    let battery = s.point("battery");
    assert_eq!(s.solution.node_states[battery], NodeState::Clash);
    assert_eq!((s.solution.volts[battery], s.solution.unloaded[battery]), (None, None));
    assert!(s.amps("1").is_nan(), "an unlimited current has no figure");
    assert!(!s.solution.clashes.is_empty());
    assert!((s.amps("L2") - 1.0).abs() < 1e-15);
    for volts in s.solution.volts.iter().flatten() {
        assert!(volts.is_finite());
    }
}

/// A microhm and a gigohm in one circuit: both their drops are right to the last digits.
#[test]
fn a_microhm_beside_a_gigohm_in_text() {
    let text = "circuit span\nsupply battery 12.6 V\nground G1\nsplice S1\nsplice S2\nresistor R1 battery -> S1 1e-6 ohm\n\
                resistor R2 S1 -> S2 1e9 ohm\nresistor R3 S2 -> G1 1e9 ohm\nresistor R4 S1 -> G1 1e-3 ohm\n";
    let circuit = read("span", text).circuit;
    let s = solve(&circuit, &State::rest(&circuit));
    let amps = |name: &str| {
        s.amps[circuit.devices[device(&circuit, name).index()].elements[0].index()].known().unwrap()
    };
    let s1 = 12.6 * 1e-3 / 1.001e-3;
    assert!((s.unloaded[point(&circuit, "S1").index()].unwrap() - s1).abs() < 1e-11);
    assert!((amps("R3") - s1 / 2e9).abs() < 1e-12 * s1 / 2e9);
    assert!((amps("R2") - amps("R3")).abs() < 1e-22);
    assert!((amps("R4") - s1 / 1e-3).abs() < 1e-9);
}
