//! Cases and truth tables of circuits that a person can think through.

#![allow(clippy::expect_used, clippy::panic)]

mod common;

use common::{device, element, point, read};
use keyon_circuit::model::*;
use keyon_solve::{Basis, Cancel, Cancelled, Never, NodeState, State, Survey, Table, table, worst_base};
use std::fmt::Write as _;

/// A table as a person would write it down.
fn written(circuit: &Circuit, table: &Table) -> String {
    let mut out = String::new();
    for group in &table.groups {
        let heads = group.controls.iter().map(|c| circuit.controls[c.index()].name.as_str());
        let devices = group.devices.iter().map(|d| circuit.devices[d.index()].name.as_str());
        let points = group.points.iter().map(|p| circuit.points[p.index()].name.as_str());
        let line = |cells: Vec<String>| cells.iter().map(|c| format!("{c:<10}")).collect::<String>();
        let _ = writeln!(
            out,
            "{}",
            line(heads.chain(["|"]).chain(devices).chain(points).map(Into::into).collect()).trim_end()
        );
        for row in &group.rows {
            let when = row.when.iter().zip(&group.controls).map(|(w, c)| match w {
                Some(w) => circuit.controls[c.index()].positions[*w].to_string(),
                None => "-".into(),
            });
            let words = row.devices.iter().map(ToString::to_string);
            let points = row.points.iter().map(|(state, volts)| match volts {
                Some(v) => format!("{v:.2} {}", state.words()),
                None => state.words().into(),
            });
            let _ = writeln!(
                out,
                "{}",
                line(when.chain(["|".into()]).chain(words).chain(points).collect()).trim_end()
            );
        }
        if let Some(cut) = group.cut {
            let _ = writeln!(out, "and {cut} more");
        }
        out.push('\n');
    }
    out
}

fn whole_table(text: &str) -> String {
    let circuit = read("example", text).circuit;
    written(
        &circuit,
        &table(&circuit, &State::rest(&circuit), &[], &[], &[], &Never).expect("never cancelled"),
    )
}

/// Key, fuse, and so many lamps, each with its own low-side driver.
fn many(drivers: usize, relay: bool) -> String {
    let mut text = String::from(
        "circuit many\nsupply battery 12 V inner 10 mohm\nground G1\nsplice S1\nsplice BUS\n\
         switch arm battery -> S1\n",
    );
    if relay {
        text += "device K {\n  pins 30, 85, 86, 87\n  coil K 85 -> 86 60 ohm pulls_in 0.1 A drops_out 0.03 A\n  \
                 contact 30 -> 87 closed when K energised\n}\nwire S1 -> K.85\nwire K.86 -> M.A.91\nwire K.87 -> BUS\n\
                 fuse F1 battery -> K.30 200 A\n";
    } else {
        text += "fuse F1 S1 -> BUS 200 A\n";
    }
    text += "module M {\n  connector A {\n    99 bplus feed\n    98 gnd ground\n";
    if relay {
        text += "    91 relay_cmd drives low\n";
    }
    for n in 0..drivers {
        let _ = writeln!(text, "    {n} cmd{n} drives low on 100 mohm");
    }
    text += "  }\n}\nwire S1 -> M.A.99 1.0 mm2 1 m\nwire M.A.98 -> G1 2.5 mm2 1 m\n";
    for n in 0..drivers {
        let _ = writeln!(text, "lamp L{n} BUS -> M.A.{n} 12 W 12 V");
    }
    text
}

#[test]
fn sixty_drivers_are_sixty_groups() {
    let circuit = read("many", &many(60, false)).circuit;
    let table = table(&circuit, &State::rest(&circuit), &[], &[], &[], &Never).expect("never cancelled");
    assert_eq!(table.groups.len(), 60);
    for group in &table.groups {
        assert_eq!((group.controls.len(), group.devices.len(), group.rows.len()), (2, 1, 3));
        assert_eq!((group.cut, group.least, group.basis), (None, 3, Basis::Proved));
    }
}

#[test]
fn a_relay_in_front_of_them_adds_two_controls() {
    let circuit = read("many", &many(40, true)).circuit;
    let survey = Survey::new(&circuit, &State::rest(&circuit));
    let table = survey.table(&[], &[], &[], 64, &Never).expect("never cancelled");
    let lamps: Vec<_> = table.groups.iter().filter(|g| g.controls.len() == 3).collect();
    assert_eq!(lamps.len(), 40);
    for group in lamps {
        assert_eq!((group.rows.len(), group.cut), (4, None), "{}", written(&circuit, &table));
    }
}

#[test]
fn the_worst_of_sixty_drivers_is_exact() {
    for relay in [false, true] {
        let circuit = read("many", &many(60, relay)).circuit;
        let base = worst_base(&circuit, &State::rest(&circuit), true);
        let worst = Survey::new(&circuit, &base)
            .worst_current(element(&circuit, "F1"), &Never)
            .expect("never cancelled");
        assert!(worst.exact);
        let on = worst.solution.state.positions.iter().filter(|p| **p == 1).count();
        assert_eq!(on, circuit.controls.len(), "all of them are on");
        // Every lamp has its 12 ohm and its stage's 0.1; source, feed and ground wire take a little away.
        assert!(worst.amps > 25.0 && worst.amps < 60.0, "{}", worst.amps);
    }
}

#[test]
fn any_of_three_switches() {
    insta::assert_snapshot!(whole_table(
        "circuit any
supply battery 12 V
ground G1
splice S1
switch a battery -> S1
switch b battery -> S1
switch c battery -> S1
lamp L1 S1 -> G1 21 W 12 V
lamp L2 battery -> G1 21 W 12 V
switch idle battery -> idle_end
splice idle_end
"
    ));
}

#[test]
fn three_stages() {
    insta::assert_snapshot!(whole_table(
        "circuit stages
supply battery 12.6 V
ground G1
device burner {
  pins F, 1, 2, 3
  coil A F -> 1 48 ohm
  coil B F -> 2 24 ohm
  coil C F -> 3 12 ohm
  grade trickle { A }
  grade half { B }
  grade strong { C }
}
fuse F1 battery -> burner.F 5 A
module M {
  connector A {
    1 a drives low on 120 mohm
    2 b drives low on 120 mohm
    3 c drives low on 120 mohm
    9 gnd ground
  }
}
wire burner.1 -> M.A.1
wire burner.2 -> M.A.2
wire burner.3 -> M.A.3
wire M.A.9 -> G1
"
    ));
}

#[test]
fn a_point_that_hangs_in_the_air_asks_its_neighbours() {
    // With the switch off the bus is grounded through whichever lamp is on: not a product, a chain.
    let circuit = read(
        "many",
        &many(12, false).replace("    99 bplus feed\n", "").replace("wire S1 -> M.A.99 1.0 mm2 1 m\n", ""),
    )
    .circuit;
    let survey = Survey::new(&circuit, &State::rest(&circuit));
    let cases = survey.cases_of(&[point(&circuit, "BUS")], &[], 64, &Never).expect("never cancelled");
    assert_eq!(cases.cut, None);
    assert_eq!(cases.cases.len(), 14, "fed, twelve ways to be grounded, open");
    let states = |s| {
        cases.cases.iter().filter(|c| c.solution.node_states[point(&circuit, "BUS").index()] == s).count()
    };
    assert_eq!(
        (states(NodeState::Fed), states(NodeState::GroundedViaLoad), states(NodeState::Open)),
        (1, 12, 1)
    );
    // Of the lamps themselves nothing depends on the others.
    let of_lamp = survey.cases_of_device(device(&circuit, "L3"), 64, &Never).expect("never cancelled");
    assert!(of_lamp.cut.is_none());
}

/// A driver wired to the line that feeds its own module shorts it. The module must not seem to die of that, which would
/// hide the short.
#[test]
fn a_module_fed_through_a_diode_still_shorts_its_own_feed() {
    let text = "circuit own_short\nsupply battery 12 V\nground G1\nsplice S1\nswitch X battery -> S1\n\
                diode D1 S1 -> M.A.1 drop 0.7 V\nwire 1 S1 -> M.A.4\nwire 2 M.A.2 -> G1\nmodule M {\n  connector A {\n    \
                1 bplus feed\n    2 gnd ground\n    4 pump drives low\n  }\n}\n";
    let circuit = read("example", text).circuit;
    let states = |name| {
        let table = table(&circuit, &State::rest(&circuit), &[], &[point(&circuit, name)], &[], &Never);
        written(&circuit, &table.expect("never cancelled"))
    };
    insta::assert_snapshot!(states("S1"), @"
    X         pump      |         S1
    off       -         |         0.00 open
    on        off       |         12.00 fed
    on        on        |         clash
    ");
}

#[test]
fn a_table_that_is_too_large_says_how_much_is_left() {
    let mut text = String::from("circuit ladder\nsupply battery 12 V\nground G1\nsplice S0\n");
    for n in 1..=14 {
        let _ = writeln!(
            text,
            "splice S{n}\nresistor R{n} S{} -> S{n} 100 ohm\nresistor Q{n} S{n} -> T{n} 200 ohm\nsplice T{n}\n\
             switch X{n} battery -> T{n}",
            n - 1
        );
    }
    text += "lamp L1 S0 -> G1 5 W 12 V\n";
    let circuit = read("ladder", &text).circuit;
    let survey = Survey::new(&circuit, &State::rest(&circuit));
    let cases = survey.cases_of_point(point(&circuit, "S0"), 100, &Never).expect("never cancelled");
    assert_eq!(cases.controls.len(), 14);
    let covered: u128 =
        cases.cases.iter().map(|c| c.when.iter().map(|m| u128::from(m.count_ones())).product::<u128>()).sum();
    assert_eq!(covered + cases.cut.expect("it is cut"), 1 << 14);
}

#[test]
fn controls_that_are_held_are_no_columns() {
    let circuit = read("many", &many(3, false)).circuit;
    let mut base = State::rest(&circuit);
    base.positions[0] = 1;
    let only: Vec<_> = (1..circuit.controls.len()).map(Into::into).collect();
    let table =
        table(&circuit, &base, &[device(&circuit, "L1")], &[], &only, &Never).expect("never cancelled");
    insta::assert_snapshot!(written(&circuit, &table));
}

#[test]
fn a_cancelled_search_stops() {
    struct Now;
    impl Cancel for Now {
        fn cancelled(&self) -> bool {
            true
        }
    }
    let circuit = read("many", &many(3, false)).circuit;
    let stopped = table(&circuit, &State::rest(&circuit), &[], &[], &[], &Now);
    assert!(matches!(stopped, Err(Cancelled)));
}
