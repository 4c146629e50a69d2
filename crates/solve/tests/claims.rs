//! Rows of `expect` judged: those of the corpus all hold, and each kind of probe answers as a person would expect.

#![allow(clippy::expect_used, clippy::panic)]

mod common;

use common::{corpus, read};
use keyon_circuit::model::*;
use keyon_solve::{Outcome, State, judge_all};
use std::fmt::Write as _;

fn outcomes(circuit: &Circuit, expect: &Expect) -> Vec<Outcome> {
    let mut base = State::scenario(circuit, expect.scenario.expect("it is in a scenario"));
    base.changes.extend(expect.changes.iter().cloned());
    judge_all(circuit, &base, &expect.rows)
}

#[test]
fn all_expectations_of_the_corpus_hold() {
    let mut rows = 0;
    let mut wrong = String::new();
    for entry in std::fs::read_dir(corpus().join("circuits")).expect("the corpus is there") {
        let path = entry.expect("a file").path();
        let name = path.file_name().expect("a name").to_string_lossy().into_owned();
        let circuit = read(&name, &std::fs::read_to_string(&path).expect("text")).circuit;
        for expect in &circuit.expects {
            let scenario = &circuit.scenarios[expect.scenario.expect("resolved").index()].name;
            for (row, outcome) in expect.rows.iter().zip(outcomes(&circuit, expect)) {
                rows += 1;
                if !outcome.holds {
                    let why = outcome.refused.map_or(String::new(), |r| r.words(&circuit));
                    let _ = writeln!(
                        wrong,
                        "{name} in {scenario}: {:?} {:?}: {} {why}",
                        row.probe, row.assertion, outcome.got
                    );
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
    assert!(rows > 60, "{rows} rows");
}

const BENCH: &str = r#"circuit bench
supply battery 12 V
ground G1
splice S1
splice S2
splice S3
splice lonely
splice adrift
fuse F1 battery -> S1 5 A
lamp L1 S1 -> S2 12 W 12 V
switch arm S2 -> G1
coil C1 S3 -> G1 85 ohm
resistor R1 S3 -> G1 470 ohm
resistor R2 lonely -> adrift 100 ohm
lamp L2 S3 -> lonely 5 W 12 V
diode D1 S3 -> G1 drop 0.7 V
wire 9 S1 -> M.A.1
wire 10 M.A.2 -> G1
module M {
  connector A {
    1 bplus feed
    2 gnd ground
    3 in senses digital threshold 2.5 V pull_up 1 kohm to 5 V
    4 vref reference 5 V inner 5 ohm
  }
}
scenario off { }
scenario on { arm on }
"#;

/// The rows of one `expect` block on the bench circuit, each with what it comes to.
fn bench(scenario: &str, rows: &str) -> String {
    let text = format!("{BENCH}expect in {scenario} {{\n{rows}\n}}\n");
    let circuit = read("bench", &text).circuit;
    let mut out = String::new();
    let kept: Vec<&str> = rows.lines().map(str::trim).filter(|r| !r.is_empty() && !is_set_up(r)).collect();
    let outcomes = outcomes(&circuit, &circuit.expects[0]);
    assert_eq!(kept.len(), outcomes.len());
    for (row, outcome) in kept.iter().zip(outcomes) {
        let verdict = match (&outcome.refused, outcome.holds) {
            (Some(refusal), _) => format!("refused: {}", refusal.words(&circuit)),
            (None, true) => format!("holds, {}", outcome.got),
            (None, false) => format!("fails, {}", outcome.got),
        };
        let _ = writeln!(out, "{row:<38} {verdict}");
    }
    out
}

fn is_set_up(row: &str) -> bool {
    ["unplug ", "pull ", "jumper ", "load "].iter().any(|w| row.starts_with(w))
}

#[test]
fn volts_amps_and_states() {
    insta::assert_snapshot!(bench(
        "on",
        "
        S1 above 11.9 V
        S2 below 0.1 V
        S2 grounded
        S2 fed
        L1 operates
        L1 rests
        L1 12 V
        L1 about 1 A +- 1 mA
        F1 0.9 .. 1.1 A
        F1 good
        F1 blown
        9 fed
        lonely 0 V
        lonely open
        S1 to S2 11.9 .. 12.1 V
        S2 to S1 11.9 .. 12.1 V
        clamp 9 below 1 mA
        in high
        in low with jumper M.A.3 to G1
    "
    ));
}

#[test]
fn a_test_lamp_tells_a_strong_feed_from_a_weak_one() {
    insta::assert_snapshot!(bench(
        "off",
        "
        lamp S1 bright
        lamp S2 dim
        lamp S2 bright
        lamp S3 to battery bright
        lamp S3 dark
        lamp M.A.4 dim
        lamp lonely dark
    "
    ));
}

#[test]
fn ohms_want_a_net_without_power() {
    insta::assert_snapshot!(bench(
        "off",
        "
        ohms S3 to G1 about 71.98 ohm +- 0.1 ohm
        ohms S3 to G1 about 85 ohm +- 1 ohm
        ohms lonely to adrift 100 ohm
        ohms S1 to G1 above 10 ohm
        ohms lonely to G1 above 10 ohm
        ohms S2 to G1 above 10 ohm
    "
    ));
}

#[test]
fn ohms_after_the_fuse_is_pulled() {
    insta::assert_snapshot!(bench(
        "off",
        "
        pull F1
        ohms S1 to S2 12 ohm
        ohms S3 to G1 above 10 ohm
    "
    ));
}

#[test]
fn settings_of_a_row_count() {
    let text = format!("{BENCH}expect in off {{\n  L1 operates with arm on\n  L1 rests\n}}\n");
    let circuit = read("bench", &text).circuit;
    let held: Vec<bool> = outcomes(&circuit, &circuit.expects[0]).iter().map(|o| o.holds).collect();
    assert_eq!(held, [true, true]);
}
