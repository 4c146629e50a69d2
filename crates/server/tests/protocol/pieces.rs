//! Answers in pieces, and answers that are held until there is something to say.

use crate::{client::Client, diagnostics::Folder};
use serde_json::{Value, json};

const BULB: &str = "part bulb \"Bulb\" {\n  pins 1, 2\n  lamp 1 -> 2  21 W 12 V\n}\n";

fn circuit(name: &str) -> String {
    format!(
        "circuit {name}\nuse \"bulb.keyon\"\nsupply battery 12.6 V\nground G1\nfuse F1 battery -> arm.1 5 A\nswitch arm\n\
         wire 1 arm.2 -> lamp.1 1.0 mm2 RD 1.0 m\ndevice lamp : bulb\nwire 2 lamp.2 -> G1 1.0 mm2 BK 1.0 m\n"
    )
}

fn workspace(name: &str) -> Folder {
    let folder = Folder::new(name);
    folder.write("bulb.keyon", BULB);
    folder.write("one.keyon", &circuit("one"));
    folder.write("two.keyon", &circuit("two").replace("lamp.2 ->", "lamp.9 ->"));
    folder
}

fn start(folder: &Folder) -> Client {
    let mut client = Client::bare();
    client.initialize_with(json!({
        "processId": null, "rootUri": folder.root(), "initializationOptions": { "diagnostics": "pull" },
        "capabilities": { "textDocument": { "diagnostic": {} } },
    }));
    client
}

/// Asks with a token; the pieces, which all came before the answer, and the answer.
fn in_pieces(client: &mut Client, method: &str, mut params: Value) -> (Vec<Value>, Value) {
    params["partialResultToken"] = json!("piece");
    let id = client.request(method, params);
    let mut pieces = Vec::new();
    loop {
        let message = client.wait_for("a piece or the answer", |m| {
            m["method"] == "$/progress" && m["params"]["token"] == "piece" || m["id"] == id
        });
        match message["method"].as_str() {
            Some(_) => pieces.push(message["params"]["value"].clone()),
            None => return (pieces, message["result"].clone()),
        }
    }
}

fn items(pieces: &[Value]) -> Vec<Value> {
    pieces.iter().flat_map(|piece| piece["items"].as_array().unwrap().clone()).collect()
}

#[test]
fn uses_and_symbols_come_file_by_file() {
    let folder = workspace("pieces");
    let mut client = start(&folder);
    let uri = folder.uri("bulb.keyon");
    client.open(&uri, 1, BULB);
    let at = json!({ "textDocument": { "uri": uri }, "position": { "line": 0, "character": 6 }, "context": { "includeDeclaration": true } });
    let (pieces, rest) = in_pieces(&mut client, "textDocument/references", at.clone());
    assert_eq!(rest, json!([]), "an empty answer ends them");
    let files: Vec<&str> =
        pieces.iter().map(|piece| piece[0]["uri"].as_str().unwrap().rsplit('/').next().unwrap()).collect();
    assert_eq!(files, ["bulb.keyon", "one.keyon", "two.keyon"]);
    // Without a token the same at once.
    let whole = client.ask("textDocument/references", at.clone()).unwrap();
    let flat: Vec<Value> = pieces.iter().flat_map(|piece| piece.as_array().unwrap().clone()).collect();
    assert_eq!(whole, json!(flat));
    let mut uses = at;
    uses["context"]["includeDeclaration"] = json!(false);
    assert_eq!(client.ask("textDocument/references", uses).unwrap().as_array().unwrap().len(), 2);

    let (pieces, rest) = in_pieces(&mut client, "workspace/symbol", json!({ "query": "lamp" }));
    assert_eq!(rest, json!([]));
    assert_eq!(pieces.len(), 2, "a circuit each: {pieces:?}");
    assert!(pieces.iter().all(|piece| piece.as_array().unwrap().iter().any(|s| s["name"] == "lamp")));
    client.finish();
}

#[test]
fn reports_come_as_they_are_known() {
    let folder = workspace("reports");
    let mut client = start(&folder);
    let (pieces, rest) = in_pieces(&mut client, "workspace/diagnostic", json!({ "previousResultIds": [] }));
    assert_eq!(rest, json!({ "items": [] }));
    assert_eq!(pieces.len(), 3, "one circuit each, then the library: {pieces:?}");
    let all = items(&pieces);
    assert!(all.iter().all(|report| report["kind"] == "full"));
    let two = all.iter().find(|report| report["uri"] == folder.uri("two.keyon")).unwrap();
    let unknown = |report: &Value| {
        report["items"].as_array().unwrap().iter().filter(|d| d["code"] == "unknown-name").count()
    };
    assert_eq!(unknown(two), 1, "{two}");

    let uri = folder.uri("two.keyon");
    let asked = json!({ "textDocument": { "uri": uri } });
    let (pieces, rest) = in_pieces(&mut client, "textDocument/diagnostic", asked);
    assert_eq!((&pieces[0]["kind"], unknown(&pieces[0])), (&json!("full"), 1));
    assert_eq!(pieces.len(), 1, "nothing is said of the library: {pieces:?}");
    // The answer only says that what was sent holds.
    assert_eq!((&rest["kind"], &rest["resultId"]), (&json!("unchanged"), &pieces[0]["resultId"]));
    client.finish();
}

#[test]
fn an_answer_with_nothing_new_is_held() {
    let folder = workspace("held");
    let gone = folder.write("gone.keyon", "circuit gone\nlamp x\n");
    let mut client = start(&folder);
    let known = |reports: &[Value]| -> Vec<Value> {
        reports.iter().map(|r| json!({ "uri": r["uri"], "value": r["resultId"] })).collect()
    };
    let first = client.ask("workspace/diagnostic", json!({ "previousResultIds": [] })).unwrap();
    let first = first["items"].as_array().unwrap().clone();
    assert_eq!(first.len(), 4);

    // Held: whatever is asked meanwhile is answered first.
    let held = client.request("workspace/diagnostic", json!({ "previousResultIds": known(&first) }));
    client.ask("workspace/symbol", json!({ "query": "" })).unwrap();
    client
        .ask("textDocument/diagnostic", json!({ "textDocument": { "uri": folder.uri("one.keyon") } }))
        .unwrap();
    assert!(client.unasked().iter().all(|message| message["id"] != held));
    let one = folder.uri("one.keyon");
    client.open(&one, 7, &circuit("one").replace("arm.2 ->", "arm.7 ->"));
    let second = client.answer(held).unwrap()["items"].as_array().unwrap().clone();
    let of = |reports: &[Value], uri: &str| reports.iter().find(|r| r["uri"] == uri).cloned().unwrap();
    assert_eq!((&of(&second, &one)["kind"], &of(&second, &one)["version"]), (&json!("full"), &json!(7)));
    assert_eq!(of(&second, &folder.uri("two.keyon"))["kind"], "unchanged");

    // A file that goes takes its findings along.
    let ids: Vec<Value> = known(&second);
    let held =
        client.request("workspace/diagnostic", json!({ "previousResultIds": ids, "partialResultToken": 5 }));
    folder.remove("gone.keyon");
    client.notify("workspace/didChangeWatchedFiles", json!({ "changes": [{ "uri": gone, "type": 3 }] }));
    assert_eq!(client.answer(held).unwrap(), json!({ "items": [] }));
    let piece = client.wait_for("a piece", |m| m["method"] == "$/progress" && m["params"]["token"] == 5);
    let report = of(piece["params"]["value"]["items"].as_array().unwrap(), &gone);
    assert_eq!((&report["kind"], &report["items"]), (&json!("full"), &json!([])));

    // A client that gives up gets its answer.
    let third = client.ask("workspace/diagnostic", json!({ "previousResultIds": [] })).unwrap();
    let ids = known(third["items"].as_array().unwrap());
    let held = client.request("workspace/diagnostic", json!({ "previousResultIds": ids }));
    client.notify("$/cancelRequest", json!({ "id": held }));
    assert_eq!(client.answer(held).unwrap_err()["code"], -32800);
    client.finish();
}

#[test]
fn a_held_answer_does_not_keep_the_server() {
    let folder = workspace("leave");
    let mut client = start(&folder);
    let first = client.ask("workspace/diagnostic", json!({ "previousResultIds": [] })).unwrap();
    let ids: Vec<Value> = first["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|r| json!({ "uri": r["uri"], "value": r["resultId"] }))
        .collect();
    client.request("workspace/diagnostic", json!({ "previousResultIds": ids }));
    // The pipe closes without a word: the answer is given, to whoever still reads, and the server ends.
    assert_eq!(client.end(), 1);
}

#[test]
fn lenses_are_asked_for_again_when_another_scenario_is_held() {
    let mut client = Client::bare();
    client.initialize(json!({ "workspace": { "codeLens": { "refreshSupport": true }, "inlayHint": { "refreshSupport": true } } }));
    let uri = "untitled:a.keyon";
    client.open(uri, 1, "circuit a\nswitch arm\nscenario lit { arm on }\nscenario dark { arm off }\n");
    client.ask("keyon/hold", json!({ "uri": uri, "scenario": "dark" })).unwrap();
    for method in ["workspace/inlayHint/refresh", "workspace/codeLens/refresh"] {
        let refresh = client.wait_for(method, |m| m["method"] == method);
        client.send(&json!({ "jsonrpc": "2.0", "id": refresh["id"], "result": null }));
    }
    client.finish();
}
