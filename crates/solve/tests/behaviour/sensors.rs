//! Sensors and the inputs that read them.

use super::{assert_close, support::*};
use keyon_circuit::{ids::*, model::*};

const SENSORS: &str = r#"circuit sensors
supply battery 12 V
ground G1
fuse F1 battery -> ECU.A.1 5 A
wire 1 ECU.A.2 -> G1
wire 2 ECU.A.3 -> level.1
wire 3 ECU.A.4 -> S1
splice S1
wire 4 S1 -> level.3
wire 5 S1 -> temp.2
wire 6 ECU.A.5 -> level.2
wire 7 ECU.A.6 -> temp.1
wire 8 ECU.A.3 -> press.1
wire 9 S1 -> press.2
wire 10 press.3 -> ECU.A.7
device level { pins 1, 2, 3
  track 1 -> 3 wiper 2 5 kohm travel 5 .. 95 % }
thermistor temp 2.5 kohm at 25 degC beta 3500 K
device press { pins 1, 2, 3
  transducer 1 -> 2 out 3 0.5 .. 4.5 V over 0 .. 1000 kPa ratio }
module ECU {
  connector A {
    1 ub feed
    2 gnd ground
    3 vref reference 5 V inner 10 ohm limit 50 mA
    4 lo return
    5 level_in senses pull_down 220 kohm
    6 temp_in senses pull_up 2.2 kohm to 5 V
    7 press_in senses pull_down 100 kohm
  }
}
"#;

fn input(s: &Solved, name: &str) -> Option<f64> {
    let (c, k) = s.circuit().modules[0]
        .connectors
        .iter()
        .enumerate()
        .find_map(|(c, connector)| Some((c, connector.cavities.iter().position(|k| k.name == name)?)))
        .unwrap();
    s.solution.input_volts(s.circuit(), ModuleId(0), c, k)
}

#[test]
fn sensors_read() {
    let s = solved(SENSORS, &[]);
    assert_close(input(&s, "temp_in").unwrap(), 5.0 * 2500.0 / 4700.0);
    assert_eq!(s.state("temp.1"), "between");
    assert_eq!(s.state("level.1"), "referenced");
    assert_eq!(s.state("level.2"), "between");
    assert_eq!(s.state("level.3"), "grounded");
    // Half of the track loaded with 220 kohm, the reference behind 10 ohm.
    let lower = 1.0 / (1.0 / 2500.0 + 1.0 / 220e3);
    let track = 10.0 + 2500.0 + lower;
    let vref = 5.0 * (2500.0 + lower) / track;
    assert_close(input(&s, "level_in").unwrap(), 5.0 * lower / track);
    assert_close(input(&s, "press_in").unwrap(), 2.5 * vref / 5.0);
    assert_eq!(s.state("press.3"), "between");
    let hot = solved(SENSORS, &["temp=100 degC", "level=0 %", "press=1000 kPa"]);
    let ohms = 2500.0 * (3500.0f64 * (1.0 / 373.15 - 1.0 / 298.15)).exp();
    assert_close(input(&hot, "temp_in").unwrap(), 5.0 * ohms / (2200.0 + ohms));
    assert_eq!(s.path("press.3", true), "press.3 · press.transducer · press.1 · 8 · ECU.A.3");
    assert_eq!(s.path("press.3", false), "10 · ECU.A.7 · ECU.press_in.pull_down · ECU.A.2 · 1 · G1");
}

#[test]
fn a_shorted_reference_gives_its_limit() {
    let s = solved(&format!("{SENSORS}wire 99 level.1 -> G1\n"), &[]);
    assert_close(s.amps("ECU.vref"), 0.05);
    assert_eq!(s.state("level.1"), "clash");
    assert_close(s.volts("level.1"), 0.0);
    assert_close(input(&s, "level_in").unwrap(), 0.0);
    assert_close(input(&s, "press_in").unwrap(), 0.0);
    let s = solved(&format!("{SENSORS}wire 99 level.1 -> battery\n"), &[]);
    assert_close(s.volts("level.1"), 12.0);
    assert_close(s.amps("ECU.vref"), -0.05);
    assert!(s.solution.blown.is_empty());
}

#[test]
fn a_dead_module_reads_nothing() {
    let s = solved_with(SENSORS, &[], |c, state| {
        let f1 = c.elements.iter().position(|e| e.name == "F1").unwrap();
        state.changes.push(Change::Open(f1.into()));
    });
    assert_eq!(s.solution.alive, [false]);
    assert_eq!(s.state("level.1"), "grounded via load");
    assert_eq!(s.state("temp.1"), "grounded via load");
    assert_close(s.volts("temp.1"), 0.0);
    assert!(!s.solution.conducts[s.element("press.transducer")]);
}

#[test]
fn a_lost_sensor_return_lifts_the_inputs() {
    let s = solved_with(SENSORS, &[], |c, state| {
        let wire = c.elements.iter().position(|e| e.name == "3").unwrap();
        state.changes.push(Change::Open(wire.into()));
    });
    assert_eq!(s.state("temp.2"), "between");
    let s = solved_with(SENSORS, &[], |c, state| {
        let wire = c.elements.iter().position(|e| e.name == "7").unwrap();
        state.changes.push(Change::Open(wire.into()));
    });
    assert_eq!(s.state("ECU.A.6"), "fed via load");
    assert_close(input(&s, "temp_in").unwrap(), 5.0);
    assert_close(s.volts("ECU.A.6"), 5.0 * 10e6 / (10e6 + 2200.0));
    assert_eq!(s.state("temp.1"), "grounded via load");
}

/// The second track of a pedal falls while the first one rises.
#[test]
fn a_track_may_fall() {
    let text = "circuit c \"C\"
supply battery 5 V
ground G1
device pedal { pins 1, 2, 3
  track 1 -> 3 wiper 2 5 kohm travel 90 .. 10 % }
wire 1 battery -> pedal.1
wire 2 pedal.3 -> G1
";
    for (at, share) in [("0 %", 0.9), ("25 %", 0.7), ("100 %", 0.1)] {
        let s = solved(text, &[&format!("pedal={at}")]);
        let volts = s.unloaded("pedal.2").unwrap();
        assert!((volts - 5.0 * share).abs() < 1e-9, "{at}: {volts}");
    }
}
