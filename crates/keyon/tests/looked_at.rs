//! What people look at: drawings, pin-outs, probe plans, sheets, notes, pages; as the built program makes them.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod common;

use common::*;
use serde_json::Value;

const SPRAYER: &str = "corpus/circuits/orchard_sprayer.keyon";
const WITH_EXERCISES: [&str; 4] = [
    SPRAYER,
    "corpus/circuits/ferry_ramp.keyon",
    "corpus/circuits/grain_dryer.keyon",
    "corpus/circuits/greenhouse_vents.keyon",
];

/// Names and texts that want out of wherever they are put.
const HOSTILE: &str = "circuit c \"<script>alert(1)</script> | `x` [y](javascript:z) & ' \\\" ]]> -->\"\nsupply b 12 V\nground G1 \"<img src=x onerror=alert(2)>\"\nlamp L1 \"</title><svg onload=alert(3)>\" 5 W 12 V\nwire \"</text><b>\" b -> L1.1\nwire 2 L1.2 -> G1\nscenario s \"<i>\" { }\nexercise e \"</h1><script>\" in s {\n  fault open 2\n  symptom L1 rests\n  ask \"<u>why?</u>\"\n  ask volts L1.1\n}\n";

/// The fields of a line of CSV.
fn fields(line: &str) -> Vec<String> {
    let (mut out, mut field, mut quoted) = (Vec::new(), String::new(), false);
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => out.push(std::mem::take(&mut field)),
            c => field.push(c),
        }
    }
    out.push(field);
    out
}

#[test]
fn a_pin_out_says_what_the_state_says_cell_by_cell() {
    let scenarios = ["parked", "ready", "spraying", "pumping", "measuring"];
    let states: Vec<Value> =
        scenarios.iter().map(|s| keyon(&["state", SPRAYER, "--in", s, "--format", "json"]).json()).collect();
    let mut args = vec!["pinout", SPRAYER, "SCU", "--format", "csv"];
    scenarios.iter().for_each(|s| args.extend(["--in", s]));
    let table = keyon(&args);
    assert_eq!(table.code, 0, "{}", table.err);
    let mut rows = table.out.lines();
    let head: Vec<&str> = rows.next().unwrap().split(',').collect();
    let column =
        |name: &str| head.iter().position(|h| *h == name).unwrap_or_else(|| panic!("{name} in {head:?}"));
    let mut cells = 0;
    for row in rows {
        let row = fields(row);
        let connector = row[column("connector")].split_whitespace().nth(1).unwrap();
        let point = format!("SCU.{connector}.{}", row[column("cavity")]);
        for (scenario, state) in scenarios.iter().zip(&states) {
            let said = &state["points"][&point];
            let cell = row[column(scenario)].as_str();
            match said["node_state"].as_str().unwrap() {
                "open" => assert_eq!(cell, "floats", "{point} {scenario}"),
                node => {
                    let figure: f64 = cell
                        .trim_end_matches(" *")
                        .parse()
                        .unwrap_or_else(|_| panic!("{point} {scenario}: {cell}"));
                    let volts = said["volts"].as_f64().unwrap();
                    assert!((figure - volts).abs() < 0.006, "{point} {scenario}: {cell} for {volts}");
                    assert_eq!(
                        cell.ends_with('*'),
                        node == "fed via load",
                        "{point} {scenario}: {cell}, {node}"
                    );
                }
            }
            cells += 1;
        }
    }
    assert!(cells > 100, "{cells}");
}

#[test]
fn both_halves_of_an_in_line_connector_are_told() {
    let table = keyon(&["pinout", SPRAYER, "C201", "--in", "pumping", "--unplugged", "--format", "csv"]);
    let state = keyon(&["state", SPRAYER, "--in", "pumping", "--unplug", "C201", "--format", "json"]).json();
    let rows: Vec<Vec<String>> = table.out.lines().skip(1).map(fields).collect();
    assert_eq!(rows.len(), 8, "{}", table.out);
    assert_eq!((rows[0][1].as_str(), rows[0][5].as_str()), ("1.a", "SCU.A.8"));
    assert_eq!((rows[1][1].as_str(), rows[1][5].as_str()), ("1.b", "beacon.1"));
    for row in &rows {
        let said = &state["points"][&format!("C201.{}", row[1])];
        match said["node_state"].as_str().unwrap() {
            "open" => assert_eq!(row[8], "floats", "{row:?}"),
            _ => {
                let volts: f64 = row[8].trim_end_matches(" *").parse().unwrap();
                assert!((volts - said["volts"].as_f64().unwrap()).abs() < 0.006, "{row:?} {said}");
            }
        }
    }
}

#[test]
fn unplugged_readings_are_those_of_the_unplugged_state() {
    let table =
        keyon(&["pinout", SPRAYER, "left_valve", "--in", "spraying", "--unplugged", "--format", "csv"]);
    let state =
        keyon(&["state", SPRAYER, "--in", "spraying", "--unplug", "left_valve", "--format", "json"]).json();
    let second = fields(table.out.lines().nth(2).unwrap())[7].clone();
    let volts = state["points"]["left_valve.2"]["volts"].as_f64().unwrap();
    assert!((second.parse::<f64>().unwrap() - volts).abs() < 0.006, "{second} for {volts}\n{}", table.out);
}

#[test]
fn a_learners_sheet_holds_nothing_of_the_key() {
    for file in WITH_EXERCISES {
        let export = keyon(&["export", file]).json();
        // What the circuit itself says of its supplies is no secret.
        let plain = keyon(&["draw", file]).out;
        for exercise in export["exercises"].as_array().unwrap() {
            let name = exercise["name"].as_str().unwrap();
            let sheet = keyon(&["sheet", file, name]);
            assert_eq!(sheet.code, 0, "{}", sheet.err);
            let key = keyon(&["sheet", file, name, "--key"]);
            assert!(key.out.contains("fault: "), "{name}");
            let fault = key.out.split("fault: ").nth(1).unwrap().split('<').next().unwrap();
            assert!(!sheet.out.contains(fault), "{name}: {fault}");
            assert!(!sheet.out.contains("Answer key") && !sheet.out.contains("<!--"), "{name}");
            // The answers' cells: with a unit or a way, none stands on the learner's side.
            for cell in key.out.split("<td").skip(1).filter_map(|c| c.split_once('>')?.1.split('<').next()) {
                if !plain.contains(cell)
                    && (cell.contains(" \u{b7} ") || cell.ends_with(" V") && cell.len() > 3)
                {
                    assert!(!sheet.out.contains(cell), "{name}: {cell}");
                }
            }
            // Both carry one mark.
            let mark = |text: &str| text.split("sheet ").nth(1).unwrap().chars().take(6).collect::<String>();
            assert_eq!(mark(&sheet.out), mark(&key.out));
            assert_eq!(keyon(&["sheet", file, name]).out, sheet.out, "the same bytes each time");
        }
    }
}

#[test]
fn a_key_gives_a_fed_point_its_feed_and_a_grounded_one_its_return() {
    // Behind the break both ways begin with the same wire, the wrong one through the other load.
    let text = "circuit c\nsupply b 12 V\nground G1\nsplice S\nfuse F1 b -> S 5 A\nlamp L 5 W 12 V\nlamp M 5 W 12 V\nwire 1 S -> L.1\n\
                wire 2 L.2 -> G1\nwire 3 S -> M.1\nwire 4 M.2 -> G1\nscenario s {}\nexercise e in s {\n  fault open L\n  symptom L rests\n  \
                ask path L.1, L.2\n}\n";
    let key = keyon_with(&["sheet", "-", "e", "--key", "--format", "markdown"], text.as_bytes());
    let answer = |what: &str| {
        let line = key
            .out
            .lines()
            .find(|l| l.contains(what))
            .unwrap_or_else(|| panic!("{what} in {}{}", key.out, key.err));
        line.split('|').nth(2).unwrap().trim().to_owned()
    };
    assert_eq!(answer("L.1, to its feed"), "b · F1 · S · 1");
    assert_eq!(answer("L.1, to its return"), "none");
    assert_eq!(answer("L.2, to its feed"), "none");
    assert_eq!(answer("L.2, to its return"), "2 · G1 · ground");
}

#[test]
fn a_sheet_from_a_scenario_asks_for_marks_volts_and_the_table() {
    let key =
        keyon(&["sheet", SPRAYER, "--in", "full_rate", "--of", "rate", "--key", "--format", "markdown"]);
    for word in ["Mark every lettered wire", "grounded", "12.5", "rate.1", "feed: battery"] {
        assert!(key.out.contains(word), "{word} in {}", key.out);
    }
    let none = keyon(&["sheet", "corpus/circuits/first_lamp.keyon"]);
    assert_eq!(none.code, 2);
    assert!(none.err.contains("--in SCENARIO"), "{}", none.err);
}

#[test]
fn a_plan_names_causes_and_leads_to_each_fault() {
    let plan = keyon(&["probe", SPRAYER, "left_valve", "--width", "4000"]);
    assert_eq!(plan.code, 0, "{}", plan.err);
    for word in
        ["Step 1 of", "black on battery negative", "expect", "stuck left_cmd off", "Back-probe", "sum"]
    {
        assert!(plan.out.contains(word), "{word} in {}", plan.out);
    }
    // The drop table adds up.
    let volts = |row: &str| -> f64 {
        let line = plan.out.lines().find(|l| l.starts_with(row)).unwrap_or_else(|| panic!("{row}"));
        line.split_whitespace().next_back().unwrap().parse().unwrap()
    };
    assert!((volts("supply side") + volts("load") + volts("ground side") - volts("sum")).abs() < 0.01);
    // Every reading that the plan tells for the fault `open 441` is what the state says of it.
    let faulty =
        keyon(&["state", SPRAYER, "--in", "spraying", "--fault", "open 441", "--format", "json"]).json();
    assert!(faulty["points"]["SCU.A.4"]["volts"].as_f64().unwrap() < 0.05);
    let restricted = "circuit c\nsupply b 12 V\nground G1\ndevice squib \"Belt tensioner\" restricted {\n  pins 1, 2\n  resistor 1 -> 2  2 ohm\n}\nwire 1 b -> squib.1\nwire 2 squib.2 -> G1\n";
    let refused = keyon_with(&["probe", "-", "squib"], restricted.as_bytes());
    assert_eq!(refused.code, 2);
    assert!(refused.err.contains("licensed"), "{}", refused.err);
    // Nor does a plan for a lamp beside it lead there, and no sheet asks for it.
    let beside = restricted.replace("circuit c", "circuit d")
        + "splice S\nfuse F1 b -> S 5 A\nlamp L 5 W 12 V\nwire 3 S -> L.1\nwire 4 L.2 -> squib.2\nscenario s {}\nexercise e in s {\n  fault open 3\n  symptom L rests\n  ask volts squib.1\n}\n";
    let plan = keyon_with(&["probe", "-", "L"], beside.as_bytes());
    assert!(plan.code <= 1 && plan.out.contains("Step 2"), "{}", plan.err);
    assert!(!plan.out.contains("red on squib") && !plan.out.contains("Belt tensioner, pin"), "{}", plan.out);
    let sheet = keyon_with(&["sheet", "-", "e"], beside.as_bytes());
    assert_eq!(sheet.code, 2);
    assert!(sheet.err.contains("licensed"), "{}", sheet.err);
}

/// Whatever the meter reads, there is a next step, a cause that is found, or a word on how to go on; nothing is named that no step
/// follows up.
#[test]
fn every_reading_of_a_plan_leads_on() {
    for (file, subject) in [
        ("corpus/circuits/orchard_sprayer.keyon", "left_valve"),
        ("corpus/sound/trailer.keyon", "brake_lamp"),
        ("corpus/sound/transducer.keyon", "p"),
    ] {
        let text = keyon(&["probe", file, subject, "--width", "4000"]).out;
        let steps = text.lines().filter(|l| l.starts_with("Step ")).count();
        let mut followed: Vec<usize> = Vec::new();
        for line in text.lines() {
            let Some((_, next)) = line.split_once(" -> ").filter(|_| line.starts_with("        ")) else {
                continue;
            };
            let known = ["found", "follow the volts", "no voltage parts these", "look at ", "a short: "];
            match next.strip_prefix("step ") {
                Some(rest) => followed.push(rest.split(',').next().unwrap().parse().unwrap()),
                None => assert!(known.iter().any(|k| next.starts_with(k)), "{file}: {line}"),
            }
        }
        followed.sort_unstable();
        // The first is the look, the second where the meter begins; each other one is the next of one reading.
        assert_eq!(followed, (3..=steps).collect::<Vec<_>>(), "{file}:\n{text}");
        assert!(
            !text.contains("should show: rests"),
            "{file}: a state in which there is something to see\n{text}"
        );
    }
}

#[test]
fn notes_are_filled_once_and_for_all() {
    let folder = folder("notes");
    let circuit = std::fs::read_to_string(root().join("corpus/circuits/first_lamp.keyon")).unwrap();
    let note = folder.join("lamp.md");
    let text = format!(
        "# Ä\n\n```keyon\n{circuit}```\n\nBefore.\n\n<!-- keyon: table -->\nold\n<!-- keyon end -->\n\n<!-- keyon: draw --view plain -->\n<!-- keyon end -->\n\nAfter.\n"
    );
    std::fs::write(&note, &text).unwrap();
    let stale = keyon_in(&folder, &["notes", "lamp.md", "--check"]);
    assert_eq!(stale.code, 1);
    assert!(stale.err.contains("lamp.md:"), "{}", stale.err);
    assert_eq!(std::fs::read_to_string(&note).unwrap(), text, "--check changes nothing");
    assert_eq!(keyon_in(&folder, &["notes", "lamp.md", "--write"]).code, 0);
    let filled = std::fs::read_to_string(&note).unwrap();
    assert!(filled.contains("| work\\_switch | work\\_lamp |") || filled.contains("work\\_lamp"), "{filled}");
    assert!(filled.contains("Before.") && filled.ends_with("After.\n") && !filled.contains("old\n"));
    assert!(std::fs::read_to_string(folder.join("lamp-1.svg")).unwrap().starts_with("<svg"));
    assert_eq!(keyon_in(&folder, &["notes", "lamp.md", "--check"]).code, 0);
    assert_eq!(keyon_in(&folder, &["notes", "lamp.md", "--write"]).code, 0);
    assert_eq!(std::fs::read_to_string(&note).unwrap(), filled);
    for (region, why) in [
        ("check", "cannot stand"),
        ("table -o x", "leave out"),
        ("sheet x --key", "leave out"),
        ("table --of nobody", "nobody"),
    ] {
        std::fs::write(
            &note,
            format!("```keyon\n{circuit}```\n<!-- keyon: {region} -->\n<!-- keyon end -->\n"),
        )
        .unwrap();
        let refused = keyon_in(&folder, &["notes", "lamp.md", "--write"]);
        assert_eq!(refused.code, 2, "{region}");
        assert!(refused.err.contains(why), "{region}: {}", refused.err);
    }
}

#[test]
fn drawings_are_svg_or_png_and_the_same_each_time() {
    let folder = folder("drawings");
    let svg = keyon(&["draw", SPRAYER, "--in", "spraying"]);
    assert_eq!(svg.code, 0, "{}", svg.err);
    assert!(
        svg.out.starts_with("<svg") && svg.out.contains("left_valve") && svg.out.contains("0.066"),
        "states with volts"
    );
    assert_eq!(svg.out, keyon(&["draw", SPRAYER, "--in", "spraying"]).out);
    let png = folder.join("x.png");
    assert_eq!(
        keyon(&["draw", "corpus/circuits/first_lamp.keyon", "-o", png.to_str().unwrap(), "--scale", "1"])
            .code,
        0
    );
    assert!(std::fs::read(&png).unwrap().starts_with(b"\x89PNG"));
    let colours = keyon(&["draw", SPRAYER, "--view", "colours", "--of", "left_valve"]);
    assert!(
        colours.out.contains("#ee7b10") && !colours.out.contains("mid_valve"),
        "only what belongs to it, in its colours"
    );
    let through = keyon(&["draw", SPRAYER, "--of", "C201"]);
    assert!(
        through.out.contains("beacon")
            && through.out.contains("folded")
            && !through.out.contains("left_valve")
    );
    let change = keyon(&["draw", SPRAYER, "--in", "ready", "--against", "spraying", "--of", "left_valve"]);
    assert!(change.out.contains("12.60 → 0.066"), "{}", change.out);
    let three = keyon(&[
        "draw",
        SPRAYER,
        "--in",
        "ready",
        "--beside",
        "spraying",
        "--beside",
        "pumping",
        "--of",
        "left_valve",
    ]);
    assert_eq!(three.out.matches("<svg ").count(), 4, "{}", three.err);
    assert!(three.out.contains("0.066") && three.out.contains("Pump running"));
    let face = keyon(&["draw", SPRAYER, "--face", "SCU.A"]);
    assert!(
        face.out.contains("wire side") && face.out.contains(">441<") && face.out.contains("left_cmd"),
        "{}",
        face.out
    );
    assert_eq!(face.out.matches("rx=\"3\"").count(), 12, "two rows of six");
    assert_eq!(keyon(&["draw", SPRAYER, "--face", "left_valve"]).code, 2);
    let wrong = keyon(&["draw", SPRAYER, "-o", "x.bmp"]);
    assert_eq!(wrong.code, 2);
    assert!(wrong.err.contains(".svg"), "{}", wrong.err);
}

#[test]
fn hostile_text_stays_text_everywhere() {
    let outputs: [&[&str]; 9] = [
        &["draw", "-"],
        &["pinout", "-", "L1", "--format", "html"],
        &["pinout", "-", "L1", "--format", "markdown"],
        &["probe", "-", "L1", "--format", "html"],
        &["probe", "-", "L1", "--format", "markdown"],
        &["sheet", "-", "e", "--key"],
        &["sheet", "-", "e", "--format", "markdown"],
        &["page", "-"],
        &["page", "-", "--static"],
    ];
    for args in outputs {
        let ran = keyon_with(args, HOSTILE.as_bytes());
        assert!(ran.code <= 1, "{args:?}: {}", ran.err);
        for bad in ["<script>alert", "<img src", "<svg onload", "</h1><script>", "<u>why", "<b>", "[y](java"]
        {
            // Only Markdown knows such a link.
            let matters = !bad.starts_with('[') || args.contains(&"markdown");
            assert!(!matters || !ran.out.contains(bad), "{args:?}: {bad}");
        }
    }
}

#[test]
fn a_page_is_one_file_that_asks_for_nothing() {
    let page = keyon(&["page", SPRAYER]);
    assert_eq!(page.code, 0, "{}", page.err);
    assert!(page.out.contains("Content-Security-Policy") && page.out.contains("default-src 'none'"));
    assert!(
        page.out.contains("scenario spraying") && !page.out.contains("dead_left"),
        "the circuit without its exercises"
    );
    assert!(!page.out.contains("card_1187"));
    assert!(!page.out.contains("http://") && !page.out.contains("https://"), "no address in it");
    assert!(!page.out.contains(root().to_str().unwrap()), "no folder of this machine in it");
    assert_eq!(keyon(&["page", "corpus/parts/spray.keyon"]).code, 2);
}

#[test]
fn a_static_page_holds_answers_and_no_core() {
    let args = ["page", SPRAYER, "--static", "--states", "0"];
    let page = keyon(&args);
    assert_eq!(page.code, 0, "{}", page.err);
    assert!(page.out.contains("default-src 'none'") && !page.out.contains("wasm-unsafe-eval"));
    assert!(!page.out.contains("WebAssembly") && !page.out.contains("id=\"core\""), "no core in it");
    assert!(page.out.len() < 600_000, "{} bytes", page.out.len());
    assert!(!page.out.contains("dead_left") && !page.out.contains("card_1187"), "no exercise in it");
    assert!(!page.out.contains("http://") && !page.out.contains("https://"), "no address in it");
    assert!(!page.out.contains(root().to_str().unwrap()), "no folder of this machine in it");
    assert!(keyon(&args).out == page.out, "the same each time");
}
