//! What only amps are said of draws them at the volts of the supply that feeds it.

use super::{assert_close, support::*};

#[test]
fn amps_are_drawn_at_the_volts_of_the_feed() {
    let text = r#"circuit two_nets
supply low 12 V
supply high 24 V
ground G1
splice S1
splice S2
wire 1 low -> S1
wire 2 high -> S2
elsewhere "cab" 2 A S1
elsewhere "winch" 3 A S2
module A {
  connector X {
    1 plus feed draws 0.2 A
    2 minus ground
    3 in1 senses pull_up 1 kohm to plus
    4 in2 senses digital pull_up 1 kohm to plus
    5 in3 senses digital threshold 3 V pull_up 1 kohm to plus
  }
}
wire 3 S2 -> A.X.1
wire 4 A.X.2 -> G1
"#;
    let s = solved(text, &[]);
    assert_close(s.amps("cab"), 2.0);
    assert_close(s.amps("winch"), 3.0);
    assert_close(s.amps("A.plus.draw"), 0.2);
    // What an input is pulled up to sets its range, or its threshold.
    let said = |k: usize| {
        let input = &s.circuit().modules[0].connectors[0].cavities[k];
        (input.range, input.threshold)
    };
    assert_eq!(
        [said(2), said(3), said(4)],
        [(Some((0.0, 24.0)), None), (None, Some(12.0)), (None, Some(3.0))]
    );
}

#[test]
fn stacked_supplies_add_up() {
    let text = r#"circuit stack
supply lower 12 V
supply upper 12 V negative S1
ground G1
splice S1
splice S2
wire 1 lower -> S1
fuse F1 upper -> S2 10 A
elsewhere "pump" 2 A S2
elsewhere "radio" 1 A S1
module A {
  connector X {
    1 plus feed draws 0.5 A
    2 minus ground
  }
}
wire 3 S2 -> A.X.1
wire 4 A.X.2 -> S1
"#;
    let s = solved(text, &[]);
    assert_close(s.amps("pump"), 2.0);
    assert_close(s.amps("radio"), 1.0);
    // Between the two, 12 V drive it.
    assert_close(s.amps("A.plus.draw"), 0.5);
}

#[test]
fn the_supply_behind_the_fewest_switches_counts() {
    let text = r#"circuit chooser
supply low 12 V
supply high 24 V
splice S1
splice S2
wire 1 high -> S1
switch link S1 -> S2 positions off, on closed in on
wire 2 low -> S2
elsewhere "fan" 2 A S1
elsewhere "heater" 1 A S2
elsewhere "spare" 1 A S3
splice S3
switch choose S3 -> S2 positions off, on closed in on
"#;
    let s = solved(text, &["choose=on"]);
    assert_close(s.amps("fan"), 2.0);
    assert_close(s.amps("heater"), 1.0);
    assert_close(s.amps("spare"), 1.0);
}

#[test]
fn of_supplies_of_one_system_the_first_that_reaches_counts() {
    let text = r#"circuit two_batteries
supply main 12.5 V
supply second 12 V
splice S1
splice S2
wire 1 second -> S1
elsewhere "pump" 2 A S1
elsewhere "fan" 2 A S2
diode D1 S1 -> S2 drop 0.5 V
switch key positions off, run closed in run
wire 2 main -> key.1
diode D2 key.2 -> S2 drop 0.5 V
"#;
    let s = solved(text, &[]);
    // The main battery never reaches the pump; the fan it does, if only in `run`.
    assert_close(s.amps("pump"), 2.0);
    assert_close(s.amps("fan"), 2.0 * 11.5 / 12.5);
}
