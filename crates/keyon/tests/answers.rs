//! `keyon state`, `keyon table`, `keyon trace`: what is printed, and the shape of the JSON.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod common;

use common::*;
use serde_json::Value;

fn keys(value: &Value) -> Vec<&str> {
    value.as_object().unwrap().keys().map(String::as_str).collect()
}

#[test]
fn state_of_the_sprayer() {
    let ran = keyon(&["state", SPRAYER, "--in", "spraying"]);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""));
    insta::assert_snapshot!(ran.out);
}

#[test]
fn state_json_has_what_is_documented() {
    let ran = keyon(&["state", SPRAYER, "--in", "spraying", "--format", "json"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let json = ran.json();
    let documented = [
        "version",
        "circuit",
        "title",
        "scenario",
        "controls",
        "duties",
        "stimuli",
        "stimulus_units",
        "supplies",
        "changes",
        "points",
        "elements",
        "devices",
        "modules",
        "inputs",
        "module_view",
        "blown",
        "blown_at",
        "chatters",
        "holds",
        "clashes",
        "clash_amps",
    ];
    assert_eq!(keys(&json), documented);
    assert_eq!(json["circuit"], "orchard_sprayer");
    assert_eq!(json["scenario"], "spraying");
    assert_eq!(json["controls"]["key"], "run");
    let point = &json["points"]["left_valve.2"];
    assert_eq!(keys(point), ["net", "node_state", "volts", "path", "ground_path"]);
    assert_eq!(point["node_state"], "grounded");
    // The figures of the sketches: 24 ohm, 0.75 mm2, 120 mohm at the stage.
    let near = |value: &Value, expected: f64, by: f64| {
        let value = value.as_f64().unwrap();
        assert!((value - expected).abs() < by, "{value} is not {expected}");
    };
    near(&point["volts"], 0.108, 0.003);
    near(&json["elements"]["431"]["amps"], 0.519, 0.002);
    near(&json["points"]["left_valve.1"]["volts"], 12.56, 0.02);
    assert_eq!(json["points"]["SCU.left_cmd"]["same_as"], "SCU.A.4");
    assert_eq!(json["points"]["SCU.left_cmd"]["volts"], json["points"]["SCU.A.4"]["volts"]);
    assert_eq!(json["points"]["mid_valve.2"]["node_state"], "fed via load");
    assert_eq!(json["devices"]["left_valve"]["state"], "operates");
    assert_eq!(json["devices"]["mid_valve"]["state"], "rests");
    let path: Vec<&str> = point["path"].as_array().unwrap().iter().filter_map(Value::as_str).collect();
    assert_eq!((path[0], path[path.len() - 1]), ("battery", "left_valve.2"));
    assert!(path.contains(&"F7") && path.contains(&"431"), "{path:?}");
    let ground: Vec<&str> =
        point["ground_path"].as_array().unwrap().iter().filter_map(Value::as_str).collect();
    assert!(ground.contains(&"441") && ground.contains(&"G1"), "{ground:?}");
    // No joints that nobody named, all wires.
    assert!(json["elements"].as_object().unwrap().keys().all(|name| name != "left_valve.1"));
    assert!(json["elements"].get("601").is_some());
}

#[test]
fn state_with_windows_and_a_lamp() {
    let ran = keyon(&["state", SPRAYER, "--in", "pumping", "--windows", "--probe", "lamp"]);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""));
    insta::assert_snapshot!(ran.out);
}

#[test]
fn windows_probe_and_starting_currents_in_json() {
    let json = keyon(&[
        "state",
        SPRAYER,
        "--in",
        "pumping",
        "--windows=ranges",
        "--probe",
        "lamp 20 ohm",
        "--lead",
        "battery",
        "--format",
        "json",
    ])
    .json();
    assert_eq!(json["windows"], serde_json::json!({ "tolerances": false, "ranges": true }));
    assert_eq!(json["probe"], serde_json::json!({ "with": "lamp", "ohms": 20.0, "lead": "battery" }));
    let battery = &json["points"]["battery"];
    let (low, high) = (battery["window"][0].as_f64().unwrap(), battery["window"][1].as_f64().unwrap());
    let volts = battery["volts"].as_f64().unwrap();
    assert!(low > 10.5 && low < volts && volts < high && high < 14.8, "{battery}");
    assert_eq!(battery["window_method"], "corners");
    // From the supply to the ground point the lamp is bright, from the supply to itself dark.
    assert_eq!(json["points"]["G1"]["probe"]["lamp"], "bright");
    assert_eq!(battery["probe"], serde_json::json!({ "volts": 0.0, "floats": false, "lamp": "dark" }));
    let pump = json["devices"]["pump"]["elements"].as_object().unwrap().values().next().unwrap();
    let (runs, starts) = (pump["amps"].as_f64().unwrap(), pump["starting_amps"].as_f64().unwrap());
    assert!(runs < 9.0 && starts > 15.0, "{pump}");
    assert!(json["elements"]["F9"]["window"][1].as_f64().unwrap() > runs);
    let plain = keyon(&["state", SPRAYER, "--in", "pumping", "--format", "json"]).json();
    assert!(plain["points"]["G1"].get("probe").is_none() && plain["points"]["G1"].get("window").is_none());
}

#[test]
fn a_supply_cranks_in_a_scenario_and_on_the_command_line() {
    let ran = keyon(&["state", SPRAYER, "--in", "pumping", "--set", "battery=cranking"]);
    assert!(ran.out.contains("supply   battery 11.00 V (cranking)"), "{}", ran.out);
    let text = SOUND
        .replace("inner 15 mohm", "range 6 .. 14.8 V")
        .replace("{ sw on }", "{ sw on, battery running }");
    let json = keyon_with(&["state", "-", "--in", "lit", "--format", "json"], text.as_bytes()).json();
    assert_eq!(json["supplies"]["battery"], 14.8);
}

#[test]
fn modules_see_what_their_pins_show() {
    let see = |args: &[&str]| {
        let all = [&["state", SPRAYER, "--format", "json", "--in", "spraying"], args].concat();
        keyon(&all).json()["module_view"]["SCU"].clone()
    };
    let sound = see(&[]);
    let temp = &sound["inputs"]["temp_in"];
    assert_eq!(keys(temp), ["volts", "signal", "taken_for"]);
    assert_eq!(temp["signal"], "plausible");
    assert_eq!(temp["taken_for"]["stimulus"], "temp");
    assert_eq!(temp["taken_for"]["unit"], "degC");
    assert_eq!(temp["taken_for"]["beyond"], Value::Null);
    let degrees = temp["taken_for"]["values"][0].as_f64().unwrap();
    assert!((degrees - 25.0).abs() < 0.1, "{degrees}");
    assert_eq!(sound["inputs"]["folded_in"]["reads"], "high");
    assert_eq!(
        sound["outputs"]["left_cmd"],
        serde_json::json!({ "set": "on", "volts": sound["outputs"]["left_cmd"]["volts"], "seen": "normal" })
    );
    let open = see(&["--fault", "open 606"]);
    assert_eq!(open["inputs"]["temp_in"]["signal"], "high");
    assert_eq!(open["inputs"]["temp_in"]["taken_for"]["beyond"], "lowest");
    assert_eq!(see(&["--fault", "open 441"])["outputs"]["left_cmd"]["seen"], "open load");
    assert_eq!(
        see(&["--set", "left_cmd=off", "--fault", "open 441"])["outputs"]["left_cmd"]["seen"],
        "open load"
    );
    let dead = see(&["--set", "key=off"]);
    assert_eq!(dead, serde_json::json!({ "alive": false, "inputs": {}, "outputs": {} }));
}

#[test]
fn settings_are_read_as_a_scenario_says_them() {
    let ran = keyon(&[
        "state",
        SPRAYER,
        "--set",
        "key=run",
        "--set",
        "temp=60 degC",
        "--set",
        "battery=11 V",
        "--format",
        "json",
    ]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let json = ran.json();
    assert_eq!(json["controls"]["key"], "run");
    assert_eq!(json["stimuli"]["temp"], 60.0);
    assert_eq!(json["stimulus_units"]["temp"], "degC");
    assert_eq!(json["supplies"]["battery"], 11.0);
    assert_eq!(json["scenario"], Value::Null);
}

#[test]
fn setups_and_faults_change_the_answer_and_are_said() {
    let unplugged =
        keyon(&["state", SPRAYER, "--in", "spraying", "--unplug", "left_valve", "--format", "json"]).json();
    assert_eq!(unplugged["devices"]["left_valve"]["state"], "rests");
    assert_eq!(unplugged["points"]["left_valve.1"]["node_state"], "fed");
    assert_eq!(unplugged["points"]["left_valve.1.inside"]["node_state"], "open");
    assert_eq!(unplugged["changes"], serde_json::json!(["unplug left_valve"]));
    let pulled = keyon(&["state", SPRAYER, "--in", "spraying", "--pull", "F7", "--format", "json"]).json();
    // The control unit lives on its other feed, behind F8, and its driver still pulls the valve down.
    assert_eq!(pulled["points"]["S12"]["node_state"], "grounded via load");
    let open =
        keyon(&["state", SPRAYER, "--in", "spraying", "--fault", "open 441", "--format", "json"]).json();
    assert_eq!(open["points"]["left_valve.2"]["node_state"], "fed via load");
    assert_eq!(open["points"]["SCU.A.4"]["node_state"], "grounded");
    let text = keyon(&["state", SPRAYER, "--in", "spraying", "--fault", "short S12 to ground"]);
    assert_eq!(text.code, 0);
    assert!(text.out.contains("! fuse F7 10 A blows"), "{}", text.out);
    let kept = keyon(&[
        "state",
        SPRAYER,
        "--in",
        "spraying",
        "--fault",
        "short S12 to ground",
        "--keep-fuses",
        "--format",
        "json",
    ])
    .json();
    assert_eq!(kept["blown"], serde_json::json!([]));
}

#[test]
fn slips_on_the_command_line_are_explained() {
    for (args, said) in [
        (&["state", SPRAYER, "--in", "sprayin"][..], "did you mean `spraying`"),
        (&["state", SPRAYER, "--set", "kee=run"], "`key`"),
        (&["state", SPRAYER, "--set", "key=rum"], "run"),
        (&["state", SPRAYER, "--set", "key"], "NAME=VALUE"),
        (&["state", SPRAYER, "--set", "temp=5 V"], "temp"),
        (&["state", SPRAYER, "--set", "battery=crankin"], "did you mean `cranking`"),
        (&["state", SPRAYER, "--probe", "bulb"], "`lamp` or `meter`"),
        (&["state", SPRAYER, "--probe", "lamp 5 V"], "`5 V` is no resistance"),
        (&["state", SPRAYER, "--probe", "lamp", "--lead", "left_valv.2"], "did you mean `left_valve.2`"),
        (&["state", SPRAYER, "--unplug", "left_valvee"], "`left_valve`"),
        (&["state", SPRAYER, "--pull", "F99"], "F99"),
        (&["state", SPRAYER, "--fault", "opne 441"], "--fault 'opne 441'"),
        (&["trace", SPRAYER, "left_valv.2"], "did you mean `left_valve.2`"),
        (&["trace", SPRAYER, "left_valve"], "left_valve.1, left_valve.2"),
        (&["table", SPRAYER, "--of", "left_valvv"], "did you mean `left_valve`"),
        (&["state", "corpus/parts/spray.keyon"], "parts library"),
        (&["state", "nowhere.keyon"], "there is no such file"),
    ] {
        let ran = keyon(args);
        assert_eq!(ran.code, 2, "{args:?}: {}", ran.err);
        assert!(ran.err.contains(said), "{args:?}: {}", ran.err);
        assert_eq!(ran.out, "", "{args:?}");
    }
}

#[test]
fn a_text_with_errors_is_answered_and_called_doubtful() {
    let text = SOUND.replace("porch.2 -> G1", "porch.2 -> G7");
    let ran = keyon_with(&["state", "-", "--in", "lit"], text.as_bytes());
    assert_eq!(ran.code, 1);
    assert!(ran.err.contains("1 error in `standard-input.keyon`"), "{}", ran.err);
    assert!(ran.out.contains("porch"), "{}", ran.out);
}

#[test]
fn table_of_a_valve_in_every_format() {
    for format in ["text", "markdown", "csv", "html", "json"] {
        let ran =
            keyon(&["table", SPRAYER, "--of", "left_valve", "--of", "left_valve.2", "--format", format]);
        assert_eq!((ran.code, ran.err.as_str()), (0, ""));
        insta::assert_snapshot!(format!("table_{format}"), ran.out);
    }
}

#[test]
fn table_of_drivers_and_modules_finds_their_devices() {
    let of_driver = keyon(&["table", SPRAYER, "--of", "left_cmd", "--format", "json"]).json();
    let row = &of_driver["groups"][0]["rows"][0];
    assert_eq!(keys(&row["devices"]), ["left_valve"]);
    assert_eq!(of_driver["groups"][0]["controls"], serde_json::json!(["key", "left_cmd"]));
    let of_module = keyon(&["table", SPRAYER, "--of", "SCU", "--format", "json"]).json();
    let devices: Vec<&str> =
        of_module["groups"].as_array().unwrap().iter().flat_map(|g| keys(&g["rows"][0]["devices"])).collect();
    for expected in ["left_valve", "mid_valve", "flap", "rate", "pump"] {
        assert!(devices.contains(&expected), "{devices:?}");
    }
    assert!(!devices.contains(&"fan"), "{devices:?}");
}

#[test]
fn a_table_holds_what_is_set() {
    let json =
        keyon(&["table", SPRAYER, "--of", "left_valve", "--set", "key=run", "--format", "json"]).json();
    assert_eq!(json["groups"][0]["controls"], serde_json::json!(["left_cmd"]));
    assert_eq!(json["elsewhere"]["key"], "run");
    let all = keyon_with(&["table", "-", "--set", "sw=on", "--format", "json"], SOUND.as_bytes()).json();
    assert_eq!(all["groups"][0]["rows"][0]["devices"]["porch"], "operates");
    assert_eq!(all["groups"][0]["controls"], serde_json::json!([]));
}

#[test]
fn table_of_a_whole_circuit() {
    let ran = keyon(&["table", "corpus/circuits/ferry_ramp.keyon"]);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""));
    insta::assert_snapshot!(ran.out);
}

#[test]
fn traces_of_the_sprayer() {
    for (name, args) in [
        ("on", &["trace", SPRAYER, "left_valve.2", "--in", "spraying"][..]),
        ("off", &["trace", SPRAYER, "left_valve.2", "--set", "key=run"]),
        ("key_off", &["trace", SPRAYER, "left_valve.2"]),
        ("sensor", &["trace", SPRAYER, "SCU.temp_in", "--set", "key=run"]),
    ] {
        let ran = keyon(args);
        assert_eq!((ran.code, ran.err.as_str()), (0, ""));
        insta::assert_snapshot!(format!("trace_{name}"), ran.out);
    }
}

#[test]
fn drops_add_up_to_the_supply() {
    for (file, point, set) in [
        (SPRAYER, "left_valve.2", "left_cmd=on"),
        (SPRAYER, "SCU.A.4", "left_cmd=on"),
        (SPRAYER, "level.2", "level=30 %"),
        (SPRAYER, "temp.1", "temp=80 degC"),
        (SPRAYER, "flap.1", "flap_drive=open"),
    ] {
        let ran = keyon(&["trace", file, point, "--set", "key=run", "--set", set, "--format", "json"]);
        assert_eq!(ran.code, 0, "{}", ran.err);
        let json = ran.json();
        let expected = json["source"]["volts"].as_f64().unwrap() + json["source"]["base"].as_f64().unwrap();
        let sum = json["sum"].as_f64().unwrap_or_else(|| panic!("{point}: {}", ran.out));
        assert!((sum - expected).abs() < 1e-6, "{point}: {sum} is not {expected}");
    }
}
