//! What a client asks for: diagnostics in place of being told, more about a completion, changes for files that move.

use crate::{client::Client, diagnostics::Folder};
use serde_json::{Value, json};

const BULB: &str = "\
part bulb \"Bulb\" {
  pins 1, 2
  lamp 1 -> 2  21 W 12 V
}
";
const WORK: &str = "\
circuit work \"Work lamp\"
use \"parts/bulb.keyon\"
supply battery 12.6 V
ground G1
fuse F1 battery -> lamp_switch.1 5 A
switch lamp_switch
wire 1 lamp_switch.2 -> lamp.1 1.0 mm2 RD 1.0 m
device lamp \"Work lamp\" : bulb
wire 2 lamp.2 -> G1 1.0 mm2 BK 1.0 m
wire 3 lamp.9 -> G1 1.0 mm2 BK 1.0 m
";

fn start(root: &Folder, capabilities: &Value, options: Value) -> Client {
    let mut client = Client::bare();
    client.initialize_with(json!({
        "processId": null, "rootUri": root.root(), "capabilities": capabilities, "initializationOptions": options,
    }));
    client
}

#[test]
fn a_client_that_asks_for_diagnostics_is_told_none() {
    let folder = Folder::new("pull");
    folder.make("parts");
    let bulb = folder.write("parts/bulb.keyon", BULB);
    let uri = folder.write("work.keyon", WORK);
    let other = folder.write("other.keyon", "circuit other\nlamp x\n");
    let capabilities = json!({
        "textDocument": { "diagnostic": {} }, "workspace": { "diagnostics": { "refreshSupport": true } },
    });
    let mut client = start(&folder, &capabilities, json!({ "diagnostics": "pull" }));
    assert_eq!(client.capabilities["diagnosticProvider"]["workspaceDiagnostics"], true);
    client.open(&uri, 1, WORK);
    let ask = |client: &mut Client, before: &Value| {
        let params = json!({ "textDocument": { "uri": uri }, "previousResultId": before });
        client.ask("textDocument/diagnostic", params).unwrap()
    };
    let first = ask(&mut client, &Value::Null);
    assert_eq!(first["kind"], "full");
    let codes = |report: &Value| -> Vec<String> {
        let items = report["items"].as_array().unwrap();
        items
            .iter()
            .map(|d| format!("{}:{}", d["range"]["start"]["line"], d["code"].as_str().unwrap()))
            .collect()
    };
    assert_eq!(codes(&first), ["9:unknown-name"]);
    let again = ask(&mut client, &first["resultId"]);
    assert_eq!((&again["kind"], &again["resultId"]), (&json!("unchanged"), &first["resultId"]));
    client.change(&uri, 2, json!([{ "text": WORK.replace("lamp.9", "lamp.8") }]));
    assert_eq!(ask(&mut client, &first["resultId"])["kind"], "full");

    let all = |client: &mut Client, before: Vec<Value>| {
        client.ask("workspace/diagnostic", json!({ "previousResultIds": before })).unwrap()["items"].clone()
    };
    let reports = all(&mut client, Vec::new());
    let of = |reports: &Value, uri: &str| {
        reports
            .as_array()
            .unwrap()
            .iter()
            .find(|r| r["uri"] == uri)
            .cloned()
            .unwrap_or_else(|| panic!("{reports}"))
    };
    assert_eq!(codes(&of(&reports, &uri)), ["9:unknown-name"], "as it is in the editor");
    assert_eq!(codes(&of(&reports, &bulb)), [""; 0]);
    assert!(codes(&of(&reports, &other)).contains(&"1:syntax".to_owned()), "{reports}");
    let known = reports.as_array().unwrap().iter();
    let mut known: Vec<Value> = known.map(|r| json!({ "uri": r["uri"], "value": r["resultId"] })).collect();
    known[0]["value"] = json!("another");
    let again = all(&mut client, known);
    let kinds: Vec<&str> = again.as_array().unwrap().iter().map(|r| r["kind"].as_str().unwrap()).collect();
    assert_eq!(kinds, ["full", "unchanged", "unchanged"], "only what is new is said again: {again}");

    // A library that changes under a circuit: the client is to ask again.
    client.open(&bulb, 1, BULB);
    client.change(&bulb, 2, json!([{ "text": BULB.replace("21 W", "15 W") }]));
    let refresh = client.wait_for("a wish to ask again", |m| m["method"] == "workspace/diagnostic/refresh");
    client.send(&json!({ "jsonrpc": "2.0", "id": refresh["id"], "result": null }));
    ask(&mut client, &Value::Null);
    let told: Vec<Value> =
        client.unasked().into_iter().filter(|m| m["method"] == "textDocument/publishDiagnostics").collect();
    assert!(told.is_empty(), "{told:?}");
    client.finish();
}

#[test]
fn a_client_that_does_not_say_so_is_told() {
    let folder = Folder::new("push");
    let mut client = start(&folder, &json!({ "textDocument": { "diagnostic": {} } }), json!({}));
    assert_eq!(client.capabilities.get("diagnosticProvider"), None);
    let params = json!({ "textDocument": { "uri": "untitled:a.keyon" } });
    assert_eq!(client.refusal("textDocument/diagnostic", params), -32601);
    client.finish();
}

#[test]
fn a_completion_tells_more_when_it_is_looked_at() {
    let folder = Folder::new("resolve");
    let capabilities =
        json!({ "textDocument": { "completion": { "completionItem": { "snippetSupport": true } } } });
    let text = format!("{}# half\nwir\nwire 4 lamp.\nallow \n", WORK.replace("lamp.9", "lamp.2"))
        .replace("use \"parts/bulb.keyon\"\n", "part bulb { pins 1, 2\n  lamp 1 -> 2  21 W 12 V\n}\n");
    for (snippets, options) in [(true, json!({})), (false, json!({ "snippets": false }))] {
        let mut client = start(&folder, &capabilities, options);
        let uri = "untitled:a.keyon";
        client.open(uri, 1, &text);
        let mut looked_at = |before: &str, label: &str| {
            let offset = text.find(before).unwrap() + before.len();
            let list = client.at("textDocument/completion", uri, &text, offset);
            let items = list.as_array().unwrap();
            let item =
                items.iter().find(|item| item["label"] == label).unwrap_or_else(|| panic!("{items:?}"));
            assert_eq!(item.get("documentation"), None, "not before it is asked for");
            client.ask("completionItem/resolve", item.clone()).unwrap()
        };
        let wire = looked_at("# half\nwir", "wire");
        let about = wire["documentation"]["value"].as_str().unwrap();
        assert!(about.contains("wire 10  S1 -> lamp.1  0.75 mm2"), "{about}");
        let edit = wire["textEdit"]["newText"].as_str().unwrap();
        if snippets {
            assert_eq!(wire["insertTextFormat"], 2);
            assert!(edit.starts_with("wire ${1:10}  ${2:S1} -> ") && edit.ends_with("$0"), "{edit}");
        } else {
            assert_eq!(wire.get("insertTextFormat"), None);
            assert_eq!(edit.trim(), "wire");
        }
        let pin = looked_at("wire 4 lamp.", "2");
        let about = pin["documentation"]["value"].as_str().unwrap();
        assert!(about.contains("lamp.2") && about.contains('V'), "{about}");
        let rule = looked_at("\nallow ", "unfused-feed");
        assert!(rule["documentation"]["value"].as_str().unwrap().contains("fuse"));
        client.finish();
    }
}

#[test]
fn uses_follow_the_files_that_they_mean() {
    let folder = Folder::new("moves");
    folder.make("parts");
    folder.make("fields");
    let bulb = folder.write("parts/bulb.keyon", BULB);
    let work = folder.write("work.keyon", WORK);
    let mut client = start(&folder, &json!({}), json!({}));
    let filters = &client.capabilities["workspace"]["fileOperations"]["willRename"]["filters"];
    assert_eq!(filters[0]["pattern"]["glob"], "**/*.keyon");
    let ask = |client: &mut Client, old: &str, new: &str| {
        let params = json!({ "files": [{ "oldUri": old, "newUri": new }] });
        client.ask("workspace/willRenameFiles", params).unwrap()
    };
    let edit = ask(&mut client, &bulb, &bulb.replace("bulb", "lamp"));
    assert_eq!(edit["changes"][&work][0]["newText"], "\"parts/lamp.keyon\"");
    assert_eq!(edit["changes"][&work][0]["range"]["start"], json!({ "line": 1, "character": 4 }));
    let folder_edit =
        ask(&mut client, &format!("{}/parts", folder.root()), &format!("{}/kit", folder.root()));
    assert_eq!(folder_edit["changes"][&work][0]["newText"], "\"kit/bulb.keyon\"");
    let own = ask(&mut client, &work, &work.replace("work.keyon", "fields/work.keyon"));
    assert_eq!(own["changes"][&work][0]["newText"], "\"../parts/bulb.keyon\"");
    assert_eq!(ask(&mut client, &work, &work.replace("work.keyon", "plough.keyon")), Value::Null);
    client.finish();
}

#[test]
fn folders_come_and_go() {
    let (one, two) = (Folder::new("root-one"), Folder::new("root-two"));
    one.write("a.keyon", "circuit a\nlamp alpha 5 W 12 V\n");
    two.write("b.keyon", "circuit b\nlamp omega 5 W 12 V\n");
    let mut client = start(&one, &json!({}), json!({}));
    let names = |client: &mut Client| -> Vec<String> {
        let found = client.ask("workspace/symbol", json!({ "query": "" })).unwrap();
        let mut names: Vec<String> =
            found.as_array().unwrap().iter().map(|s| s["name"].as_str().unwrap().to_owned()).collect();
        names.retain(|name| name == "alpha" || name == "omega");
        names
    };
    assert_eq!(names(&mut client), ["alpha"]);
    let folder = |f: &Folder| json!({ "uri": f.root(), "name": "x" });
    let change = |client: &mut Client, added: &[Value], removed: &[Value]| {
        let event = json!({ "added": added, "removed": removed });
        client.notify("workspace/didChangeWorkspaceFolders", json!({ "event": event }));
    };
    change(&mut client, &[folder(&two)], &[]);
    assert_eq!(names(&mut client), ["alpha", "omega"]);
    change(&mut client, &[], &[folder(&one)]);
    assert_eq!(names(&mut client), ["omega"]);
    client.finish();
}

#[test]
fn a_client_is_asked_for_its_settings() {
    let folder = Folder::new("configuration");
    let mut client = start(&folder, &json!({ "workspace": { "configuration": true } }), json!({}));
    client.notify("workspace/didChangeConfiguration", json!({ "settings": null }));
    let request = client.wait_for("a question", |m| m["method"] == "workspace/configuration");
    assert_eq!(request["params"]["items"][0]["section"], "keyon");
    client.send(&json!({ "jsonrpc": "2.0", "id": request["id"], "result": [{ "debounce": 1 }] }));
    // Whatever it answers, the server goes on.
    client.notify("workspace/didChangeConfiguration", json!({ "settings": { "keyon": { "debounce": 0 } } }));
    client.notify("workspace/didChangeConfiguration", json!({ "settings": 7 }));
    client.open("untitled:a.keyon", 1, "circuit a\nsplcie S1\n");
    assert!(!client.diagnostics("untitled:a.keyon", 1).is_empty());
    client.finish();
}
