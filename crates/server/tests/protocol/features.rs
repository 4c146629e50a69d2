//! One round through everything that can be asked, on a circuit of the corpus.

use crate::client::Client;
use serde_json::{Value, json};

const SPRAYER: &str = include_str!("../../../../corpus/circuits/orchard_sprayer.keyon");

fn corpus(name: &str) -> String {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../corpus").join(name);
    format!("file://{}", path.canonicalize().unwrap().display())
}

fn open() -> (Client, String) {
    let mut client = Client::start();
    let uri = corpus("circuits/orchard_sprayer.keyon");
    client.open(&uri, 1, SPRAYER);
    (client, uri)
}

fn find(needle: &str) -> usize {
    SPRAYER.find(needle).unwrap_or_else(|| panic!("{needle} is in the corpus file"))
}

#[test]
fn hover_says_what_it_is_and_carries() {
    let (mut client, uri) = open();
    let hover = client.at("textDocument/hover", &uri, SPRAYER, find("left_valve.2"));
    let text = hover["contents"]["value"].as_str().unwrap();
    for word in ["left_valve.2", "441", "SCU.A.4", "V", "left_cmd"] {
        assert!(text.contains(word), "{word} in {text}");
    }
    let keyword = client.at("textDocument/hover", &uri, SPRAYER, find("circuit orchard_sprayer"));
    assert!(keyword["contents"]["value"].as_str().unwrap().contains("first line"), "{keyword}");
    let blank = SPRAYER.find("\n\n").expect("the file has a blank line") + 1;
    assert_eq!(client.at("textDocument/hover", &uri, SPRAYER, blank), Value::Null);
    client.finish();
}

#[test]
fn definition_and_references_cross_files() {
    let (mut client, uri) = open();
    let places = client.at("textDocument/definition", &uri, SPRAYER, find("left_valve.1"));
    let line = SPRAYER[..find("device left_valve")].matches('\n').count();
    assert_eq!(places[0]["range"]["start"]["line"], line);
    let part = client.at("textDocument/definition", &uri, SPRAYER, find(": boom_valve") + 2);
    assert!(part[0]["uri"].as_str().unwrap().ends_with("spray.keyon"), "{part}");
    let uses = client.at("textDocument/references", &uri, SPRAYER, find("device left_valve") + 7);
    assert!(uses.as_array().unwrap().len() > 3, "{uses}");
    let marks = client.at("textDocument/documentHighlight", &uri, SPRAYER, find("S12"));
    assert!(marks.as_array().unwrap().len() > 3);
    client.finish();
}

#[test]
fn tables_and_held_scenarios() {
    let (mut client, uri) = open();
    let table = client.ask("keyon/table", json!({ "uri": uri, "name": "left_valve" })).unwrap();
    assert!(table["markdown"].as_str().unwrap().contains("operates"), "{table}");
    let same = json!({ "command": "keyon.table", "arguments": [uri, "left_valve"] });
    assert_eq!(client.ask("workspace/executeCommand", same).unwrap(), table);
    assert_eq!(
        client.ask("keyon/table", json!({ "uri": uri, "name": "nobody" })).unwrap()["markdown"],
        Value::Null
    );
    assert!(client.ask("keyon/table", json!({ "uri": uri })).unwrap()["markdown"].is_string());

    let held = client.ask("keyon/hold", json!({ "uri": uri, "scenario": "spraying" })).unwrap();
    assert_eq!(held["scenario"], "spraying");
    assert!(held["scenarios"].as_array().unwrap().contains(&json!("spraying")));
    let error = client.ask("keyon/hold", json!({ "uri": uri, "scenario": "no_such" })).unwrap_err();
    assert!(error["message"].as_str().unwrap().contains("spraying"), "{error}");
    client.finish();
}

#[test]
fn symbols_folds_hints_completion_and_format() {
    let (mut client, uri) = open();
    let document = json!({ "uri": uri });
    let symbols = client.ask("textDocument/documentSymbol", json!({ "textDocument": document })).unwrap();
    let module = symbols.as_array().unwrap().iter().find(|s| s["name"] == "SCU").expect("the module");
    assert!(module["children"].as_array().unwrap().len() >= 2);
    let folds = client.ask("textDocument/foldingRange", json!({ "textDocument": document })).unwrap();
    assert!(folds.as_array().unwrap().len() > 3);
    let range = json!({ "start": { "line": 0, "character": 0 }, "end": { "line": 999, "character": 0 } });
    let hints =
        client.ask("textDocument/inlayHint", json!({ "textDocument": document, "range": range })).unwrap();
    assert!(hints.as_array().unwrap().len() > 10, "{hints}");
    // Asked further, a hint tells the way to its volts.
    let at = |hint: &&serde_json::Value| hint["data"]["points"].to_string().contains("left_valve.1");
    let hint = hints.as_array().unwrap().iter().find(at).unwrap();
    let more = client.ask("inlayHint/resolve", hint.clone()).unwrap();
    let said = more["tooltip"].as_str().unwrap();
    assert!(said.contains("left_valve.1: ") && said.contains("battery") && said.contains("F7"), "{said}");
    let offset = find("-> left_valve.1") + 3;
    let items = client.at("textDocument/completion", &uri, SPRAYER, offset);
    let labels: Vec<_> = items.as_array().unwrap().iter().map(|i| i["label"].as_str().unwrap()).collect();
    assert!(labels.contains(&"mid_valve.1"), "{labels:?}");
    let options = json!({ "tabSize": 8, "insertSpaces": false });
    let messy = "circuit   a\n\n\n\nsplice    S1\n";
    client.open("untitled:messy", 1, messy);
    let edits = client
        .ask(
            "textDocument/formatting",
            json!({ "textDocument": { "uri": "untitled:messy" }, "options": options }),
        )
        .unwrap();
    assert!(!edits.as_array().unwrap().is_empty());
    client.finish();
}

#[test]
fn fixes_are_offered_where_findings_stand() {
    let mut client = Client::start();
    let uri = "untitled:a.keyon";
    let text = "circuit a\nsupply battery 12 V\nlamp L1 5 W 12 V\nground G1\nwire 1 batery -> L1.1\nwire 2 L1.2 -> G1\n";
    client.open(uri, 1, text);
    let diagnostics = client.diagnostics(uri, 1);
    let wrong = diagnostics.iter().find(|d| d["code"] == "unknown-name").expect("a finding");
    let params = json!({ "textDocument": { "uri": uri }, "range": wrong["range"], "context": { "diagnostics": diagnostics } });
    let actions = client.ask("textDocument/codeAction", params).unwrap();
    let action = &actions[0];
    assert_eq!(action["kind"], "quickfix");
    assert_eq!(action["diagnostics"][0]["code"], "unknown-name");
    let edit = &action["edit"]["changes"][uri][0];
    assert_eq!((edit["newText"].as_str(), &edit["range"]), (Some("battery"), &wrong["range"]));
    let refactors = json!({ "textDocument": { "uri": uri }, "range": wrong["range"], "context": { "diagnostics": [], "only": ["source.organizeImports"] } });
    assert_eq!(client.ask("textDocument/codeAction", refactors).unwrap(), json!([]));
    client.finish();
}

#[test]
fn half_written_things_have_names_in_the_outline() {
    let mut client = Client::start();
    let uri = "untitled:half.keyon";
    let text = "circuit\nsupply\ndevice \nmodule {\n  connector {\n    1 \n  }\n  gang {\n    a b c\n  }\n}\nscenario\nuse \"\n";
    client.open(uri, 1, text);
    let symbols =
        client.ask("textDocument/documentSymbol", json!({ "textDocument": { "uri": uri } })).unwrap();
    let mut waiting = symbols.as_array().unwrap().clone();
    assert!(waiting.len() > 4, "{symbols}");
    while let Some(symbol) = waiting.pop() {
        assert!(!symbol["name"].as_str().unwrap().trim().is_empty(), "{symbol}");
        waiting.extend(symbol["children"].as_array().cloned().unwrap_or_default());
    }
    client.finish();
}
