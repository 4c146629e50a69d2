//! Fuses that open, and supplies that meet.

use super::{assert_close, support::*};
use keyon_circuit::{ids::*, model::*};

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

#[test]
fn what_resistances_let_into_a_clash_is_known() {
    let meet = |inner: &str, drop: &str| {
        let text = format!(
            "circuit meet\nsupply low 12.6 V {inner}\nsupply high 24 V inner 10 mohm\nground G1\nwire 1 high -> X\n\
             splice X\n{drop}\nlamp L1 5 W 12 V\nwire 3 low -> L1.1\nwire 4 L1.2 -> G1\n"
        );
        solved(&text, &[])
    };
    let s = meet("inner 15 mohm", "wire 2 X -> low");
    assert_eq!((s.state("X"), s.solution.clash_amps.is_some()), ("clash", true));
    // The lamp takes a little beside: 24 V behind 10 mohm against 12.6 V behind 15 mohm and the lamp's 28.8 ohm.
    let (high, low, lamp) = (1.0 / 0.01, 1.0 / 0.015, 1.0 / 28.8);
    let at = (24.0 * high + 12.6 * low) / (high + low + lamp);
    assert_close(s.solution.clash_amps.unwrap(), (24.0 - at) * high);
    // A diode on the way takes its drop.
    let s = meet("inner 15 mohm", "diode D1 X -> low drop 0.6 V");
    assert_eq!(s.state("X"), "clash");
    let at = (23.4 * high + 12.6 * low) / (high + low + lamp);
    assert_close(s.solution.clash_amps.unwrap(), (23.4 - at) * high);
    // Nothing limits what one ideal source gives a way to ground.
    let s = solved(
        "circuit short\nsupply battery 12 V\nground G1\nswitch S battery -> G1 positions off, on closed in on\n",
        &["S=on"],
    );
    assert_eq!((s.state("battery"), s.solution.clash_amps), ("clash", None));
}
