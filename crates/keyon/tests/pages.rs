//! Pages of their own, regions of notes, and the words around them.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod common;

use common::*;
use std::fs;

#[test]
fn a_page_warns_of_what_its_circuit_moves() {
    let caution = |text: &str| {
        let page = keyon_with(&["page", "-", "--static"], text.as_bytes()).out;
        page.split_once("copper at 20 °C. ").unwrap().1.split_once("</p>").unwrap().0.to_owned()
    };
    assert_eq!(caution(SOUND), "What it drives may move or get hot: keep clear.");
    let gate = "circuit g\nsupply battery 12 V\nground G1\nfuse F1 battery -> M.1 5 A\nwire 1 M.2 -> G1\nmotor M 2 ohm moves\n";
    assert_eq!(caution(gate), "Here M moves: chock it, keep clear.");
    let two = format!("{gate}wire 2 F1.out -> N.1\nwire 3 N.2 -> G1\nmotor N 2 ohm moves\n");
    assert_eq!(caution(&two), "Here M and N move: chock them, keep clear.");
}

#[test]
fn every_html_format_is_a_page_to_print() {
    for args in [
        &["pinout", SPRAYER, "SCU.A"][..],
        &["probe", SPRAYER, "left_valve"],
        &["table", SPRAYER, "--of", "left_valve"],
        &["sheet", SPRAYER, "dead_left"],
    ] {
        let page = keyon(&[args, &["--format", "html"]].concat()).out;
        assert!(page.starts_with("<!doctype html>\n<html lang=\"en\">"), "{args:?}");
        for part in ["<meta charset=\"utf-8\">", "<title>", "<h1>", "@media print", "border: 1px solid"] {
            assert!(page.contains(part), "{args:?}: {part}");
        }
        assert!(page.trim_end().ends_with("</html>") && page.matches("<h1>").count() == 1, "{args:?}");
    }
    let pinout = keyon(&["pinout", SPRAYER, "SCU.A", "--format", "html"]).out;
    assert!(pinout.contains("@page { size: A4 landscape") && pinout.contains("<h2>SCU A"), "{pinout}");
    assert!(pinout.contains("* through a load or a module&#39;s pull-up, no current"), "{pinout}");
    let plan = keyon(&["probe", SPRAYER, "left_valve", "--format", "html"]).out;
    assert!(plan.contains("<p>causes: "), "what the text says first");
    assert!(plan.contains("<h1>Probe plan: Left boom valve"), "the plan's own title heads it, once");
    assert_eq!(plan.matches("Probe plan").count(), 2, "there and in the title");
}

#[test]
fn a_region_stands_under_its_heading_with_its_drawing() {
    let folder = folder("notes_nested");
    let exercise = "exercise dark \"Dark\" in lit {\n  fault   open 1\n  symptom porch rests\n  probes  porch, sw\n  ask     volts porch.1\n}\n";
    let note = format!(
        "# Porch\n\n```keyon\n{SOUND}{exercise}```\n\n## Sheet\n\n<!-- keyon: sheet dark -->\n<!-- keyon end -->\n\n\
         <!-- keyon: table -->\n<!-- keyon end -->\n\n## Drawing\n\n<!-- keyon: draw --in lit --pull F1 -->\n<!-- keyon end -->\n"
    );
    fs::write(folder.join("porch.md"), note).unwrap();
    let ran = keyon_in(&folder, &["notes", "porch.md", "--write"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let filled = fs::read_to_string(folder.join("porch.md")).unwrap();
    let headings: Vec<&str> = filled.lines().filter(|l| l.starts_with('#')).collect();
    let expected = [
        "# Porch",
        "## Sheet",
        "### Dark",
        "#### 1. What does the meter read?",
        "#### 2. What is wrong? Name the part or the wire, and the reading that proves it.",
        "### Porch lamp",
        "## Drawing",
    ];
    assert_eq!(headings, expected);
    assert!(filled.contains("![Circuit diagram of porch: Porch lamp](<porch-1.svg>)"), "{filled}");
    assert!(filled.contains("![Circuit diagram of Porch lamp: lit, pull F1](<porch-2.svg>)"), "{filled}");
    for name in ["porch-1.svg", "porch-2.svg"] {
        assert!(fs::read_to_string(folder.join(name)).unwrap().starts_with("<svg "), "{name}");
    }
    assert_eq!(keyon_in(&folder, &["notes", "porch.md", "--check"]).code, 0);
}

#[test]
fn the_head_of_a_curve_is_wrapped_and_its_labels_stand_clear() {
    // A long line of what is set, and a signal that runs along the end of its range.
    let mut text = String::from(
        "circuit c \"A circuit with a long title, to fill the head\"\nsupply battery 12 V range 9 .. 15 V\nground G1\n",
    );
    for i in 0..12 {
        text.push_str(&format!("switch a_long_name_{i}\n"));
    }
    text.push_str("fuse F1 battery -> L.1 5 A\nwire 1 L.2 -> G1\nlamp L 5 W 12 V\nscenario all { ");
    text.push_str(&(0..12).map(|i| format!("a_long_name_{i} on")).collect::<Vec<_>>().join(", "));
    text.push_str(" }\n");
    let args = ["sweep", "-", "battery", "--at", "L.1", "--in", "all", "--format", "svg"];
    let svg = keyon_with(&args, text.as_bytes()).out;
    let head: Vec<&str> = svg.lines().filter(|l| l.contains("font-size=\"12\" fill=\"#5b626b\"")).collect();
    let words = |line: &str| line.split_once('>').unwrap().1.split_once('<').unwrap().0.to_owned();
    let rows: Vec<String> = head.iter().map(|l| words(l)).collect();
    // Letters of one width, of 12 pixels, from 70 on, end before 800.
    assert!(rows.len() > 2 && rows.iter().all(|row| row.chars().count() <= 100), "{rows:?}");
    let joined = rows.join(" ");
    assert!(joined.contains("a_long_name_11 on") && joined.ends_with("battery 12.00 V"), "{joined}");
    assert!(svg.contains("<g transform=\"translate(0 "), "what is below makes room");
}

#[test]
fn words_are_those_of_the_language() {
    let relay = keyon(&["explain", "relay"]).out;
    assert!(relay.contains("`open when K energised`") && !relay.contains("not energised"), "{relay}");
    let contact = |words: &str| {
        format!(
            "circuit c\nsupply b 12 V\nground G1\ndevice K1 {{\n  pins 1, 2, 3, 4\n  coil K 1 -> 2 90 ohm\n  contact 3 -> 4 {words}\n}}\n"
        )
    };
    let errors = |text: String| keyon_with(&["check", "-", "--no-cache"], text.as_bytes()).out;
    assert!(!errors(contact("open when K energised")).contains("syntax"), "what is said is valid");
    let joined = SOUND.replace("sw.2 -> porch.1", "sw.2 -> C1.1 -> porch.1") + "connector C1 { 1 }\n";
    for (name, is) in [("C1.1", "a cavity of an in-line connector, not"), ("G1", "a ground point, not")] {
        let ran = keyon_with(&["pinout", "-", name], joined.as_bytes());
        assert!(ran.err.contains(&format!("`{name}` is {is}")), "{}", ran.err);
    }
    let sun = "circuit c\nsupply sun 12 V range 6 .. 18 V\nground G1\nfuse F1 sun -> L.1 5 A\nwire 1 L.2 -> G1\nlamp L 5 W 12 V\n";
    for (volts, word) in [("6 V", "6.00 V (lowest)"), ("18 V", "18.00 V (highest)")] {
        let ran = keyon_with(&["state", "-", "--set", &format!("sun={volts}")], sun.as_bytes());
        assert!(ran.out.contains(word), "{}", ran.out);
    }
}

#[test]
fn one_other_load_loses_and_several_lose() {
    let lamps = |count: usize| {
        let mut text = String::from(
            "circuit c\nsupply battery 12.6 V inner 10 mohm\nground G1\nfuse F1 battery -> sw.1 30 A\nswitch sw\nsplice S1\nwire 1 sw.2 -> S1 0.5 mm2 RD 9 m\n",
        );
        for i in 0..count {
            text.push_str(&format!(
                "wire 2{i} S1 -> L{i}.1 2.5 mm2 RD 0.2 m\nwire 3{i} L{i}.2 -> G1 2.5 mm2 BK 0.2 m\nlamp L{i} 21 W 12 V\n"
            ));
        }
        keyon_with(&["check", "-", "--no-cache", "--format", "json"], text.as_bytes()).out
    };
    let two = lamps(2);
    assert!(two.contains("loses too much as well"), "{two}");
    let three = lamps(3);
    assert!(three.contains("lose too much as well"), "{three}");
}
