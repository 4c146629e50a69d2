//! The meter, elements that a state adds, windows from tolerances.

use super::{assert_close, relays::RELAY, support::*};
use keyon_circuit::{ids::*, model::*, value::Num};

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

/// A supply that is tied to nothing has its volts between its poles all the same; against ground nothing is said.
#[test]
fn two_leads_read_a_supply_that_floats() {
    use keyon_solve::probe::{Shown, across};
    let text = "circuit c \"C\"
supply battery 12.6 V
supply hand 9 V inner 1 ohm negative N
ground G1
splice N
lamp L0 battery -> G1 5 W 12 V
lamp L1 hand -> N 3 W 9 V
";
    let s = solved(text, &[]);
    let point = |name: &str| PointId::from(s.point(name));
    let read = |a: &str, b: &str| across(s.circuit(), &s.solution.state, point(a), point(b), 10e6);
    // 27 ohm behind 1 ohm, less what ten megohms take.
    match read("hand", "N") {
        Shown::Volts(volts) => assert!((volts - 9.0 * 27.0 / 28.0).abs() < 1e-5, "{volts}"),
        other => panic!("{other:?}"),
    }
    match read("N", "hand") {
        Shown::Volts(volts) => assert!((volts + 9.0 * 27.0 / 28.0).abs() < 1e-5, "{volts}"),
        other => panic!("{other:?}"),
    }
    match read("hand", "G1") {
        Shown::Floating => {}
        Shown::Volts(volts) => assert!(volts.abs() < 1e-9, "{volts}"),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_lamp_alternates_with_a_relay_that_cannot_settle() {
    use keyon_circuit::model::COMMON;
    use keyon_solve::probe::{Bench, Instrument, Shown};
    let text = r#"circuit buzzer
supply battery 12 V
ground G1
device K {
  pins 1, 2, 3, 4
  coil K 1 -> 2 80 ohm pulls_in 0.08 A drops_out 0.04 A
  contact 3 -> 4 open when K energised
}
wire 1 battery -> K.3
wire 2 K.4 -> K.1
wire 3 K.2 -> G1
resistor R1 100 ohm
resistor R2 100 ohm
resistor R3 100 ohm
wire 4 battery -> R1.1
wire 5 R1.2 -> R2.1
wire 6 R2.2 -> G1
wire 7 R1.2 -> R3.1
wire 8 R3.2 -> K.4
"#;
    let s = solved(text, &[]);
    assert!(!s.solution.chatters.is_empty());
    let mut bench = Bench::new(s.circuit(), &s.solution, Instrument::Lamp(40.0), COMMON);
    let mut at = |name: &str| bench.at(s.point(name).into());
    // `K.4` is joined to the battery for half of the time; `R1.2` lies between all of the time, at other volts.
    assert_eq!(at("K.4"), Shown::Unsettled);
    assert_eq!(at("R1.2"), Shown::Unsettled);
    assert_eq!(at("K.3"), Shown::Volts(12.0));
    assert_eq!(at("K.2"), Shown::Volts(0.0));
}
