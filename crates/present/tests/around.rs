//! What is drawn when one device is asked for: all that lies on its ways.

#![allow(clippy::unwrap_used)]

mod common;

use common::circuit;
use keyon_circuit::{Entity, model::Circuit};
use keyon_draw::Thing;
use keyon_present::things_about;

fn relay(inside: &str, outside: &str) -> Circuit {
    circuit(&format!(
        "circuit mill \"Mill\"
supply battery 12 V
ground G1
fuse F1 battery -> S1 10 A
splice S1
device K1 \"Mill relay\" {{
  pins 85, 86, 30, 87
  coil K 85 -> 86 85 ohm pulls_in 0.09 A drops_out 0.03 A
  contact 30 -> 87 closed when K energised
{inside}}}
{outside}motor mill 1 ohm
module U1 {{ connector A {{ 1 bplus feed
2 gnd ground
3 cmd drives low }} }}
wire 1 S1 -> K1.85
wire 2 S1 -> K1.30
wire 3 K1.86 -> U1.A.3
wire 4 K1.87 -> mill.1
wire 5 mill.2 -> G1
wire 6 S1 -> U1.A.1
wire 7 U1.A.2 -> G1
"
    ))
}

/// A motor between two changeovers shows both ways of each, and the drivers of both relays in spite of their diodes.
#[test]
fn both_ways_of_changeovers_are_shown_with_what_moves_them() {
    let circuit = circuit(
        "circuit arm \"Arm\"
use \"trade\"
supply battery 12 V
ground G1
fuse F1 battery -> S1 10 A
splice S1
splice S2
device KO : relay5_diode
device KB : relay5_diode
motor arm 2 ohm
wire 1 S1 -> KO.87
wire 2 S1 -> KB.87
wire 3 KO.87a -> S2
wire 4 KB.87a -> S2
wire 5 S2 -> G1
wire 6 KO.30 -> arm.1
wire 7 KB.30 -> arm.2
wire 8 S1 -> KO.86
wire 9 S1 -> KB.86
wire 10 KO.85 -> U1.A.1
wire 11 KB.85 -> U1.A.2
module U1 { connector A { 1 out_cmd drives low
2 back_cmd drives low } }
",
    );
    let things = things_about(&circuit, &circuit.lookup("arm"));
    assert_eq!(things.iter().filter(|t| matches!(t, Thing::Device(_))).count(), 3, "{things:?}");
    assert!(things.iter().any(|t| matches!(t, Thing::Module(_))), "{things:?}");
    assert!(things.iter().any(|t| matches!(t, Thing::Ground(_))), "{things:?}");
}

/// The diode across a coil leads from its driver back to its feed: that is no way of its own.
#[test]
fn the_driver_of_a_relay_is_shown_in_spite_of_its_diode() {
    let none = relay("", "");
    let own = relay("  diode 86 -> 85 drop 0.7 V\n", "");
    let apart = relay("", "diode D1 K1.86 -> S1 drop 0.7 V\n");
    for circuit in [none, own, apart] {
        let things = things_about(&circuit, &circuit.lookup("mill"));
        assert!(things.iter().any(|t| matches!(t, Thing::Module(_))), "{things:?}");
        assert!(things.iter().any(|t| matches!(t, Thing::Fuse(_))), "{things:?}");
    }
}

/// Whichever of two supplies on one wire feeds: both are shown. One behind a switch of its own is another matter.
#[test]
fn supplies_that_charge_each_other_are_shown_together() {
    let text = "circuit c \"C\"
supply battery 12.6 V inner 10 mohm range 11 .. 14.8 V
supply generator 14.2 V inner 50 mohm
supply aux 12.6 V
ground G1
link FL generator -> SB 60 A
wire 1 battery -> SB
splice SB
switch jump
wire 2 aux -> jump.1
wire 3 jump.2 -> SB
fuse F1 SB -> lamp.1 5 A
wire 4 lamp.2 -> G1
lamp lamp 5 W 12 V
";
    let circuit = circuit(text);
    let lamp = circuit.lookup("lamp").first().copied().unwrap();
    let things = things_about(&circuit, &[lamp]);
    let supplies: Vec<&Thing> = things.iter().filter(|thing| matches!(thing, Thing::Supply(_))).collect();
    assert_eq!(supplies, [&Thing::Supply(0), &Thing::Supply(1)], "{things:?}");
}

/// A bypass around a chain of switches feeds as well as the chain does. Two throws of one selector are no bypass.
#[test]
fn every_feed_of_a_relay_is_shown() {
    let text = "circuit c \"C\"
supply battery 12.6 V
ground G1
fuse F1 battery -> S1 10 A
splice S1
splice SK
switch first
switch second
switch bypass
device which \"Selector\" {
  pins a, b, out
  positions off, left, right
  contact a -> out closed in left
  contact b -> out closed in right
}
wire 1 S1 -> first.1
wire 2 first.2 -> second.1
wire 3 second.2 -> SK
wire 4 S1 -> bypass.1
wire 5 bypass.2 -> SK
wire 6 SK -> lamp.1
wire 7 lamp.2 -> G1
wire 8 S1 -> which.a
wire 9 SK -> which.b
unused which.out
lamp lamp 5 W 12 V
";
    let circuit = circuit(text);
    let things = things_about(&circuit, &circuit.lookup("lamp"));
    let device = |name: &str| match circuit.lookup(name).first() {
        Some(Entity::Device(d)) => Thing::Device(*d),
        other => panic!("{name}: {other:?}"),
    };
    for name in ["first", "second", "bypass"] {
        assert!(things.contains(&device(name)), "{name}: {things:?}");
    }
    assert!(!things.contains(&device("which")), "{things:?}");
}

/// The circuit of a switch is also what it switches.
#[test]
fn what_hangs_behind_a_switch_is_shown_with_it() {
    let text = "circuit c \"C\"
supply battery 12.6 V
ground G1
fuse F1 battery -> key.1 10 A
switch key
wire 1 key.2 -> S1
splice S1
wire 2 S1 -> left.1
wire 3 S1 -> right.1
wire 4 left.2 -> G1
wire 5 right.2 -> G1
lamp left 5 W 12 V
lamp right 5 W 12 V
";
    let circuit = circuit(text);
    let things = things_about(&circuit, &circuit.lookup("key"));
    assert_eq!(things.iter().filter(|t| matches!(t, Thing::Device(_))).count(), 3, "{things:?}");
    let things = things_about(&circuit, &circuit.lookup("left"));
    assert_eq!(things.iter().filter(|t| matches!(t, Thing::Device(_))).count(), 2, "{things:?}");
}
