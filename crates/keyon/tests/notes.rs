//! Circuits in Markdown notes, as commands take them.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod common;

use common::*;
use std::fs;

const NOTE: &str = "# Pump trolley

The lamp, prose with `code` and an é.

```keyon
circuit lamp_side \"Lamp\"
supply   battery 12 V
ground G1
fuse F1 battery -> sw.1 5 A
switch sw
wire 1 sw.2 -> lamp.1 0.75 mm2 RD 1 m
lamp lamp 5 W 12 V
```

The pump has no return:

```keyon
circuit pump_side \"Pump\"
supply battery 12 V
ground G1
fuse F1 battery -> sw.1 5 A
switch sw
wire 1 sw.2 -> pump.1 0.75 mm2 RD 1 m
motor pump 2 ohm
```

And here the lamp's goes on:

```keyon lamp_side
wire 2 lamp.2 -> G1 0.75 mm2 BK 1 m
```
";

#[test]
fn each_circuit_of_a_note_is_checked_in_its_place() {
    let folder = folder("notes_check");
    fs::write(folder.join("n.md"), NOTE).unwrap();
    let ran = keyon_in(&folder, &["check", "n.md", "--format", "json", "--no-cache"]);
    let json = ran.json();
    let found: Vec<(&str, u64)> = json["findings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|f| (f["rule"].as_str().unwrap(), f["line"].as_u64().unwrap()))
        .collect();
    // The lamp's second block completes it; the pump stands in lines 17 to 24 of the note.
    assert!(found.contains(&("no-return-path", 24)), "{found:?}");
    assert!(found.iter().all(|(_, line)| (17..=24).contains(line)), "{found:?}");
    assert_eq!(ran.code, 1);
    // From the cache it is the same.
    let twice = [(); 2].map(|()| keyon_in(&folder, &["check", "n.md", "--format", "json"]).out);
    assert_eq!(twice, [ran.out.clone(), ran.out]);
}

#[test]
fn a_circuit_of_a_note_is_named_where_there_are_several() {
    let folder = folder("notes_named");
    fs::write(folder.join("n.md"), NOTE).unwrap();
    let which = keyon_in(&folder, &["state", "n.md"]);
    assert_eq!(which.code, 2);
    assert!(which.err.contains("n.md#lamp_side") && which.err.contains("pump_side"), "{}", which.err);
    let lamp = keyon_in(&folder, &["state", "n.md#lamp_side", "--set", "sw=on"]);
    assert_eq!(lamp.code, 0, "{}", lamp.err);
    assert!(lamp.out.contains("lamp_side  Lamp") && lamp.out.contains("operates"), "{}", lamp.out);
    let none = keyon_in(&folder, &["state", "n.md#valve"]);
    assert!(none.err.contains("no circuit `valve`"), "{}", none.err);
    for (args, ending) in
        [(&["draw", "n.md#lamp_side"][..], "</svg>"), (&["page", "n.md#lamp_side"], "</html>")]
    {
        let ran = keyon_in(&folder, args);
        assert!(ran.out.trim_end().ends_with(ending), "{args:?} {}", ran.err);
    }
    fs::write(folder.join("prose.md"), "# Only prose\n").unwrap();
    for command in ["check", "state"] {
        let ran = keyon_in(&folder, &[command, "prose.md"]);
        assert_eq!(ran.code, 2, "{command}");
        assert!(ran.err.contains("holds no circuit"), "{}", ran.err);
    }
}

#[test]
fn formatting_a_note_touches_its_circuits_alone() {
    let folder = folder("notes_fmt");
    fs::write(folder.join("n.md"), NOTE).unwrap();
    assert_eq!(keyon_in(&folder, &["fmt", "n.md"]).code, 0);
    let text = fs::read_to_string(folder.join("n.md")).unwrap();
    assert!(
        text.contains("supply battery  12 V") && text.contains("The lamp, prose with `code` and an é."),
        "{text}"
    );
    let fences = |text: &str| text.lines().filter(|line| line.starts_with("```")).count();
    assert_eq!(fences(&text), fences(NOTE));
    assert_eq!(keyon_in(&folder, &["fmt", "--check", "n.md"]).code, 0);
    let fix = keyon_in(&folder, &["check", "--fix=all", "n.md"]);
    assert!(fix.err.contains("is a note"), "{}", fix.err);
    assert_eq!(fs::read_to_string(folder.join("n.md")).unwrap(), text);
}
