//! Cases and truth tables against every combination solved by itself, on random circuits of ideal wiring. What once failed is
//! in `cases_named`.

#![allow(clippy::expect_used, clippy::panic)]

mod common;

use common::agrees::check;
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

/// `PROPTEST_CASES` for a long run.
fn cases() -> u32 {
    std::env::var("PROPTEST_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(40)
}
