//! No page shows what is no figure: over random circuits of every kind, as text, with windows and a lamp.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use keyon_circuit::{
    Source, World, elaborate,
    ids::ScenarioId,
    model::{COMMON, Circuit},
};
use keyon_present::{Answer, Wanted, about::Asked, state_json, state_text};
use keyon_solve::{Bands, Never, State, probe::Instrument, solve};
use std::sync::Arc;

struct NoLibraries;

impl World for NoLibraries {
    fn library(&self, _: &str, _: &str) -> Option<Source> {
        None
    }
}

/// The circuits of the fixture, each with its scenario solved.
fn pages(every: usize, wanted: Wanted) -> Vec<(Circuit, String, serde_json::Value)> {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/circuits.jsonl");
    let fixture = std::fs::read_to_string(path).unwrap();
    let cases = fixture.lines().step_by(every).map(|line| {
        let json: serde_json::Value = serde_json::from_str(line).unwrap();
        let text = json["text"].as_str().unwrap().to_owned();
        let parse = Arc::new(keyon_syntax::parse(&text));
        let circuit =
            elaborate(&NoLibraries, &Source { key: "a.keyon".into(), text: text.into(), parse }).circuit;
        let solution = solve(&circuit, &State::scenario(&circuit, ScenarioId(0)));
        let answer = Answer::new(&circuit, &solution, wanted, &Never).unwrap();
        let asked = Asked { scenario: Some(ScenarioId(0)), ..Asked::default() };
        let (text, json) = (state_text(&circuit, &answer, &asked), state_json(&circuit, &answer, &asked));
        (circuit, text, json)
    });
    cases.collect()
}

/// Words that only stand where arithmetic went wrong, and a minus before a rounded zero.
fn is_dishonest(word: &str) -> bool {
    let zero = word.strip_prefix('-').is_some_and(|rest| {
        !rest.is_empty() && rest.bytes().all(|b| b == b'0' || b == b'.') && rest.contains('0')
    });
    let exponent = word.parse::<f64>().is_ok() && word.contains(['e', 'E']);
    zero || exponent || matches!(word, "NaN" | "inf" | "-inf")
}

#[test]
fn pages_show_figures_or_words() {
    let all = pages(10, Wanted::default());
    for (circuit, text, _) in &all {
        for line in text.lines() {
            let bad = line.split_whitespace().find(|word| is_dishonest(word));
            assert_eq!(bad, None, "{} shows `{line}`", circuit.name);
        }
    }
    assert_eq!(all.len(), 40);
}

#[test]
fn windows_hold_the_reading_and_lamps_read_no_more_than_it() {
    let ranges = Bands { tolerances: true, ranges: true };
    let wanted = Wanted { windows: Some(ranges), probe: Some((Instrument::Lamp(40.0), COMMON)) };
    for (circuit, text, json) in pages(40, wanted) {
        assert!(!text.split_whitespace().any(is_dishonest), "{}\n{text}", circuit.name);
        for (name, point) in json["points"].as_object().unwrap() {
            let (Some(volts), Some(window)) = (point["volts"].as_f64(), point["window"].as_array()) else {
                continue;
            };
            let (low, high) = (window[0].as_f64().unwrap(), window[1].as_f64().unwrap());
            assert!(low <= volts && volts <= high, "{} {name}: {volts} in {low} .. {high}", circuit.name);
            if point["node_state"] == "fed via load"
                && let Some(lamp) = point["probe"]["volts"].as_f64()
            {
                assert!(
                    lamp.abs() <= volts.abs() + 1e-9,
                    "{} {name}: lamp {lamp}, meter {volts}",
                    circuit.name
                );
            }
        }
    }
}
