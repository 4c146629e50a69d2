//! What circuits do: relays, diodes, fuses, limits, pulses, motors, sensors, the meter.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;
use keyon_circuit::{ids::*, model::*, value::Num};
use support::*;

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * b.abs().max(1e-3)
}

#[track_caller]
fn assert_close(a: f64, b: f64) {
    assert!(close(a, b), "{a} is not {b}");
}

const RELAY: &str = r#"circuit relay
supply battery 12 V
ground G1
switch button positions up, pressed
fuse F1 battery -> S1 10 A
splice S1
wire 1 S1 -> button.1
wire 2 button.2 -> K1.85
wire 3 K1.86 -> G1
wire 4 S1 -> K1.30
wire 5 K1.87 -> horn.1
wire 6 horn.2 -> G1
resistor horn 4 ohm
device K1 {
  pins 30, 85, 86, 87
  coil K 85 -> 86 90 ohm pulls_in 0.09 A drops_out 0.03 A
  contact 30 -> 87 closed when K energised
}
"#;

#[test]
fn a_relay_switches() {
    let s = solved(RELAY, &[]);
    assert_eq!(s.does("K1"), "rests");
    assert_eq!(s.state("horn.1"), "grounded via load");
    assert_eq!(s.state("K1.85"), "grounded via load");
    let s = solved(RELAY, &["button=pressed"]);
    assert_eq!(s.does("K1"), "operates");
    assert_eq!(s.state("horn.1"), "fed");
    assert_close(s.amps("F1"), 3.0 + 12.0 / 90.0);
    assert!(s.solution.holds.is_empty());
}

#[test]
fn a_latching_relay_holds() {
    let text = format!("{RELAY}wire 7 K1.87 -> K1.85\n");
    let s = solved(&text, &[]);
    assert_eq!(s.does("K1"), "rests");
    assert!(s.device("K1").holds);
    let s = solved(&text, &["button=pressed"]);
    assert_eq!(s.does("K1"), "operates");
    assert!(!s.device("K1").holds);
}

#[test]
fn a_buzzer_chatters() {
    let s = solved(
        r#"circuit buzzer
supply battery 12 V
ground G1
splice S1
wire 1 battery -> K1.30
wire 2 K1.87a -> S1
wire 3 S1 -> K1.85
wire 4 K1.86 -> G1
wire 5 battery -> L1.1
wire 6 L1.2 -> G1
lamp L1 5 W 12 V
device K1 {
  pins 30, 85, 86, 87a
  coil K 85 -> 86 90 ohm pulls_in 0.09 A drops_out 0.03 A
  contact 30 -> 87a open when K energised
}
"#,
        &[],
    );
    assert_eq!(s.does("K1"), "chatters");
    assert_eq!(s.solution.chatters, [ElementId::from(s.element("K1.K"))]);
    assert_eq!(s.state("S1"), "chatters");
    assert_eq!(s.state("battery"), "fed");
    assert_eq!(s.unloaded("S1"), None);
    assert_eq!(s.does("L1"), "operates");
}

#[test]
fn of_two_relays_that_lock_each_other_out_one_wins() {
    let s = solved(
        r#"circuit interlock
supply battery 12 V
ground G1
splice S1
wire 1 battery -> S1
wire 2 S1 -> K1.30
wire 3 S1 -> K2.30
wire 4 K1.87a -> K2.85
wire 5 K2.87a -> K1.85
wire 6 K1.86 -> G1
wire 7 K2.86 -> G1
device K1 : lock
device K2 : lock
part lock {
  pins 30, 85, 86, 87a
  coil K 85 -> 86 90 ohm pulls_in 0.09 A drops_out 0.03 A
  contact 30 -> 87a open when K energised
}
"#,
        &[],
    );
    assert_eq!((s.does("K1"), s.does("K2")), ("operates", "rests"));
    assert!(s.solution.chatters.is_empty());
}

const SUPPRESSED: &str = r#"circuit valve
supply battery 12 V
ground G1
fuse F1 battery -> valve.1 5 A
wire 1 valve.2 -> ECU.A.1
wire 2 battery -> ECU.A.3
wire 3 ECU.A.2 -> G1
device valve {
  pins 1, 2
  coil 1 -> 2 24 ohm
  diode DIODE drop 0.7 V
}
module ECU {
  connector A {
    1 cmd drives low on 100 mohm
    2 gnd ground
    3 ub feed
  }
}
"#;

#[test]
fn a_suppression_diode_blocks() {
    let text = SUPPRESSED.replace("DIODE", "2 -> 1");
    let s = solved(&text, &["cmd=on"]);
    assert_eq!(s.does("valve"), "operates");
    assert_eq!(s.state("valve.2"), "grounded");
    assert_close(s.amps("F1"), 12.0 / 24.1);
    let s = solved(&text, &[]);
    assert_eq!(s.state("valve.2"), "fed via load");
}

#[test]
fn a_suppression_diode_fitted_backwards_shorts() {
    let text = SUPPRESSED.replace("DIODE", "1 -> 2");
    let s = solved(&text, &["cmd=on"]);
    assert_eq!(s.solution.blown, [(ElementId::from(s.element("F1")), None)]);
    assert_eq!(s.does("valve"), "rests");
    assert_eq!(s.state("valve.1"), "grounded via load");
    let s = solved_with(&text, &["cmd=on"], |_, state| state.options.keep_fuses = true);
    assert_eq!(s.state("valve.2"), "clash");
    assert_eq!(s.state("valve.1"), "clash");
    assert_eq!(s.state("G1"), "grounded");
    assert_eq!(s.solution.volts[s.point("valve.1")], None);
    assert!(s.amps("F1").is_nan());
    assert_close(s.amps("valve.coil"), 0.0);
    let s = solved(&text, &[]);
    assert!(s.solution.clashes.is_empty());
    // The coil leaves no voltage for the diode.
    assert_eq!(s.state("valve.2"), "fed via load");
}

#[test]
fn diodes_share_a_load_and_keep_feeds_apart() {
    let text = r#"circuit or
supply a 12 V
supply b 11 V
ground G1
splice S1
diode D1 a -> S1 drop 0.7 V
diode D2 b -> S1 drop 0.7 V
lamp L1 S1 -> G1 12 W 12 V
"#;
    let s = solved(text, &[]);
    assert_close(s.unloaded("S1").unwrap(), 11.3);
    assert_eq!(s.state("S1"), "fed");
    assert_close(s.amps("D2"), 0.0);
    assert!(s.solution.clashes.is_empty());
    assert!(s.solution.conducts[s.element("D1")]);
    assert!(!s.solution.conducts[s.element("D2")]);
    let s = solved_with(text, &[], |c, state| {
        let d1 = c.elements.iter().position(|e| e.name == "D1").unwrap();
        state.changes.push(Change::Open(d1.into()));
    });
    assert_close(s.unloaded("S1").unwrap(), 10.3);
    let equal = text.replace("11 V", "12 V");
    let s = solved(&equal, &[]);
    assert_close(s.amps("D1"), s.amps("D2"));
    assert_eq!(s.state("S1"), "fed");
}

#[test]
fn a_forward_diode_feeds_a_module() {
    let text = r#"circuit alive
supply battery 12 V
ground G1
diode D1 battery -> ECU.A.3 drop 0.6 V
wire 1 battery -> ECU2.A.2
wire 2 ECU.A.2 -> G1
wire 3 ECU.A.1 -> ECU2.A.1
wire 4 ECU2.A.3 -> G1
lamp L1 ECU2.A.4 -> G1 12 W 12 V
module ECU {
  connector A {
    1 out drives high on 50 mohm
    2 gnd ground
    3 ub feed
  }
}
module ECU2 {
  connector A {
    1 ub feed
    2 spare unused
    3 gnd ground
    4 lamp drives high
  }
}
"#;
    let text = text.replace("wire 1 battery -> ECU2.A.2\n", "");
    let s = solved(&text, &["lamp=on"]);
    assert_eq!(s.solution.alive, [true, false]);
    assert_eq!(s.does("L1"), "rests");
    let s = solved(&text, &["lamp=on", "out=on"]);
    assert_eq!(s.solution.alive, [true, true]);
    assert_eq!(s.does("L1"), "operates");
    assert_eq!(s.state("L1.1"), "fed");
    assert_close(s.amps("L1"), 11.4 / 12.05);
}

#[test]
fn overloaded_fuses_open_the_worst_first() {
    let text = r#"circuit fuses
supply battery 12 V
ground G1
splice S1
fuse F1 battery -> S1 10 A
fuse F2 S1 -> L1.1 2 A
wire 1 L1.2 -> G1
resistor L1 3 ohm
fuse F3 S1 -> L2.1 5 A
wire 2 L2.2 -> G1
resistor L2 2.4 ohm
"#;
    let s = solved(text, &[]);
    assert_eq!(s.solution.blown, [(ElementId::from(s.element("F2")), Some(4.0))]);
    assert_close(s.amps("F3"), 5.0);
    let s = solved_with(text, &[], |_, state| state.options.keep_fuses = true);
    assert!(s.solution.blown.is_empty());
    assert_close(s.amps("F2"), 4.0);
}

#[test]
fn the_weaker_fuse_of_a_short_opens() {
    let text = r#"circuit short
supply battery 12.6 V inner 10 mohm
ground G1
fuse F1 battery -> S1 60 A
fuse F7 S1 -> S2 10 A
splice S1
splice S2
lamp L1 S1 -> G1 12 W 12 V
lamp L2 S2 -> G1 12 W 12 V
"#;
    let short = |c: &Circuit, state: &mut keyon_solve::State| {
        let at = c.points.iter().position(|p| p.name == "S2").unwrap();
        state.changes.push(Change::Add { from: at.into(), to: COMMON, law: Law::Joint });
    };
    let s = solved_with(text, &[], short);
    assert_eq!(s.solution.blown, [(ElementId::from(s.element("F7")), None)]);
    assert_eq!((s.does("L1"), s.does("L2")), ("operates", "rests"));
    assert_eq!(s.state("S2"), "grounded");
    let s = solved_with(text, &[], |c, state| {
        short(c, state);
        state.options.keep_fuses = true;
    });
    for point in ["S1", "S2", "battery"] {
        assert_eq!(s.state(point), "clash", "{point}");
    }
    assert_eq!(s.state("G1"), "grounded");
    assert_eq!(s.state("ground"), "grounded");
    assert!(s.amps("F1").is_nan() && s.amps("battery").is_nan());
    assert_eq!((s.does("L1"), s.does("L2")), ("rests", "rests"));
    assert_eq!(s.volts("L1.2"), 0.0);
}

#[test]
fn what_a_short_does_not_touch_goes_on() {
    let text = r#"circuit two
supply one 12 V
supply two 24 V
ground G1
lamp L1 one -> G1 12 W 12 V
wire 9 one -> G1
lamp L2 two -> S2 24 W 24 V
splice S2
wire 3 S2 -> G1
splice S3
resistor R1 two -> S3 1 kohm
resistor R2 S3 -> one 1 kohm
"#;
    let s = solved(text, &[]);
    assert_eq!(s.state("one"), "clash");
    assert_eq!(s.does("L2"), "operates");
    assert_close(s.amps("L2"), 1.0);
    assert_eq!(s.does("L1"), "rests");
    assert_eq!(s.solution.volts[s.point("S3")], None);
    assert!(s.amps("9").is_nan());
    assert_eq!(s.state("S2"), "grounded");
}

#[test]
fn two_supplies() {
    let joined = r#"circuit joined
supply one 12 V inner 10 mohm
supply two 24 V inner 10 mohm
ground G1
wire 1 one -> S1
wire 2 two -> S1
splice S1
lamp L1 S1 -> G1 12 W 12 V
"#;
    let s = solved(joined, &[]);
    assert_eq!(s.state("S1"), "clash");
    let s = solved(&joined.replace("24 V", "12 V"), &[]);
    assert_eq!(s.state("S1"), "fed");
    assert_close(s.amps("one"), s.amps("two"));
    let half = r#"circuit series
supply one 12 V
supply two 12 V negative one
ground G1
lamp L1 two -> G1 24 W 24 V
lamp L2 one -> G1 12 W 12 V
"#;
    let s = solved(half, &[]);
    assert_eq!(s.state("two"), "fed");
    assert_close(s.volts("two"), 24.0);
    assert_close(s.amps("one"), 2.0);
    assert_close(s.amps("two"), 1.0);
}

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

const PULSED: &str = r#"circuit pulsed
supply battery 12 V
ground G1
wire 1 battery -> ECU.A.1
wire 2 ECU.A.2 -> G1
wire 3 battery -> fan.1
wire 4 fan.2 -> ECU.A.3
wire 5 ECU.A.4 -> flap.1
wire 6 ECU.A.5 -> flap.2
wire 7 battery -> lamp.1
wire 8 lamp.2 -> ECU.A.6
resistor fan 12 ohm
device flap { pins 1, 2
  winding 6 ohm turns_at 0.4 A }
lamp lamp 12 W 12 V
module ECU {
  connector A {
    1 ub feed
    2 gnd ground
    3 fan drives low pwm 100 Hz
    4 flap_a switches { gnd, ub }
    5 flap_b switches { gnd, ub }
    6 light drives low pwm 200 Hz
  }
  gang flap_drive pwm 150 Hz {
    stop flap_a gnd flap_b gnd
    open flap_a ub flap_b gnd
    shut flap_a gnd flap_b ub
  }
}
"#;

#[test]
fn pulses_are_averaged() {
    let text = PULSED.replace("3 fan drives", "3 fan_cmd drives");
    let s = solved(&text, &["fan_cmd=on 40 %", "light=on 90 %"]);
    assert_close(s.amps("fan"), 0.4);
    assert_close(s.unloaded("fan.2").unwrap(), 0.6 * 12.0);
    assert_eq!(s.state("fan.2"), "grounded");
    assert_close(s.amps("battery"), 0.4 + 0.9);
    assert_close(s.device("lamp").duty, 0.9);
    assert_eq!(s.does("lamp"), "operates");
    let s = solved(&text, &["light=on 10 %"]);
    assert_eq!(s.does("lamp"), "rests");
    let s = solved(&text, &["light=on"]);
    assert_eq!(s.device("lamp").duty, 1.0);
}

#[test]
fn a_motor_turns_both_ways() {
    let text = PULSED.replace("3 fan drives", "3 fan_cmd drives");
    let s = solved(&text, &[]);
    assert_eq!(s.state("flap.1"), "grounded");
    let s = solved(&text, &["flap_drive=open"]);
    assert_eq!(s.does("flap"), "operates forward");
    assert_close(s.amps("flap.winding"), 2.0);
    let s = solved(&text, &["flap_drive=shut 50 %"]);
    assert_eq!(s.does("flap"), "operates reverse");
    assert_close(s.amps("flap.winding"), -1.0);
    assert_close(s.device("flap").duty, 0.5);
    let runs = text.replace("6 ohm turns_at 0.4 A", "6 ohm rated 12 V runs 0.5 A");
    let s = solved(&runs, &["flap_drive=open"]);
    assert_eq!(s.does("flap"), "operates forward");
    assert_close(s.amps("flap.winding"), 0.5);
    let s = solved_with(&runs, &["flap_drive=open"], |_, state| state.options.inrush = true);
    assert_close(s.amps("flap.winding"), 2.0);
}

#[test]
fn devices_are_weak_on_half_the_supply() {
    let s = solved(
        r#"circuit dim
supply battery 12 V
ground G1
splice S1
lamp L1 battery -> S1 12 W 12 V
lamp L2 S1 -> G1 12 W 12 V
lamp L3 battery -> G1 12 W 12 V cold 1 ohm
device burner { pins 1, 2, 3
  coil A 1 -> 2 48 ohm
  coil B 1 -> 3 24 ohm
  grade trickle { A }
  grade full { A, B } }
wire 1 battery -> burner.1
wire 2 burner.2 -> G1
switch sw burner.3 -> G1
"#,
        &[],
    );
    assert_eq!((s.does("L1"), s.does("L2"), s.does("L3")), ("weak", "weak", "operates"));
    assert_eq!(s.state("S1"), "between");
    assert_close(s.unloaded("S1").unwrap(), 6.0);
    assert_eq!(s.device("burner").grade.as_deref(), Some("trickle"));
    assert_eq!(s.state("burner.3"), "fed via load");
}

#[test]
fn the_meter_loads_what_it_probes() {
    let text = r#"circuit meter
supply battery 12 V
ground G1
splice S1
splice S2
splice S9
resistor R9 S9 -> S10 10 ohm
splice S10
resistor R1 battery -> S1 1 Mohm
resistor R2 S1 -> S2 1 Mohm
switch sw S2 -> G1
supply alone 9 V negative S8
splice S8
resistor R3 alone -> S8 90 ohm
"#;
    let s = solved(text, &[]);
    assert_close(s.volts("S1"), 12.0 * 10.0 / 11.0);
    assert_close(s.volts("S2"), 12.0 * 10.0 / 12.0);
    assert_close(s.unloaded("S2").unwrap(), 12.0);
    assert_eq!((s.state("S9"), s.volts("S9"), s.unloaded("S9")), ("open", 0.0, None));
    assert_close(s.amps("R3"), 0.1);
    assert_eq!((s.volts("alone"), s.unloaded("alone")), (0.0, None));
    let s = solved(text, &["sw=on"]);
    assert_close(s.unloaded("S1").unwrap(), 6.0);
    assert_close(s.volts("S1"), 6.0 * 10.0 / 10.5);
    assert_eq!(s.path("S1", true), "R1.2.tie · R1.2 · R1 · R1.1 · R1.1.tie");
    assert!(s.path("S1", false).ends_with("G1"));
}

#[test]
fn added_elements_follow_the_circuits_own() {
    let s = solved_with(RELAY, &[], |c, state| {
        let at = c.points.iter().position(|p| p.name == "K1.87").unwrap();
        let battery = c.points.iter().position(|p| p.name == "battery").unwrap();
        let load = Law::Resistance(Num::exact(8.0));
        state.changes.push(Change::Add { from: battery.into(), to: at.into(), law: load });
    });
    let added = s.circuit().elements.len();
    assert_close(s.solution.amps[added].known().unwrap(), 1.0);
    assert!(matches!(s.solution.added(s.circuit(), added.into()), Some(Change::Add { .. })));
    assert_eq!(s.state("K1.87"), "between");
}

#[test]
fn windows_from_tolerances() {
    use keyon_solve::{Bands, Reading, State, window};
    let text = r#"circuit band
supply battery 12 V range 10 .. 14 V
ground G1
splice S1
resistor R1 battery -> S1 1 kohm +- 10 %
resistor R2 S1 -> G1 2 kohm +- 5 %
"#;
    let elaboration = circuit(text);
    let c = &elaboration.circuit;
    let point = c.points.iter().position(|p| p.name == "S1").unwrap();
    let read = |ohms1: f64, ohms2: f64, volts: f64| {
        let free = volts * ohms2 / (ohms1 + ohms2);
        let inner = ohms1 * ohms2 / (ohms1 + ohms2);
        free * 10e6 / (10e6 + inner)
    };
    let state = State::rest(c);
    let reading = Reading::Volts(PointId::from(point));
    let found = window(c, &state, reading, Bands { tolerances: true, ranges: false }).unwrap();
    assert_close(found.low, read(1100.0, 1900.0, 12.0));
    assert_close(found.high, read(900.0, 2100.0, 12.0));
    assert!(found.method == keyon_solve::Method::Corners);
    let found = window(c, &state, reading, Bands { tolerances: true, ranges: true }).unwrap();
    assert_close(found.low, read(1100.0, 1900.0, 10.0));
    assert_close(found.high, read(900.0, 2100.0, 14.0));
    let found = window(c, &state, reading, Bands { tolerances: false, ranges: false }).unwrap();
    assert_eq!(found.low, found.high);
}

#[test]
fn windows_of_many_values_are_climbed() {
    use keyon_solve::{Bands, Reading, State, window};
    let mut text = String::from("circuit ladder\nsupply battery 12 V\nground G1\n");
    for index in 0..6 {
        let before = if index == 0 { "battery".to_owned() } else { format!("S{}", index - 1) };
        text += &format!("splice S{index}\nresistor A{index} {before} -> S{index} 1 kohm +- 5 %\n");
        text += &format!("resistor B{index} S{index} -> G1 2 kohm +- 5 %\n");
    }
    let elaboration = circuit(&text);
    let c = &elaboration.circuit;
    let point = c.points.iter().position(|p| p.name == "S5").unwrap();
    let reading = Reading::Volts(PointId::from(point));
    let found = window(c, &State::rest(c), reading, Bands { tolerances: true, ranges: false }).unwrap();
    // At the far end of a ladder all series resistances lower the reading and all others raise it.
    let at = |series: f64, shunt: f64| {
        let (mut volts, mut inner) = (12.0, 0.0);
        for _ in 0..6 {
            let above = inner + series;
            volts *= shunt / (above + shunt);
            inner = above * shunt / (above + shunt);
        }
        volts * 10e6 / (10e6 + inner)
    };
    assert_close(found.low, at(1050.0, 1900.0));
    assert_close(found.high, at(950.0, 2100.0));
    assert!(found.method == keyon_solve::Method::Corners);
}
