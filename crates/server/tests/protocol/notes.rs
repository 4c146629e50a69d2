//! Notes that are not open are what they are when they are: circuits among prose.

use crate::{client::Client, diagnostics::Folder};
use serde_json::{Value, json};

const LIBRARY: &str = "part bulb \"Bulb\" {\n  pins 1, 2\n  lamp 1 -> 2  21 W 12 V\n}\n";

/// Two circuits among prose, with letters of several bytes before them.
const NOTE: &str = "# Prüfung \u{1f50c}\n\nwire 9 is loose.\n\n```keyon\ncircuit one\nuse \"bulb.keyon\"\nsupply b 12 V\nground G1\n\
    fuse F1 b -> l1.1 5 A\ndevice l1 : bulb\nwire 1 l1.2 -> G1 1 mm2 BK 1 m\n```\n\nThen the other:\n\n```keyon\ncircuit two\n\
    use \"bulb.keyon\"\nsupply b 12 V\nground G1\nfuse F1 b -> l2.1 5 A\ndevice l2 : bulb\nwire 1 l2.2 -> G9 1 mm2 BK 1 m\n```\n";

fn start(folder: &Folder, pulls: bool) -> Client {
    let mut client = Client::bare();
    client.initialize_with(json!({
        "processId": null, "rootUri": folder.root(),
        "initializationOptions": if pulls { json!({ "diagnostics": "pull" }) } else { json!({}) },
        "capabilities": { "textDocument": { "diagnostic": {}, "documentSymbol": { "hierarchicalDocumentSymbolSupport": true } } },
    }));
    client
}

fn folder(name: &str) -> Folder {
    let folder = Folder::new(name);
    folder.write("bulb.keyon", LIBRARY);
    folder.write("note.md", NOTE);
    folder.write("prose.md", "# Nothing here\n\nwire 1 a -> b\n");
    folder
}

/// The line of the first place where this stands, counted from `from`.
fn line(needle: &str) -> usize {
    NOTE[..NOTE.find(needle).unwrap()].matches('\n').count()
}

#[test]
fn a_closed_note_is_checked_as_an_open_one() {
    let folder = folder("note-closed");
    let mut client = start(&folder, true);
    let reports = client.ask("workspace/diagnostic", json!({ "previousResultIds": [] })).unwrap();
    let reports = reports["items"].as_array().unwrap();
    assert!(
        reports.iter().all(|r| !r["uri"].as_str().unwrap().ends_with("prose.md")),
        "no circuit, no report"
    );
    let closed = reports.iter().find(|r| r["uri"] == folder.uri("note.md")).unwrap();
    let found = closed["items"].as_array().unwrap();
    let unknown: Vec<&Value> = found.iter().filter(|d| d["code"] == "unknown-name").collect();
    assert_eq!(unknown.len(), 1, "{found:?}");
    assert_eq!(unknown[0]["range"]["start"]["line"], line("wire 1 l2.2"));
    assert!(found.iter().all(|d| d["code"] != "syntax"), "prose is no circuit: {found:?}");

    let ask = |client: &mut Client| {
        let asked = json!({ "textDocument": { "uri": folder.uri("note.md") } });
        client.ask("textDocument/diagnostic", asked).unwrap()
    };
    let before = ask(&mut client);
    client.open(&folder.uri("note.md"), 1, NOTE);
    assert_eq!(ask(&mut client), before, "open or closed, the same");
    assert_eq!(&before["items"], &closed["items"]);
    client.finish();
}

#[test]
fn uses_and_new_names_reach_closed_notes() {
    let folder = folder("note-uses");
    let mut client = start(&folder, false);
    let uri = folder.uri("bulb.keyon");
    client.open(&uri, 1, LIBRARY);
    let at = json!({ "textDocument": { "uri": uri }, "position": { "line": 0, "character": 6 }, "context": { "includeDeclaration": false } });
    let uses = client.ask("textDocument/references", at.clone()).unwrap();
    let lines: Vec<u64> =
        uses.as_array().unwrap().iter().map(|u| u["range"]["start"]["line"].as_u64().unwrap()).collect();
    assert_eq!(lines, [line("device l1") as u64, line("device l2") as u64], "{uses}");

    let mut rename = at;
    rename["newName"] = json!("lamp_21");
    let edit = client.ask("textDocument/rename", rename).unwrap();
    let note = edit["changes"][&folder.uri("note.md")].as_array().unwrap();
    assert_eq!(note.len(), 2, "{edit}");

    // From one circuit of a note the other is reached too, whether the note is open or not.
    let from = json!({ "textDocument": { "uri": folder.uri("note.md") }, "position": { "line": line("device l1"), "character": 13 }, "newName": "lamp_21" });
    let closed = client.ask("textDocument/rename", from.clone()).unwrap();
    client.open(&folder.uri("note.md"), 1, NOTE);
    let open = client.ask("textDocument/rename", from).unwrap();
    let sorted = |edit: &Value, uri: &str| {
        let mut lines: Vec<u64> = edit["changes"][uri]
            .as_array()
            .unwrap()
            .iter()
            .map(|e| e["range"]["start"]["line"].as_u64().unwrap())
            .collect();
        lines.sort_unstable();
        lines
    };
    for edit in [&closed, &open] {
        assert_eq!(
            sorted(edit, &folder.uri("note.md")),
            [line("device l1") as u64, line("device l2") as u64]
        );
        assert_eq!(sorted(edit, &uri), [0]);
    }
    client.finish();
}

#[test]
fn symbols_paths_and_answers_of_closed_notes() {
    let folder = folder("note-more");
    let mut client = start(&folder, false);
    let found = client.ask("workspace/symbol", json!({ "query": "l2" })).unwrap();
    let symbol = found.as_array().unwrap().iter().find(|s| s["name"] == "l2").unwrap();
    assert_eq!(symbol["location"]["range"]["start"]["line"], line("device l2"));
    // Prose above the circuit is not part of it.
    let document = json!({ "uri": folder.uri("note.md") });
    let symbols = client.ask("textDocument/documentSymbol", json!({ "textDocument": document })).unwrap();
    assert!(symbols.to_string().contains("l1") && symbols.to_string().contains("l2"), "{symbols}");
    let hover = client
        .ask(
            "textDocument/hover",
            json!({ "textDocument": document, "position": { "line": line("device l2"), "character": 8 } }),
        )
        .unwrap();
    assert!(hover["contents"]["value"].as_str().unwrap().contains("l2"), "{hover}");
    let moved = json!({ "files": [{ "oldUri": folder.uri("bulb.keyon"), "newUri": format!("{}/parts/bulb.keyon", folder.root()) }] });
    let edit = client.ask("workspace/willRenameFiles", moved).unwrap();
    let edits = edit["changes"][&folder.uri("note.md")].as_array().unwrap();
    assert_eq!(edits.len(), 2, "{edit}");
    assert!(edits.iter().all(|e| e["newText"] == "\"parts/bulb.keyon\""));
    client.finish();
}

/// Who writes prose is offered no words of circuits; who writes in a block is, in an empty one too.
#[test]
fn completions_stand_in_blocks_alone() {
    let text = "# Lamp\n\nw\n\n```keyon\ncircuit c\nw\n```\n\n```keyon two\n\n```\nw\n";
    let mut client = Client::start();
    let uri = "untitled:note.md";
    client.open(uri, 1, text);
    let mut offered = |offset: usize| {
        let found = client.at("textDocument/completion", uri, text, offset);
        found.as_array().map_or(0, Vec::len)
    };
    let block = text.find("circuit c").unwrap();
    assert_eq!(offered(text.find("\nw").unwrap() + 2), 0, "above");
    assert_eq!(offered(text.rfind("\nw").unwrap() + 2), 0, "below");
    assert_eq!(offered(block - 2), 0, "at the fence");
    assert!(offered(block + "circuit c\nw".len()) > 10, "in a block");
    assert!(offered(text.find("two\n").unwrap() + 4) > 10, "in an empty block");
    client.finish();
}
