//! The orchard sprayer of the language page, with figures worked out by hand.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;
use support::*;

const SPRAYER: &str = r#"circuit orchard_sprayer
supply battery  12.6 V  inner 15 mohm
ground G1
splice S12
device key : key_switch
fuse F1  battery -> key.B   60 A
fuse F7  key.R -> S12       10 A
unused key.S
wire 430  S12 -> mid_valve.1     0.75 mm2  OG     1.9 m
wire 431  S12 -> left_valve.1    0.75 mm2  OG     2.4 m
wire 441  left_valve.2 -> SCU.A.4   0.75 mm2  OG/BK  3.1 m
wire 442  mid_valve.2 -> SCU.A.5    0.75 mm2  OG/WH  2.6 m
wire 510  S12 -> SCU.A.1         1.0 mm2   OG/RD  0.8 m
wire 101  SCU.A.2 -> G1          1.5 mm2   BK     0.6 m
device left_valve : boom_valve
device mid_valve : boom_valve
part boom_valve {
  pins 1, 2
  coil 1 -> 2  24 ohm
}
part key_switch {
  pins B, R, S
  positions off, run, start
  contact B -> R  closed in run, start
  contact B -> S  closed in start
}
module SCU {
  connector A {
    1   bplus      feed
    2   gnd        ground
    4   left_cmd   drives low   on 120 mohm  limit 2 A  clamp
    5   mid_cmd    drives low   on 120 mohm  limit 2 A  clamp
  }
}
"#;

#[test]
fn key_off() {
    let s = solved(SPRAYER, &[]);
    assert_eq!(s.state("S12"), "open");
}

#[test]
fn key_on() {
    let s = solved(SPRAYER, &["key=run"]);
    assert_eq!(s.state("left_valve.2"), "fed via load");
    assert_eq!(s.state("SCU.A.4"), "fed via load");
    assert!((s.volts("left_valve.2") - 12.6).abs() < 1e-4);
    assert_eq!(s.does("left_valve"), "rests");
}

#[test]
fn left_boom_on() {
    let s = solved(SPRAYER, &["key=run", "left_cmd=on"]);
    assert_eq!(s.state("left_valve.1"), "fed");
    assert_eq!(s.state("left_valve.2"), "grounded");
    assert_eq!(s.does("left_valve"), "operates");
    assert_eq!(s.does("mid_valve"), "rests");
    assert!((s.amps("F7") - 0.519).abs() < 5e-4);
    assert!((s.volts("left_valve.1") - 12.56).abs() < 5e-3);
    assert!((s.volts("left_valve.2") - 0.108).abs() < 5e-4);
    assert_eq!(s.path("left_valve.1", true), "431 · F7 · key.R · key.B_R · key.B · F1");
}
