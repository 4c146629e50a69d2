//! What a statement is made of, and which of it is being written.

use crate::fixture::pump_with;
use keyon_ide::signature;

/// The label with the active part between `‹` and `›`.
fn shown(addition: &str, asked: bool) -> String {
    let fixture = pump_with(addition);
    let Some(found) = fixture.view(|view| signature(view, fixture.offset, asked)) else { return "-".into() };
    let mut label = found.label.clone();
    if let Some(param) = found.active.and_then(|at| found.params.get(at)) {
        label.insert(param.range.end, '›');
        label.insert(param.range.start, '‹');
    }
    label
}

#[test]
fn the_part_that_is_being_written() {
    let cases = [
        "fuse |",
        "fuse F2 |",
        "fuse F2 \"Lig|",
        "fuse F2 \"Light\" bat|",
        "fuse F2 battery |",
        "fuse F2 battery -> |",
        "fuse F2 battery -> S1 |",
        "fuse F2 battery -> S1 1|",
        "fuse F2 battery -> S1 10 |",
        "fuse F2 battery -> S1 10 A |",
        "fuse F2 battery -> S1 10A |",
        "fuse F2 10 A |",
        "fuse F2 10 A battery -> |",
        "fuse F2 battery -> S1 10 A where |",
        "wire |",
        "wire 8 |",
        "wire S1 -> |",
        "wire 8 S1 |",
        "wire 8 S1 -> |",
        "wire 8 S1 -> pump.1 |",
        "wire 8 S1 -> pump.1 0.7|",
        "wire 8 S1 -> pump.1 0.75 |",
        "wire 8 S1 -> pump.1 0.75 mm2 |",
        "wire 8 S1 -> pump.1 0.75 mm2 RD |",
        "wire 8 S1 -> pump.1 0.75 mm2 RD/|",
        "wire 8 S1 -> pump.1 0.75 mm2 RD 2 m |",
        "wire 8 S1 -> pump.1 2 m |",
        "wire 8 S1 -> pump.1 -> |",
        "wire 8 S1 -> pump.1 0.75 mm2 at |",
        "supply |",
        "supply b 12 |",
        "supply b 12 V inner |",
        "supply b 12 V inner 15 mohm range 11 |",
        "supply b 12 V inner 15 mohm range 11 .. |",
        "supply b 12 V inner 15 mohm range 11 .. 14 V |",
        "supply b 12 V live in |",
        "supply b 12 V live in float |",
        "lamp L |",
        "lamp L 10 W |",
        "lamp L 10 W 12 V |",
        "lamp L 10 W 12 V S1 -> |",
        "splice S2 shared |",
        "splice S2 shared by |",
        "splice S2 shared by pump, |",
        "device d |",
        "device d : |",
        "device d : valve|",
        "module M : |",
        "switch s |",
        "switch s S1 -> S2 positions |",
        "switch s positions off, |",
        "scenario |",
        "scenario s \"ti|",
        "expect |",
        "expect in |",
        "exercise e in |",
        "use |",
        "view |",
        "allow |",
        "part p {\n  coil |",
        "part p {\n  coil 1 -> 2 |",
        "part p {\n  coil K 1 -> |",
        "part p {\n  coil K 1 -> 2 80 |",
        "part p {\n  coil K 1 -> 2 80 ohm rated |",
        "part p {\n  contact 1 -> 2 closed |",
        "part p {\n  contact 1 -> 2 closed when |",
        "part p {\n  track 1 -> 3 5 kohm wiper |",
        "part p {\n  transducer 1 -> 3 out 2 0.5 .. |",
        "part p {\n  transducer 1 -> 3 out 2 0.5 .. 4.5 V over |",
        "module M {\n  connector |",
        "module M {\n  connector A {\n    1 gnd ground |",
        "module M {\n  connector A {\n    2 cmd drives |",
        "module M {\n  connector A {\n    2 cmd drives low on |",
        "module M {\n  connector A {\n    2 temp senses pull_up |",
        "module M {\n  connector A {\n    2 temp senses pull_up 2.2 kohm to |",
        "scenario s {\n  jumper |",
        "scenario s {\n  jumper S1 to |",
        "expect in filling {\n  ohms |",
        "expect in filling {\n  ohms S1 to G1 |",
        "exercise e in filling {\n  fault |",
        "# fuse |",
        "fu|",
    ];
    let shown: Vec<_> = cases
        .iter()
        .map(|case| format!("{}\n    {}", case.replace('\n', "\\n"), shown(case, false)))
        .collect();
    insta::assert_snapshot!(shown.join("\n"));
}

#[test]
fn who_asks_hears_what_may_follow() {
    let cases =
        ["fuse F2 battery -> S1 10 A |", "supply b 12 V |", "supply b 12 V inner 15 mohm |", "ground G2 |"];
    for case in cases {
        assert_eq!(shown(case, false), "-", "{case}");
        assert!(shown(case, true).contains("‹["), "{case}: {}", shown(case, true));
    }
}

#[test]
fn the_values_of_a_part() {
    assert_eq!(shown("device d : valve(|", false), "valve(‹ohms: resistance = 12 ohm›)");
}
