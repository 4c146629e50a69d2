//! `keyon export`: ids stay when the text is formatted and when statements change places.

use crate::common::*;
use serde_json::Value;
use std::collections::BTreeMap;

fn export(text: &str) -> Value {
    let ran = keyon_with(&["export", "-", "--stdin-name", "corpus/circuits/it.keyon"], text.as_bytes());
    assert_eq!(ran.code, 0, "{}", ran.err);
    ran.json()
}

/// Every thing with an id, without places, lists of ids sorted (their order may be that of the text).
fn things(model: &Value) -> BTreeMap<String, String> {
    let mut things = BTreeMap::new();
    for (list, values) in model.as_object().unwrap() {
        for value in values.as_array().into_iter().flatten() {
            let Some(id) = value["id"].as_str() else { continue };
            let mut value = value.clone();
            plain(&mut value);
            assert!(
                things.insert(format!("{list} {id}"), value.to_string()).is_none(),
                "{list} {id} stands twice"
            );
        }
    }
    things
}

fn plain(value: &mut Value) {
    match value {
        Value::Object(object) => {
            object.remove("at");
            // A wire's second piece of one name has a name by order; its id has none.
            object.remove("name");
            object.values_mut().for_each(plain);
        }
        Value::Array(list) => {
            list.iter_mut().for_each(plain);
            if list.iter().all(Value::is_string) {
                list.sort_by_key(ToString::to_string);
            }
        }
        _ => {}
    }
}

/// The statements of a file: a line that begins at its edge, with what is indented below it, and what stands above.
fn statements(text: &str) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for line in text.lines().filter(|line| !line.trim().is_empty() && !line.starts_with('#')) {
        match all.last_mut() {
            Some(last) if line.starts_with([' ', '}']) => {
                last.push('\n');
                last.push_str(line);
            }
            _ => all.push(line.to_owned()),
        }
    }
    all
}

#[test]
fn ids_stay_when_statements_change_places() {
    let text = std::fs::read_to_string(root().join(SPRAYER)).unwrap();
    let usual = things(&export(&text));
    assert!(usual.len() > 400, "{}", usual.len());
    let mut all = statements(&text);
    let head: Vec<String> = all.drain(..3).collect();
    assert!(head[0].starts_with("circuit ") && head[1].starts_with("use "));
    // The in-line connector's wires name its sides by their order: they keep it.
    all.sort_by_key(|s| (!s.contains("C201"), std::cmp::Reverse(s.clone())));
    let kept: Vec<&String> = all.iter().filter(|s| s.starts_with("wire") && s.contains("C201")).collect();
    assert_eq!(kept.len(), 4);
    let shuffled = format!("{}\n{}\n", head.join("\n"), all.join("\n"));
    let moved = things(&export(&shuffled));
    let mut differ: Vec<&String> =
        usual.iter().filter(|(id, thing)| moved.get(*id) != Some(thing)).map(|(id, _)| id).collect();
    differ.retain(|id| !id.contains("C201"));
    assert_eq!(differ, Vec::<&String>::new());
    assert_eq!(usual.keys().collect::<Vec<_>>(), moved.keys().collect::<Vec<_>>());
}

#[test]
fn wires_of_one_name_are_told_apart_by_what_they_are() {
    let pair = |first: &str, second: &str| {
        let text = format!(
            "circuit c\nsupply b 12 V\nground G\nfuse F b -> x.1 5 A\nlamp x 5 W 12 V\nlamp y 5 W 12 V\n{first}\n{second}\n"
        );
        things(&export(&text))
    };
    let (thin, thick) = ("wire x.2 -> G 0.5 mm2 BK 1 m", "wire x.2 -> G 2.5 mm2 BK 1 m");
    assert_eq!(pair(thin, thick), pair(thick, thin));
    let (one, two) = ("wire 7 x.2 -> G 0.5 mm2 BK 1 m", "wire 7 y.2 -> G 0.5 mm2 RD 1 m");
    assert_eq!(pair(one, two), pair(two, one));
}

#[test]
fn every_reference_leads_to_a_thing() {
    for file in ["orchard_sprayer", "ferry_ramp", "grain_dryer", "greenhouse_vents"] {
        let model = keyon(&["export", &format!("corpus/circuits/{file}.keyon")]).json();
        let mut ids = std::collections::BTreeSet::new();
        let mut mentioned = Vec::new();
        collect(&model, &mut ids, &mut mentioned);
        for id in mentioned {
            assert!(ids.contains(&id), "{file}: {id}");
        }
    }
}

/// Ids, and every string that looks like one.
fn collect(value: &Value, ids: &mut std::collections::BTreeSet<String>, mentioned: &mut Vec<String>) {
    const KINDS: [&str; 12] = [
        "point:",
        "net:",
        "element:",
        "wire:",
        "device:",
        "module:",
        "control:",
        "stimulus:",
        "supply:",
        "fuse:",
        "inline:",
        "ground:",
    ];
    match value {
        Value::Object(object) => {
            if let Some(id) = object.get("id").and_then(Value::as_str) {
                ids.insert(id.to_owned());
            }
            for (key, value) in object {
                if key.starts_with("control:") || key.starts_with("stimulus:") {
                    mentioned.push(key.clone());
                }
                collect(value, ids, mentioned);
            }
        }
        Value::Array(list) => list.iter().for_each(|value| collect(value, ids, mentioned)),
        Value::String(text) if KINDS.iter().any(|kind| text.starts_with(kind)) => {
            mentioned.push(text.clone())
        }
        _ => {}
    }
}

#[test]
fn schemas_are_printed() {
    let list = keyon(&["schema"]);
    for name in list.out.lines() {
        let ran = keyon(&["schema", name]);
        assert_eq!(ran.code, 0);
        assert!(ran.json()["$schema"].is_string(), "{name}");
    }
    let missing = keyon(&["schema", "chekc"]);
    assert_eq!(missing.code, 2);
    assert!(missing.err.contains("there are: baseline, check, compare"), "{}", missing.err);
}
