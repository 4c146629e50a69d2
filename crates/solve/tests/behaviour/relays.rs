//! Relays: they switch, hold, chatter, lock each other out.

use super::{assert_close, support::*};
use keyon_circuit::ids::*;

pub(crate) const RELAY: &str = r#"circuit relay
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
