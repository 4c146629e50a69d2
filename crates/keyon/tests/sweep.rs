//! `keyon sweep`: tables, JSON, the drawing, gaps, and slips on the command line.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod common;

use common::*;
use serde_json::Value;

/// A relay that opens its own coil circuit, a divider, and a point that hangs on nothing.
const BUZZER: &str = "\
circuit buzzer \"A buzzer\"
supply battery  12 V  range 1 .. 15 V
ground G1
splice S1
splice S2
splice S3
wire 1  battery -> K1.30
wire 2  K1.87a -> S1
wire 3  S1 -> K1.86
wire 4  K1.85 -> G1
splice S4
resistor R3  S3 -> S4    1 kohm
lamp L1  S1 -> G1  5 W 12 V
resistor R1  battery -> S2  1 kohm
resistor R2  S2 -> G1       1 kohm
device K1 {
  pins 30, 85, 86, 87a
  coil K 86 -> 85 90 ohm pulls_in 0.09 A drops_out 0.03 A
  contact 30 -> 87a open when K energised
}
";

#[test]
fn a_sensor_over_its_span_in_every_format() {
    for format in ["text", "markdown", "csv", "json", "svg"] {
        let ran = keyon(&[
            "sweep", SPRAYER, "temp", "--at", "temp_in", "--at", "SCU.B.10", "--set", "key=run", "--steps",
            "4", "--format", format,
        ]);
        assert_eq!((ran.code, ran.err.as_str()), (0, ""));
        insta::assert_snapshot!(format!("sweep_{format}"), ran.out);
    }
}

#[test]
fn figures_are_those_of_a_state_at_each_step() {
    let swept = keyon(&[
        "sweep", SPRAYER, "level", "--at", "level_in", "--in", "spraying", "--steps", "5", "--format", "json",
    ])
    .json();
    let steps = swept["steps"].as_array().unwrap();
    assert_eq!(steps.len(), 6);
    assert_eq!(swept["sweep"], serde_json::json!({"of": "level", "unit": "ratio", "from": 0.0, "to": 1.0}));
    for step in steps {
        let level = format!("level={} %", step["value"].as_f64().unwrap() * 100.0);
        let state =
            keyon(&["state", SPRAYER, "--in", "spraying", "--set", &level, "--format", "json"]).json();
        let (here, there) =
            (&step["reads"]["SCU.level_in"]["volts"], &state["inputs"]["SCU.level_in"]["volts"]);
        let (here, there) = (here.as_f64().unwrap(), there.as_f64().unwrap());
        assert!((here - there).abs() < 1e-9, "{level}: {here} {there}");
    }
}

#[test]
fn ends_are_read_with_and_without_a_unit() {
    for (name, from, to, first, last) in [
        ("temp", "-10", "50 degC", -10.0, 50.0),
        ("temp", "14 degF", "50", -10.0, 50.0),
        ("level", "10", "90 %", 0.1, 0.9),
        ("battery", "9", "14.5 V", 9.0, 14.5),
        // Downwards too.
        ("temp", "50", "-10", 50.0, -10.0),
    ] {
        let args = [
            "sweep", SPRAYER, name, "--at", "S12", "--from", from, "--to", to, "--steps", "3", "--format",
            "json",
        ];
        let ran = keyon(&args);
        assert_eq!(ran.code, 0, "{args:?} {}", ran.err);
        let json = ran.json();
        let ends = (json["sweep"]["from"].as_f64().unwrap(), json["sweep"]["to"].as_f64().unwrap());
        assert!((ends.0 - first).abs() < 1e-9 && (ends.1 - last).abs() < 1e-9, "{args:?} {ends:?}");
    }
}

#[test]
fn a_supply_shows_where_relays_pull_in_and_where_nothing_settles() {
    let text = BUZZER;
    let ran =
        keyon_with(&["sweep", "-", "battery", "--at", "S1", "--at", "S3", "--steps", "7"], text.as_bytes());
    assert_eq!((ran.code, ran.err.as_str()), (0, ""));
    insta::assert_snapshot!(ran.out);
    let json = keyon_with(
        &["sweep", "-", "battery", "--at", "S1", "--at", "S2", "--steps", "7", "--format", "json"],
        text.as_bytes(),
    )
    .json();
    let last = &json["steps"][7]["reads"];
    assert_eq!(last["S1"], serde_json::json!({"volts": Value::Null, "node_state": "chatters"}));
    // Half, less what the meter takes.
    let half = last["S2"]["volts"].as_f64().unwrap();
    assert!((half - 15.0 * 500.0 / 1000.0 * 10e6 / 10.0005e6).abs() < 1e-9, "{half}");
    // The line breaks off where the relay begins to chatter, and says so.
    let svg = keyon_with(&["sweep", "-", "battery", "--at", "S1", "--format", "svg"], text.as_bytes()).out;
    assert!(svg.contains(">S1 chatters</text>"), "{svg}");
    let chattering = 0.09 * 90.0;
    let path = svg.lines().find(|l| l.starts_with("<path")).unwrap();
    let points = path.matches('L').count() + 1;
    let expected = (0..=200).filter(|n| 1.0 + 14.0 * f64::from(*n) / 200.0 < chattering).count();
    assert_eq!(points, expected, "{path}");
}

#[test]
fn a_clash_is_a_gap_too() {
    let text = "circuit clash\nsupply a 12 V range 10 .. 14 V\nsupply b 12 V\nground G1\nsplice S1\nwire 1 a -> S1\nwire 2 b -> S1\nlamp L1 S1 -> G1 5 W 12 V\n";
    let json =
        keyon_with(&["sweep", "-", "a", "--at", "S1", "--steps", "2", "--format", "json"], text.as_bytes())
            .json();
    assert_eq!(json["steps"][0]["reads"]["S1"]["node_state"], "clash");
    assert_eq!(json["steps"][0]["reads"]["S1"]["volts"], Value::Null);
    assert_eq!(json["steps"][1]["reads"]["S1"]["volts"], 12.0);
    let text = keyon_with(&["sweep", "-", "a", "--at", "S1", "--steps", "2"], text.as_bytes()).out;
    assert!(text.contains("10  | clash") || text.contains("10 | clash"), "{text}");
}

#[test]
fn a_file_is_written_in_the_format_of_its_name() {
    let folder = folder("sweep_files");
    let sprayer = root().join(SPRAYER);
    let sprayer = sprayer.to_str().unwrap();
    for (name, starts) in [
        ("a.svg", "<svg "),
        ("a.csv", "temp degC,"),
        ("a.json", "{"),
        ("a.md", "# orchard_sprayer"),
        ("a.txt", "orchard_sprayer"),
    ] {
        let ran =
            keyon_in(&folder, &["sweep", sprayer, "temp", "--at", "temp_in", "--set", "key=run", "-o", name]);
        assert_eq!((ran.code, ran.out.as_str(), ran.err.as_str()), (0, "", ""));
        let text = std::fs::read_to_string(folder.join(name)).unwrap();
        assert!(text.starts_with(starts), "{name}: {}", &text[..40]);
        // The same again, byte for byte.
        keyon_in(&folder, &["sweep", sprayer, "temp", "--at", "temp_in", "--set", "key=run", "-o", name]);
        assert_eq!(std::fs::read_to_string(folder.join(name)).unwrap(), text);
    }
    let ran = keyon_in(&folder, &["sweep", sprayer, "temp", "--at", "temp_in", "-o", "nowhere/a.svg"]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("cannot write `nowhere/a.svg`"), "{}", ran.err);
}

#[test]
fn slips_are_explained() {
    for (args, said) in [
        (&["temq", "--at", "temp_in"][..], "did you mean `temp`"),
        (&["left_valve", "--at", "temp_in"], "cannot be swept"),
        (&["temp", "--at", "temp_im"], "`temp_im`"),
        (&["temp", "--at", "left_valve"], "left_valve.1, left_valve.2"),
        (&["temp", "--at", "temp_in", "--from", "5 V"], "--from '5 V'"),
        (&["temp", "--at", "temp_in", "--from", "20", "--to", "20"], "nothing between"),
        (&["temp", "--at", "temp_in", "-o", "a.gif"], "`.gif`"),
    ] {
        let all = [&["sweep", SPRAYER], args].concat();
        let ran = keyon(&all);
        assert_eq!((ran.code, ran.out.as_str()), (2, ""), "{args:?}: {}", ran.err);
        assert!(ran.err.contains(said), "{args:?}: {}", ran.err);
    }
    let ran = keyon_with(&["sweep", "-", "battery", "--at", "porch.1"], SOUND.as_bytes());
    assert!(ran.err.contains("give --from and --to"), "{}", ran.err);
}

#[test]
fn a_curve_is_painted_too() {
    let folder = folder("sweep_png");
    let file = folder.join("level.png");
    let out = file.to_str().unwrap();
    let ran = keyon(&["sweep", SPRAYER, "level", "--at", "level_in", "--set", "key=run", "-o", out]);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""));
    let bytes = std::fs::read(&file).unwrap();
    assert!(bytes.starts_with(b"\x89PNG") && bytes.len() > 10_000, "{}", bytes.len());
}
