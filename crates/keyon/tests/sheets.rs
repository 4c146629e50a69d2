//! What a key answers.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod common;

use common::*;
use std::fs;

const WINCH: &str = "circuit winch \"Deck winch\"
supply battery 12 V
ground G1
fuse F1 battery -> sw.1 5 A
switch sw
wire 1 sw.2 -> lamp.1 0.75 mm2 RD 1 m
wire 2 lamp.2 -> G1 0.75 mm2 BK 1 m
wire 3 sw.2 -> bell.1 0.75 mm2 BU 1 m
wire 4 bell.2 -> G1 0.75 mm2 BK 1 m
lamp lamp 6 W 12 V
lamp bell 12 W 12 V
scenario on \"Switched on\" { sw on }
exercise dark \"The lamp is dark\" in on {
  fault   open 2
  symptom lamp rests
  probes  lamp, bell, G1
  ask     state lamp, bell
  ask     amps bell, 3, F1
}
";

#[test]
fn states_and_amps_are_asked_and_answered() {
    let folder = folder("sheets_asked");
    fs::write(folder.join("w.keyon"), WINCH).unwrap();
    let key = keyon_in(&folder, &["sheet", "w.keyon", "dark", "--key", "--format", "markdown"]);
    assert_eq!(key.code, 0, "{}", key.err);
    let words: String = key.out.split_whitespace().collect::<Vec<_>>().join(" ");
    for part in [
        "| lamp | rests |",
        "| bell | operates |",
        "| bell | 0.996 A | 0.976 .. 1.02 A |",
        "| F1 | 0.996 A |",
    ] {
        assert!(words.contains(part), "{part}: {}", key.out);
    }
    assert!(!key.out.contains("teacher's own"), "{}", key.out);
    let sheet = keyon_in(&folder, &["sheet", "w.keyon", "dark", "--format", "markdown"]);
    assert!(
        sheet.out.replace('\\', "").contains("________ A") && !sheet.out.contains("operates"),
        "{}",
        sheet.out
    );
    // A sheet is no PDF, whatever it is called.
    let wrong = keyon_in(&folder, &["sheet", "w.keyon", "dark", "-o", "w.pdf"]);
    assert_eq!(wrong.code, 2);
    assert!(wrong.err.contains("print the HTML to PDF"), "{}", wrong.err);
}

/// What the fault does not change is no symptom of it.
#[test]
fn a_symptom_that_is_there_anyway_is_told() {
    let folder = folder("sheets_symptom");
    let rest = WINCH.replace("{ sw on }", "{ sw off }");
    fs::write(folder.join("w.keyon"), rest).unwrap();
    let ran = keyon_in(&folder, &["check", "w.keyon"]);
    assert!(ran.out.contains("warning[symptom-false]: the same is seen without the fault"), "{}", ran.out);
}
