//! Pulsed outputs, motors and devices that get too little.

use super::{assert_close, support::*};

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
