//! One cause gives one finding: what hangs on a name that is not there is not reported beside it.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use keyon_check::check;
use keyon_circuit::{Source, World};
use std::sync::Arc;

struct NoFiles;

impl World for NoFiles {
    fn library(&self, _: &str, _: &str) -> Option<Source> {
        None
    }
}

/// Line and rule of each finding.
fn rules(text: &str) -> Vec<(usize, &'static str)> {
    let source =
        Source { key: "test.keyon".into(), text: text.into(), parse: Arc::new(keyon_syntax::parse(text)) };
    let checked = check(&NoFiles, &source, &keyon_solve::Never).unwrap();
    let line = |f: &keyon_check::Finding| {
        text[..checked.elaboration.span(f.loc).start as usize].matches('\n').count() + 1
    };
    checked.findings.iter().map(|f| (line(f), f.rule)).collect()
}

const CONTROLLER: &str = "\
circuit controller \"Vent controller\"
supply battery 12.6 V
ground G1
fuse F1 battery -> VC.A.1 5 A
wire 1 VC.A.2 -> G1 1 mm2 BK 1 m
wire 2 VC.A.3 -> lamp.1 1 mm2 RD 1 m
wire 3 lamp.2 -> G1 1 mm2 BK/WH 1 m
fuse F2 battery -> bell_push.1 5 A
switch bell_push
wire 4 bell_push.2 -> bell.1 1 mm2 YE 1 m
wire 5 bell.2 -> G1 1 mm2 BK/YE 1 m
lamp lamp 10 W 12 V
lamp bell 5 W 12 V
module VC {
  connector A {
    1 bplus feed
    2 gnd ground
    3 light drives high
  }
}
scenario lit { light on }
scenario ringing { bell_push on }
expect in lit {
  lamp operates
  lamp.1 above 12 V
}
expect in ringing {
  bell.1 below 3 V
}
";

#[test]
fn an_expectation_that_hangs_on_damage_is_no_second_finding() {
    assert_eq!(rules(CONTROLLER), [(28, "expectation-failed")]);
    // The module's ground is misspelt: its lamp is dark for that reason; the bell has a mistake of its own.
    let damaged = CONTROLLER.replace("VC.A.2 -> G1", "VC.A.2 -> H7");
    assert_eq!(rules(&damaged), [(5, "unknown-name"), (28, "expectation-failed")]);
}

const BELL: &str = "\
circuit bell \"Bell\"
supply battery 12.6 V
ground G1
fuse F1 battery -> push.1 5 A
switch push
wire 1 push.2 -> bell.1 1 mm2 VT 1 m
wire 2 bell.2 -> plug.1 1 mm2 BK 1 m
lamp bell 5 W 12 V
connector plug { 1, 2 }
";

#[test]
fn a_line_that_joined_nothing_hides_no_missing_wire() {
    let found = [(8, "no-return-path"), (9, "unconnected-pin")];
    assert_eq!(rules(BELL), found);
    for damage in
        ["}", ">>>>>>> theirs", "lamp", "<<<<<<< ours", "splcie", "module {\n  connector A { 1 a feed }\n}"]
    {
        let damaged = format!("{BELL}{damage}\n");
        let rules = rules(&damaged);
        assert_eq!(rules.get(..2), Some(&found[..]), "{damage}: {rules:?}");
        assert!(rules.iter().skip(2).all(|(_, rule)| *rule == "syntax"), "{damage}: {rules:?}");
        assert!(rules.len() > 2, "{damage}: {rules:?}");
    }
    // Any of these may have been the wire that is missing.
    for damage in ["wire 3 plug.2 ->", "wire", "fuse -> plug.2"] {
        let damaged = format!("{BELL}{damage}\n");
        assert_eq!(rules(&damaged), [(10, "syntax")], "{damage}");
    }
    // Both ends of these are known, and it is not the one that is missing.
    for near in ["wrie 3 plug.2 -> G1", "xyz 3 plug.2 -> G1"] {
        let near = format!("{BELL}{near}\n");
        assert_eq!(rules(&near), [(8, "no-return-path"), (10, "syntax")]);
    }
    // One that names a pin may have been a word about it.
    let unused = BELL.replace("{ 1, 2 }", "{ 1, 2, 3 }") + "unusd plug.2, plug.3\n";
    assert_eq!(rules(&unused), [(8, "no-return-path"), (10, "syntax")]);
}

/// A wire that ends half-way hides what it may explain, and nothing else.
#[test]
fn half_a_wire_hides_no_mistake_of_another_kind() {
    let sound = CONTROLLER.replace("bell.1 below 3 V", "bell.1 above 12 V");
    assert_eq!(rules(&sound), []);
    let valve = sound
        .replace("lamp lamp 10 W 12 V", "coil lamp 24 ohm rated 12 V")
        .replace("fuse F1 battery -> VC.A.1 5 A", "fuse F1 battery -> SP 5 A\nsplice SP\nwire 8 SP -> VC.A.1 1 mm2 RD 1 m\nwire 6 SP -> bell2.1 1 mm2 BU 1 m\nlamp bell2 5 W 12 V\nwire 7 bell2.2 -> G1 1 mm2 BK 1 m");
    let unquenched = (
        valve.lines().position(|line| line.starts_with("coil lamp")).unwrap() + 1,
        "coil-without-suppression",
    );
    let serious = |text: &str| -> Vec<(usize, &'static str)> {
        rules(text).into_iter().filter(|(_, rule)| *rule != "always-operates").collect()
    };
    assert!(serious(&valve).contains(&unquenched), "{:?}", serious(&valve));
    for damage in ["wire 9 SP ->", "wire 9 G1 ->", "fuse F9 battery ->", "wire 9 nowhere -> SP 1 mm2"] {
        let damaged = format!("{valve}{damage}\n");
        assert!(serious(&damaged).contains(&unquenched), "{damage}: {:?}", serious(&damaged));
    }
    // The wire that fed the lamp: its pin waits for it.
    let half = sound.replace("wire 2 VC.A.3 -> lamp.1 1 mm2 RD 1 m", "wire 2 VC.A.3 ->");
    assert_eq!(rules(&half), [(6, "syntax")]);
}

/// A pin that its device does not have was meant for one that it has.
#[test]
fn a_pin_that_is_not_there_hides_those_that_wait_for_it() {
    let wrong = CONTROLLER
        .replace("bell.1 below 3 V", "bell.1 above 12 V")
        .replace("-> lamp.1 1", "-> lamp.86 1")
        .replace("wire 3 lamp.2", "wire 3 lamp.85");
    let found: Vec<_> = rules(&wrong).into_iter().filter(|(_, rule)| *rule != "unused-name").collect();
    assert_eq!(found, [(6, "unknown-name"), (7, "unknown-name")]);
}

#[test]
fn a_device_named_without_its_pin_is_one_finding() {
    let text = |end: &str| {
        format!(
            "circuit c\nsupply b 12 V\nground G1\nfuse F1 b -> S1 5 A\nsplice S1\nswitch arm\nwire 1 S1 -> arm.1 1 mm2 RD 1 m\n\
             wire 2 arm.2 -> {end} 1 mm2 OG 1 m\nwire 3 lamp.2 -> G1 1 mm2 BK 1 m\nlamp lamp 10 W 12 V\n\
             scenario lit {{ arm on }}\nexpect in lit {{ lamp operates }}\n"
        )
    };
    let others = |end: &str| -> Vec<(usize, &str)> {
        rules(&text(end)).into_iter().filter(|(_, rule)| !matches!(*rule, "pointless-splice")).collect()
    };
    let whole = others("lamp.1");
    let half: Vec<_> = others("lamp").into_iter().filter(|found| !whole.contains(found)).collect();
    assert_eq!(half, [(8, "unknown-name")]);
    let dot: Vec<_> = others("lamp.").into_iter().filter(|found| !whole.contains(found)).collect();
    assert_eq!(dot, [(8, "syntax")]);
}
