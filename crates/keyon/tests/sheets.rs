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
    let wrong = keyon_in(&folder, &["sheet", "w.keyon", "dark", "-o", "w.docx"]);
    assert_eq!(wrong.code, 2);
    assert!(wrong.err.contains("`.html`, `.pdf` or `.md`"), "{}", wrong.err);
}

/// The key says what proves the fault; the sheet does not.
#[test]
fn a_key_proves_its_fault() {
    let folder = folder("sheets_proof");
    fs::write(folder.join("w.keyon"), WINCH).unwrap();
    let key = keyon_in(&folder, &["sheet", "w.keyon", "dark", "--key", "--format", "markdown"]);
    let words: String = key.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("| proved by | reads | sound | rules out |"), "{words}");
    // The whole supply stands across the open wire, less what a meter of 10 megohms takes.
    assert!(words.contains("| across 2: red lamp.2, black G1 | 12.00 V |"), "{words}");
    assert!(words.contains("| lamp.2 | 12.00 V |"), "{words}");
    let sheet = keyon_in(&folder, &["sheet", "w.keyon", "dark", "--format", "markdown"]);
    assert!(!sheet.out.contains("proved") && !sheet.out.contains("across 2"), "{}", sheet.out);
}

/// What a fault adds, what a pulse takes and which supply feeds are what is asked about: the answer of who overlooks them is
/// outside what is accepted.
#[test]
fn a_key_accepts_no_answer_that_overlooks_the_fault() {
    let folder = folder("sheets_windows");
    let text = "circuit c \"C\"
supply low 12.6 V
supply high 25.2 V inner 20 mohm
ground G1
fuse F1 high -> sw.1 10 A
fuse F2 low -> dash.1 5 A
switch sw
wire 1 sw.2 -> v.1 1.0 mm2 RD 2 m
wire 2 v.2 -> G1 1.0 mm2 BK 2 m
wire 3 dash.2 -> G1 1.0 mm2 BK 1 m
device v \"Valve\" : valve(coil = 24 ohm)
lamp dash 2 W 12 V
use \"trade\"
scenario on { sw on }
exercise feed in on {
  fault resistance 24 ohm in 1
  symptom v weak
  probes v
  ask volts v.1, v.2
}
exercise back in on {
  fault resistance 24 ohm in 2
  symptom v weak
  probes v
  ask volts v.1, v.2
}
";
    fs::write(folder.join("w.keyon"), text).unwrap();
    let key = |name: &str| {
        let key = keyon_in(&folder, &["sheet", "w.keyon", name, "--key", "--format", "markdown"]);
        assert_eq!(key.code, 0, "{}", key.err);
        key.out.split_whitespace().collect::<Vec<_>>().join(" ").replace('\\', "")
    };
    let feed = key("feed");
    assert!(
        feed.contains("| [1] v.1 | 12.6 V | 12.59 V | 12.4 .. 12.8 V | fed; loses 12.59 V in 1;"),
        "{feed}"
    );
    let back = key("back");
    assert!(back.contains("| [1] v.1 | 25.2 V | 25.17 V |"), "{back}");
    assert!(
        back.contains("| [2] v.2 | 12.6 V | 12.59 V | 12.4 .. 12.8 V | grounded; loses 12.59 V in 2;"),
        "{back}"
    );
}

/// A proof names what it rules out, and what reads the same is as good an answer.
#[test]
fn a_proof_parts_the_fault_from_others() {
    let folder = folder("sheets_parts");
    let text = "circuit c \"C\"
supply battery 12.6 V
ground G1
fuse F1 battery -> sw.1 5 A
switch sw
wire 1 sw.2 -> C1.1 -> lamp.1 0.75 mm2 RD 2 m
wire 2 lamp.2 -> G1 0.75 mm2 BK 2 m
connector C1 { 1 }
lamp lamp 10 W 12 V
scenario on { sw on }
exercise dark in on {
  fault open C1.1
  symptom lamp rests
  probes sw, lamp
}
";
    fs::write(folder.join("w.keyon"), text).unwrap();
    let key = keyon_in(&folder, &["sheet", "w.keyon", "dark", "--key", "--format", "markdown"]);
    assert_eq!(key.code, 0, "{}", key.err);
    let words = key.out.split_whitespace().collect::<Vec<_>>().join(" ").replace('\\', "");
    // Fed up to the switch, nothing behind the connector: it takes both.
    assert!(
        words.contains("| lamp.1 | 0.00 V | 12.55 V |") && words.contains("| sw.2 | 12.60 V | 12.60 V |"),
        "{words}"
    );
    assert!(words.contains("what reads the same wherever one may probe: open 1.1, open 1.2"), "{words}");
}

/// Letters run on over what is drawn, and both sides have the same.
#[test]
fn letters_are_those_of_the_drawing() {
    let folder = folder("sheets_letters");
    fs::write(folder.join("w.keyon"), WINCH).unwrap();
    let args = ["sheet", "w.keyon", "--in", "on", "--of", "bell"];
    let sheet = keyon_in(&folder, &args);
    let key = keyon_in(&folder, &[&args[..], &["--key"]].concat());
    for letter in [">a<", ">b<"] {
        assert_eq!(sheet.out.matches(letter).count(), 1, "{letter}");
        assert_eq!(key.out.matches(letter).count(), 2, "{letter}: in the drawing and in the answers");
    }
    assert!(!sheet.out.contains(">c<"), "{}", sheet.out);
}

#[test]
fn without_a_browser_a_pdf_says_what_to_do() {
    let folder = folder("sheets_pdf");
    fs::write(folder.join("w.keyon"), WINCH).unwrap();
    let mut command = command();
    command.current_dir(&folder).env("KEYON_BROWSER", "").env("PATH", "");
    let ran = command.args(["sheet", "w.keyon", "dark", "-o", "w.pdf"]).output().unwrap();
    let err = String::from_utf8_lossy(&ran.stderr).into_owned();
    // On systems where one stands in its usual place it is found all the same.
    if ran.status.code() != Some(0) {
        assert_eq!(ran.status.code(), Some(2));
        assert!(err.contains("KEYON_BROWSER") && err.contains("print it to PDF"), "{err}");
    }
    let mut command = self::command();
    command.current_dir(&folder).env("KEYON_BROWSER", folder.join("none"));
    let ran = command.args(["draw", "w.keyon", "-o", "w.pdf"]).output().unwrap();
    assert_eq!(ran.status.code(), Some(2), "{ran:?}");
    assert!(!folder.join("w.pdf").exists());
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
