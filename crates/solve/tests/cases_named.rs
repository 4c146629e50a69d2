//! Random circuits on which tables once differed from their states, made small.

#![allow(clippy::expect_used, clippy::panic)]

mod common;

use common::agrees::check;

fn agrees(text: &str) {
    if let Err(wrong) = check(text) {
        panic!("{wrong}");
    }
}

/// Two ways to ground side by side share a load's current: both hang on what the load hangs on.
#[test]
fn a_loop_of_joints_carries_its_share() {
    let text = "circuit random
supply battery 12 V
ground G1
splice S0
splice S3
splice S5
switch key battery -> S5
fuse F0 G1 -> S0 10 A
switch X1 S3 -> S0
coil K0 S3 -> S5 60 ohm
wire G1 -> S3
";
    agrees(text);
}

/// A switched diode from the supply to ground shorts what hangs on the supply beside it.
#[test]
fn a_diode_that_shorts_the_supply_is_no_function() {
    let text = "circuit random
supply battery 12 V
ground G1
splice S5
switch key battery -> S5
lamp L0 G1 -> battery 21 W 12 V
diode D1 S5 -> G1 drop 0.7 V
";
    agrees(text);
}

/// A clash that stands in every state, with a diode beside it that leads away from it.
#[test]
fn a_diode_beside_a_clash_that_always_stands() {
    let text = "circuit random
supply battery 12 V
ground G1
splice S0
splice S1
splice S2
splice S3
splice S4
splice S5
device key {
  pins B, R, S
  positions off, run, start
  contact B -> R closed in run, start
  contact B -> S closed in start
}
wire battery -> key.B
diode D0 S0 -> key.S drop 0.7 V
wire w1 S0 -> G1
switch X2 battery -> M.A.2
lamp L3 M.A.3 -> key.S 21 W 12 V
module M {
  connector A {
    1 d1 drives low
    2 d2 drives low
    5 vref reference 5 V
    6 in senses pull_up 1 kohm to 5 V
    3 d3 drives low
    4 d4 drives low
  }
}
wire battery -> S0
";
    agrees(text);
}

/// A wire and a fuse to ground side by side, the switch between them closed: the fuse carries its share of the coil's
/// current.
#[test]
fn a_fuse_beside_a_wire_to_ground_carries_its_share() {
    let text = "circuit random
supply battery 12 V
ground G1
splice S0
splice S3
device key {
  pins B, R, S
  positions off, run, start
  contact B -> R closed in run, start
  contact B -> S closed in start
}
wire battery -> key.B
fuse F0 G1 -> S0 10 A
switch X1 S3 -> S0
coil K0 key.R -> S3 210 ohm
wire G1 -> S3
";
    agrees(text);
}

/// A winding beside a diode, both from the battery: where nothing draws from them the winding lifts the diode's far end,
/// so that it blocks.
#[test]
fn a_diode_that_a_load_lifts_brings_nothing() {
    let text = "circuit random
supply battery 12 V
ground G1
splice S3
splice S5
diode D0 battery -> S3 drop 0.7 V
switch X1 S5 -> S3
lamp L2 S5 -> G1 21 W 12 V
winding W3 battery -> S3 8 ohm
";
    agrees(text);
}

/// A module whose ground is in a clash: its reference stands on that clash.
#[test]
fn a_reference_on_a_ground_in_a_clash() {
    let text = "circuit random
supply battery 12 V
ground G1
device key {
  pins B, R, S
  positions off, run, start
  contact B -> R closed in run, start
  contact B -> S closed in start
}
wire battery -> key.B
lamp L0 G1 -> M.A.5 21 W 12 V
module M {
  connector A {
    12 gnd ground
    1 d1 drives low
    2 d2 drives low
    5 vref reference 5 V
    6 in senses pull_up 1 kohm to 5 V
    3 d3 drives low
    4 d4 drives low
  }
}
wire G1 -> M.A.12
wire key.R -> M.A.1
";
    agrees(text);
}

/// A reference wired to the battery, with loads from the clash to ground.
#[test]
fn a_load_between_a_clash_and_ground() {
    let text = "circuit random
supply battery 12 V
ground G1
splice S0
wire w0 M.A.5 -> battery
winding W1 M.A.4 -> battery 8 ohm
coil C3 M.A.4 -> M.A.1 24 ohm pulls_in 0.4 A drops_out 0.1 A
module M {
  connector A {
    1 d1 drives low
    2 d2 drives low
    5 vref reference 5 V
    6 in senses pull_up 1 kohm to 5 V
    3 d3 drives low
    4 d4 drives low
  }
}
wire battery -> S0
";
    agrees(text);
}

/// A lamp that hangs on a clash by one end.
#[test]
fn a_load_that_hangs_on_a_clash_alone() {
    let text = "circuit random
supply battery 12 V
ground G1
splice S2
splice S3
lamp L0 G1 -> S2 21 W 12 V
lamp L1 M.A.3 -> S2 21 W 12 V
lamp L2 S3 -> battery 21 W 12 V
module M {
  connector A {
    1 d1 drives low
    2 d2 drives low
    5 vref reference 5 V
    6 in senses pull_up 1 kohm to 5 V
    3 d3 drives low
    4 d4 drives low
  }
}
wire M.A.5 -> battery
wire battery -> M.A.3
";
    agrees(text);
}

/// Two relays pull in at once: the one holds itself before the other shorts it.
#[test]
fn a_relay_that_pulls_in_first_and_holds() {
    let text = "circuit random
supply battery 12 V
ground G1
splice S0
splice S1
splice S2
splice S3
splice S5
switch X0 M.A.3 -> S0
lamp L1 battery -> M.A.1 21 W 12 V
lamp L2 S3 -> G1 21 W 12 V
lamp L3 S0 -> battery 21 W 12 V
device K0 {
  pins 30, 85, 86, 87, 87a
  coil K 85 -> 86 60 ohm pulls_in 0.1 A drops_out 0.03 A
  changeover 30 -> (rest 87a, active 87) when K energised
}
wire S3 -> K0.85
wire K0.86 -> S5
wire S5 -> K0.30
wire K0.87a -> M.A.3
wire K0.87 -> battery
device K1 {
  pins 30, 85, 86, 87, 87a
  coil K 85 -> 86 60 ohm pulls_in 0.1 A drops_out 0.03 A
  changeover 30 -> (rest 87a, active 87) when K energised
}
wire G1 -> K1.85
wire K1.86 -> M.A.1
wire G1 -> K1.30
wire K1.87a -> M.A.4
wire K1.87 -> M.A.3
module M {
  connector A {
    12 gnd ground
    1 d1 drives low
    2 d2 drives low
    5 vref reference 5 V
    6 in senses pull_up 1 kohm to 5 V
    3 d3 drives low
    4 d4 drives low
  }
}
wire S2 -> M.A.12
wire S1 -> battery
";
    agrees(text);
}

/// A diode feeds a lamp into what a relay brings into a clash: next to a clash nothing settles.
#[test]
fn volts_beside_what_a_relay_brings_into_a_clash() {
    let text = "circuit random
supply battery 12 V
ground G1
splice S0
splice S2
device key {
  pins B, R, S
  positions off, run, start
  contact B -> R closed in run, start
  contact B -> S closed in start
}
wire battery -> key.B
wire w0 M.A.5 -> G1
lamp L1 S0 -> key.S 21 W 12 V
wire w2 M.A.2 -> M.A.4
diode D3 battery -> key.S drop 0.7 V
wire w4 M.A.5 -> M.A.6
device K0 {
  pins 30, 85, 86, 87, 87a
  coil K 85 -> 86 60 ohm pulls_in 0.1 A drops_out 0.03 A
  changeover 30 -> (rest 87a, active 87) when K energised
}
wire S2 -> K0.85
wire K0.86 -> M.A.2
wire M.A.5 -> K0.30
wire K0.87a -> G1
wire K0.87 -> M.A.2
module M {
  connector A {
    1 d1 drives low
    2 d2 drives low
    5 vref reference 5 V
    6 in senses pull_up 1 kohm to 5 V
    3 d3 drives low
    4 d4 drives low
  }
}
wire S0 -> S2
";
    agrees(text);
}

/// A pull-up to a voltage of the module's own takes current in, and the fuse in the module's ground carries it.
#[test]
fn a_ground_carries_what_a_pull_up_takes_in() {
    let text = "circuit random
supply battery 12 V
ground G1
splice S5
device key {
  pins B, R, S
  positions off, run, start
  contact B -> R closed in run, start
  contact B -> S closed in start
}
wire battery -> key.B
fuse F0 G1 -> S5 10 A
switch X2 M.A.6 -> key.S
module M {
  connector A {
    12 gnd ground
    1 d1 drives low
    2 d2 drives low
    5 vref reference 5 V
    6 in senses pull_up 1 kohm to 5 V
    3 d3 drives low
    4 d4 drives low
  }
}
wire S5 -> M.A.12
wire battery -> key.R
";
    agrees(text);
}

/// A relay pulls in before another one takes most of its current away, and stays.
#[test]
fn a_relay_that_stays_with_less_than_it_pulls_in_with() {
    let text = "circuit random
supply battery 12 V
ground G1
splice S1
splice S2
splice S3
splice S4
splice S5
switch X0 G1 -> S4
lamp L1 S5 -> S2 21 W 12 V
lamp L2 S2 -> S4 21 W 12 V
device K0 {
  pins 30, 85, 86, 87, 87a
  coil K 85 -> 86 60 ohm pulls_in 0.1 A drops_out 0.03 A
  changeover 30 -> (rest 87a, active 87) when K energised
}
wire G1 -> K0.85
wire K0.86 -> S5
wire S4 -> K0.30
wire K0.87a -> S1
wire K0.87 -> G1
device K1 {
  pins 30, 85, 86, 87, 87a
  coil K 85 -> 86 60 ohm pulls_in 0.1 A drops_out 0.03 A
  changeover 30 -> (rest 87a, active 87) when K energised
}
wire S2 -> K1.85
wire K1.86 -> G1
wire S1 -> K1.30
wire K1.87a -> S3
wire K1.87 -> G1
wire S5 -> battery
";
    agrees(text);
}
