//! What a state says of devices and modules.

#![allow(clippy::unwrap_used)]

mod common;

use common::circuit;
use keyon_circuit::model::Circuit;
use keyon_present::{Answer, Wanted, about::Asked, state_json, state_text};
use keyon_solve::{Never, State, solve};

fn page(circuit: &Circuit) -> (String, serde_json::Value) {
    let solution = solve(circuit, &State::scenario(circuit, 0.into()));
    let answer = Answer::new(circuit, &solution, Wanted::default(), &Never).unwrap();
    let asked = Asked { scenario: Some(0.into()), ..Asked::default() };
    (state_text(circuit, &answer, &asked), state_json(circuit, &answer, &asked))
}

fn row<'t>(text: &'t str, name: &str) -> Vec<&'t str> {
    let line = text.lines().find(|line| line.split_whitespace().next() == Some(name));
    line.map(|line| line.split(" | ").flat_map(str::split_whitespace).collect()).unwrap_or_default()
}

/// What a relay takes is what its coil takes; its contact has a line of its own.
#[test]
fn a_relay_takes_what_its_coil_takes() {
    let circuit = circuit(
        "circuit c
supply battery 12 V
ground G1
splice S1
wire 1 battery -> S1
device K {
  pins 30, 86, 87
  coil K 30 -> 86 96 ohm
  contact 30 -> 87 closed when K energised
}
wire 2 S1 -> K.30
wire 3 K.86 -> G1
heater H1 96 W 12 V
wire 4 K.87 -> H1.1
wire 5 H1.2 -> G1
device T {
  pins 1, 2, 3
  positions off, on
  heater T1 1 -> 3 48 W 12 V
  contact 3 -> 2 closed in on
}
unused T.3
switch main S1 -> T.1 positions off, on closed in on
wire 7 T.2 -> G1
scenario on { T on, main on }
",
    );
    let (text, json) = page(&circuit);
    assert_eq!(row(&text, "K"), ["K", "0.125", "operates"]);
    assert_eq!(row(&text, "K.30_87"), ["K.30_87", "8.00", "contact"]);
    // The contact in a heater carries what the heater takes: nothing of its own.
    assert_eq!(row(&text, "T"), ["T", "4.00", "operates"]);
    let devices = &json["devices"];
    assert!((devices["K"]["amps"].as_f64().unwrap() - 0.125).abs() < 1e-12);
    assert!((devices["K"]["contacts"]["K.30_87"]["amps"].as_f64().unwrap() - 8.0).abs() < 1e-12);
    assert_eq!(devices["T"].get("contacts"), None);
    // A switch takes nothing: what it passes is its current.
    assert!((devices["main"]["amps"].as_f64().unwrap() - 4.0).abs() < 1e-12);
}

fn dead(feed: &str, draws: &str) -> String {
    let circuit = circuit(&format!(
        "circuit c
supply battery 12 V
ground G1
switch key positions off, on closed in on
wire 1 battery -> key.1
wire 2 {feed} -> M.A.1
switch earth positions on, off closed in on
wire 3 M.A.2 -> earth.1
wire 4 earth.2 -> G1
module M {{
  connector A {{
    1 plus feed {draws}
    2 minus ground
  }}
}}
scenario s {{ earth {} }}
",
        if feed == "battery" { "off" } else { "on" }
    ));
    page(&circuit).0.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Decision 23: pins float, and the page says what the module's own consumption would do to them.
#[test]
fn a_dead_module_says_what_its_consumption_would_do() {
    let text = dead("battery", "");
    assert!(text.contains("its ground is missing") && text.contains("lifts its ground's pins"), "{text}");
    let text = dead("key.2", "");
    assert!(
        text.contains("its feed is missing") && text.contains("holds its feed's pins near ground"),
        "{text}"
    );
    // Where it is described the pins stand where it brings them.
    let text = dead("battery", "draws 0.2 A");
    assert!(text.contains("its ground is missing") && !text.contains("on the machine that"), "{text}");
}
