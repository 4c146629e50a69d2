//! Cases and truth tables against every combination solved by itself, on random circuits of ideal wiring.

#![allow(clippy::expect_used, clippy::panic)]

mod common;

use common::{
    brute::{combinations, depends, differs, solve_at},
    read,
};
use keyon_circuit::{ids::*, model::*};
use keyon_solve::{Never, State, Survey, device_words, table, worst_base};
use proptest::{prelude::*, test_runner::Config};
use std::fmt::Write as _;

/// Something between two points of the pool.
#[derive(Clone, Copy, Debug)]
enum Item {
    Lamp,
    Coil,
    Resistor,
    Wire,
    Fuse,
    Switch,
    Diode,
    Winding,
}

#[derive(Clone, Debug)]
struct Plan {
    items: Vec<(Item, usize, usize)>,
    /// Coil's ends, common contact's end, rest end, active end.
    relays: Vec<[usize; 5]>,
    key: bool,
    /// Feed wired to, ground wired to, each where the module describes one.
    module: Option<(Option<usize>, Option<usize>)>,
    /// Position of its gang's rows.
    gang: bool,
    wires: Vec<(usize, usize)>,
}

fn plans() -> impl Strategy<Value = Plan> {
    let item = prop_oneof![
        3 => Just(Item::Lamp),
        2 => Just(Item::Coil),
        1 => Just(Item::Resistor),
        1 => Just(Item::Wire),
        1 => Just(Item::Fuse),
        3 => Just(Item::Switch),
        1 => Just(Item::Diode),
        1 => Just(Item::Winding),
    ];
    let module = proptest::option::of((proptest::option::of(0..40usize), proptest::option::of(0..40usize)));
    (
        proptest::collection::vec((item, 0..40usize, 0..40usize), 3..12),
        proptest::collection::vec(proptest::array::uniform5(0..40usize), 0..3),
        any::<bool>(),
        module,
        any::<bool>(),
        proptest::collection::vec((0..40usize, 0..40usize), 2..8),
    )
        .prop_map(|(items, relays, key, module, gang, wires)| Plan {
            items,
            relays,
            key,
            module,
            gang,
            wires,
        })
}

/// Points that things hang between: supply and ground come often.
fn pool(plan: &Plan) -> Vec<&'static str> {
    let mut pool = vec!["battery", "battery", "G1", "G1", "S0", "S1", "S2", "S3", "S4", "S5"];
    if plan.key {
        pool.extend(["key.R", "key.S", "key.R"]);
    }
    if plan.module.is_some() {
        pool.extend(["M.A.1", "M.A.2", "M.A.3", "M.A.4", "M.A.5", "M.A.6"]);
    }
    pool
}

/// At most five switches, so that all combinations stay few.
fn text(plan: &Plan) -> String {
    let pool = pool(plan);
    let at = |i: usize| pool[i % pool.len()];
    let mut text = String::from("circuit random\nsupply battery 12 V\nground G1\n");
    for s in 0..6 {
        let _ = writeln!(text, "splice S{s}");
    }
    if plan.key {
        text += "device key {\n  pins B, R, S\n  positions off, run, start\n  contact B -> R closed in run, start\n  \
                 contact B -> S closed in start\n}\nwire battery -> key.B\n";
    }
    let mut switches = 0;
    for (n, &(item, a, b)) in plan.items.iter().enumerate() {
        let (a, b) = (at(a), at(b));
        if a == b {
            continue;
        }
        switches += usize::from(matches!(item, Item::Switch));
        let _ = match item {
            Item::Lamp => writeln!(text, "lamp L{n} {a} -> {b} 21 W 12 V"),
            Item::Coil => writeln!(text, "coil C{n} {a} -> {b} 24 ohm pulls_in 0.4 A drops_out 0.1 A"),
            Item::Resistor => writeln!(text, "resistor R{n} {a} -> {b} 100 ohm"),
            Item::Wire => writeln!(text, "wire w{n} {a} -> {b}"),
            Item::Fuse => writeln!(text, "fuse F{n} {a} -> {b} 10 A"),
            Item::Switch if switches > 4 => Ok(()),
            Item::Switch => writeln!(text, "switch X{n} {a} -> {b}"),
            Item::Diode => writeln!(text, "diode D{n} {a} -> {b} drop 0.7 V"),
            Item::Winding => writeln!(text, "winding W{n} {a} -> {b} 8 ohm"),
        };
    }
    for (n, ends) in plan.relays.iter().enumerate() {
        let [c1, c2, common, rest, active] = ends.map(at);
        let _ = writeln!(
            text,
            "device K{n} {{\n  pins 30, 85, 86, 87, 87a\n  coil K 85 -> 86 60 ohm pulls_in 0.1 A drops_out 0.03 A\n  \
             changeover 30 -> (rest 87a, active 87) when K energised\n}}\nwire {c1} -> K{n}.85\nwire K{n}.86 -> \
             {c2}\nwire {common} -> K{n}.30\nwire K{n}.87a -> {rest}\nwire K{n}.87 -> {active}"
        );
    }
    if let Some((feed, ground)) = plan.module {
        let mut rows = String::new();
        if feed.is_some() {
            rows += "    11 bplus feed\n";
        }
        if ground.is_some() {
            rows += "    12 gnd ground\n";
        }
        rows += "    1 d1 drives low\n    2 d2 drives low\n    5 vref reference 5 V\n    6 in senses pull_up 1 kohm to 5 V\n";
        let mut gang = String::new();
        if feed.is_some() && ground.is_some() {
            rows += "    3 d3 switches { bplus, gnd }\n    4 d4 switches { gnd, bplus }\n";
            if plan.gang {
                gang += "  gang g {\n    stop d3 gnd d4 gnd\n    left d3 bplus d4 gnd\n    right d3 gnd d4 bplus\n  }\n";
            }
        } else {
            rows += "    3 d3 drives low\n    4 d4 drives low\n";
        }
        let _ = writeln!(text, "module M {{\n  connector A {{\n{rows}  }}\n{gang}}}");
        for (end, pin) in [(feed, 11), (ground, 12)] {
            if let Some(end) = end {
                let _ = writeln!(text, "wire {} -> M.A.{pin}", at(end));
            }
        }
    }
    for &(a, b) in plan.wires.iter().filter(|&&(a, b)| at(a) != at(b)) {
        let _ = writeln!(text, "wire {} -> {}", at(a), at(b));
    }
    text
}

/// Fuses stay whole: that one group's current may blow another's fuse is not what factoring is about.
fn base(circuit: &Circuit) -> State {
    worst_base(circuit, &State::rest(circuit), false)
}

fn probed(circuit: &Circuit) -> Vec<PointId> {
    let shown =
        |p: &Point| matches!(p.kind, PointKind::Splice(_) | PointKind::Pin(..) | PointKind::Cavity(..));
    circuit.points.iter().enumerate().filter(|(_, p)| shown(p)).map(|(i, _)| i.into()).collect()
}

/// Tables, their columns and worst currents of one circuit; what is wrong with them.
fn check(text: &str) -> Result<(), String> {
    let elaboration = read("random", text);
    let circuit = &elaboration.circuit;
    let base = base(circuit);
    let all: Vec<_> = combinations(circuit, 1 << 12).iter().map(|p| solve_at(circuit, &base, p)).collect();
    let points = probed(circuit);
    let devices = table(circuit, &base, &[], &[], &[], &Never).expect("never cancelled");
    let nodes = table(circuit, &base, &[], &points, &[], &Never).expect("never cancelled");
    for group in devices.groups.iter().chain(&nodes.groups) {
        if group.cut.is_some() {
            return Err("cut".into());
        }
        for solution in &all {
            // Rows are joined where they say the same to the millivolt.
            differs(circuit, group, solution, 1e-3)
                .map_err(|e| format!("{e} at {:?}", solution.state.positions))?;
        }
        for &d in &group.devices {
            let words: Vec<_> = all
                .iter()
                .map(|s| (s.state.positions.clone(), device_words(&s.devices[d.index()])))
                .collect();
            let truly = depends(circuit, &words);
            if truly != group.controls {
                let name = &circuit.devices[d.index()].name;
                return Err(format!("{name} depends on {truly:?}, the table has {:?}", group.controls));
            }
        }
    }
    let survey = Survey::new(circuit, &base);
    for e in (0..circuit.elements.len()).map(ElementId::from) {
        let kind = circuit.elements[e.index()].kind;
        if !(kind.is_load() || matches!(kind, ElementKind::Fuse(_) | ElementKind::Supply)) {
            continue;
        }
        let worst = survey.worst_current(e, &Never).expect("never cancelled");
        let most = all.iter().filter_map(|s| s.amps[e.index()].known()).fold(0.0, |m: f64, a| m.max(a.abs()));
        let name = &circuit.elements[e.index()].name;
        if worst.amps.abs() > most + 1e-6 || (worst.exact && worst.amps.abs() < most - 1e-6) {
            return Err(format!(
                "{name} carries {most} A at worst, found {} (exact: {})",
                worst.amps, worst.exact
            ));
        }
        if !worst.exact {
            return Err(format!("{name}: a circuit as small as this is searched in full"));
        }
        let unlimited = all.iter().any(|s| s.amps[e.index()].known().is_none());
        if unlimited != worst.unlimited.is_some() {
            return Err(format!("{name} unlimited: {unlimited}"));
        }
    }
    Ok(())
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
    if let Err(wrong) = check(text) {
        panic!("{wrong}");
    }
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
    if let Err(wrong) = check(text) {
        panic!("{wrong}");
    }
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
    if let Err(wrong) = check(text) {
        panic!("{wrong}");
    }
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
    if let Err(wrong) = check(text) {
        panic!("{wrong}");
    }
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
    if let Err(wrong) = check(text) {
        panic!("{wrong}");
    }
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
    if let Err(wrong) = check(text) {
        panic!("{wrong}");
    }
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
    if let Err(wrong) = check(text) {
        panic!("{wrong}");
    }
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
    if let Err(wrong) = check(text) {
        panic!("{wrong}");
    }
}

proptest! {
    #![proptest_config(Config { cases: cases(), failure_persistence: None, ..Config::default() })]
    #[test]
    fn tables_agree_with_all_combinations(plan in plans()) {
        let text = text(&plan);
        if let Err(wrong) = check(&text) {
            prop_assert!(false, "{wrong}\n{text}");
        }
    }
}

/// `KEYON_CASES` for a long run.
fn cases() -> u32 {
    std::env::var("KEYON_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(40)
}
