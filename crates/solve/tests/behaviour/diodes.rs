//! Diodes: suppression, feeds side by side, the feed of a module.

use super::{assert_close, support::*};
use keyon_circuit::{ids::*, model::*};

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
fn a_point_that_a_diode_only_clamps_is_not_fed() {
    let text = r#"circuit clamped
supply high 24 V
supply low 12 V
ground G1
resistor R1 100 ohm
wire 1 high -> R1.1
wire 2 R1.2 -> D1.1
diode D1 drop 0.7 V
wire 3 D1.2 -> low
diode D2 drop 0.7 V
wire 4 low -> D2.1
lamp L1 5 W 12 V
wire 5 D2.2 -> L1.1
wire 6 L1.2 -> G1
"#;
    let s = solved(text, &[]);
    assert_eq!(s.state("R1.2"), "between");
    assert_close(s.volts("R1.2"), 12.7);
    // In its direction a diode feeds.
    assert_eq!(s.state("L1.1"), "fed");
}

#[test]
fn what_stands_below_ground_gives_against_the_arrow() {
    let text = r#"circuit earthed
supply top 12 V negative live
splice live
ground G1
wire 3 top -> G1
diode D1 drop 0.7 V
wire 1 D1.2 -> live
lamp L1 5 W 12 V
wire 2 L1.1 -> D1.1
wire 3 L1.2 -> G1
"#;
    let s = solved(text, &[]);
    assert_close(s.volts("L1.1"), -11.3);
    assert_eq!(s.state("L1.1"), "fed");
}
