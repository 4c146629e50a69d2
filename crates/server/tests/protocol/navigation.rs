//! Renaming, tokens, lenses, colours, links, signatures, traces as calls, workspace symbols, notes, drawings.

use crate::client::Client;
use serde_json::{Value, json};

const TEXT: &str = "circuit a \"A circuit\"\n\npart valve(coil: resistance = 24 ohm) \"Valve\" {\n  pins 1, 2\n  coil 1 -> 2  coil  rated 12 V\n}\n\nsupply battery 12 V\nground G1\nfuse F1 battery -> S1 10 A\nsplice S1\ndevice left : valve(coil = 20 ohm)\nswitch arm\nwire 1 S1 -> arm.1 0.75 mm2 RD\nwire 2 arm.2 -> left.1 0.75 mm2 OG/BK\nwire 3 left.2 -> G1 0.75 mm2 BK\nscenario on_now { arm on }\nscenario off_now { arm off }\n";

fn folder(name: &str, files: &[(&str, &str)]) -> std::path::PathBuf {
    let folder = std::env::temp_dir().join(format!("keyon-protocol-{name}-{}", std::process::id()));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    for (name, text) in files {
        std::fs::write(folder.join(name), text).unwrap();
    }
    folder.canonicalize().unwrap()
}

fn open() -> (Client, &'static str) {
    let mut client = Client::start();
    let uri = "untitled:a.keyon";
    client.open(uri, 1, TEXT);
    (client, uri)
}

fn find(needle: &str) -> usize {
    TEXT.find(needle).unwrap_or_else(|| panic!("{needle} is in the text"))
}

/// Applies the edits of one document.
fn apply(text: &str, edits: &Value) -> String {
    let offset = |place: &Value| {
        let line = place["line"].as_u64().unwrap() as usize;
        let start: usize = text.split_inclusive('\n').take(line).map(str::len).sum();
        start + place["character"].as_u64().unwrap() as usize
    };
    let mut list: Vec<(usize, usize, String)> = edits
        .as_array()
        .unwrap()
        .iter()
        .map(|e| {
            (
                offset(&e["range"]["start"]),
                offset(&e["range"]["end"]),
                e["newText"].as_str().unwrap().to_owned(),
            )
        })
        .collect();
    list.sort();
    let mut out = text.to_owned();
    for (from, to, new) in list.into_iter().rev() {
        out.replace_range(from..to, &new);
    }
    out
}

#[test]
fn a_name_is_changed_everywhere_and_only_to_a_name_that_is_free() {
    let (mut client, uri) = open();
    let prepared = client.at("textDocument/prepareRename", uri, TEXT, find("S1"));
    assert_eq!(prepared["placeholder"], "S1");
    assert_eq!(client.at("textDocument/prepareRename", uri, TEXT, find("splice")), Value::Null);
    let position = crate::client::position(TEXT, find("splice S1") + 7, "utf-16");
    let ask = |client: &mut Client, new: &str| {
        let params = json!({ "textDocument": { "uri": uri }, "position": position, "newName": new });
        client.ask("textDocument/rename", params)
    };
    let edit = ask(&mut client, "S77").unwrap();
    assert_eq!(apply(TEXT, &edit["changes"][uri]), TEXT.replace("S1", "S77"));
    for (bad, why) in [("arm", "taken"), ("9S", "digit"), ("a b", "one name"), ("", "one name")] {
        let error = ask(&mut client, bad).unwrap_err();
        assert!(error["message"].as_str().unwrap().contains(why), "{bad}: {error}");
    }
    client.finish();
}

#[test]
fn a_part_of_a_library_is_renamed_in_every_circuit_that_uses_it() {
    let library = "part bulb \"Bulb\" {\n  pins 1, 2\n  resistor 1 -> 2  10 ohm\n}\n";
    let user = "circuit CC\nuse \"lib.keyon\"\nsupply b 12 V\nground G1\ndevice l1 : bulb\nwire 1 b -> l1.1\nwire 2 l1.2 -> G1\n";
    let other = "circuit CC\nsupply b 12 V\n# bulb\n";
    let one = user.replace("CC", "one");
    let two = user.replace("CC", "two");
    let files = [("lib.keyon", library), ("one.keyon", &one), ("two.keyon", &two), ("other.keyon", other)];
    let folder = folder("rename", &files);
    let root = format!("file://{}", folder.display());
    let mut client = Client::bare();
    let params = json!({ "capabilities": {}, "processId": null, "rootUri": root, "workspaceFolders": [{ "uri": root, "name": "w" }] });
    client.ask("initialize", params).unwrap();
    client.notify("initialized", json!({}));
    let uri = format!("{root}/lib.keyon");
    client.open(&uri, 1, library);
    let position = crate::client::position(library, 5, "utf-16");
    let params = json!({ "textDocument": { "uri": uri }, "position": position, "newName": "lamp_bulb" });
    let edit = client.ask("textDocument/rename", params).unwrap();
    let changes = edit["changes"].as_object().unwrap();
    assert_eq!(changes.len(), 3, "{edit}");
    assert_eq!(apply(&two, &changes[&format!("{root}/two.keyon")]), two.replace("bulb", "lamp_bulb"));

    let symbols = client.ask("workspace/symbol", json!({ "query": "bulb" })).unwrap();
    assert!(symbols.as_array().unwrap().iter().any(|s| s["name"] == "bulb"), "{symbols}");
    let symbols = client.ask("workspace/symbol", json!({ "query": "l1" })).unwrap();
    assert_eq!(symbols.as_array().unwrap().iter().filter(|s| s["name"] == "l1").count(), 2, "{symbols}");
    client.finish();
    let _ = std::fs::remove_dir_all(folder);
}

#[test]
fn tokens_are_full_ranged_and_by_difference() {
    let (mut client, uri) = open();
    let document = json!({ "uri": uri });
    let legend = client.capabilities["semanticTokensProvider"]["legend"]["tokenTypes"].clone();
    let full = client.ask("textDocument/semanticTokens/full", json!({ "textDocument": document })).unwrap();
    let data: Vec<u64> = full["data"].as_array().unwrap().iter().map(|n| n.as_u64().unwrap()).collect();
    let (mut line, mut column) = (0, 0);
    let mut words = Vec::new();
    for token in data.chunks(5) {
        let [dl, dc, long, kind, _] = token else { panic!("{token:?}") };
        column = if *dl == 0 { column + dc } else { *dc };
        line += dl;
        let text = TEXT.lines().nth(line as usize).unwrap();
        words.push((
            &text[column as usize..(column + long) as usize],
            legend[*kind as usize].as_str().unwrap(),
        ));
    }
    for wanted in [
        ("circuit", "keyword"),
        ("valve", "class"),
        ("arm", "variable"),
        ("0.75", "number"),
        ("on_now", "function"),
        ("BK", "regexp"),
    ] {
        assert!(words.contains(&wanted), "{wanted:?} in {words:?}");
    }
    let new = TEXT.replace("0.75 mm2 RD", "1.5 mm2 RD");
    client.change(uri, 2, json!([{ "text": new }]));
    let params = json!({ "textDocument": document, "previousResultId": full["resultId"] });
    let delta = client.ask("textDocument/semanticTokens/full/delta", params).unwrap();
    let mut patched = data.clone();
    for edit in delta["edits"].as_array().unwrap() {
        let start = edit["start"].as_u64().unwrap() as usize;
        let count = edit["deleteCount"].as_u64().unwrap() as usize;
        let numbers =
            edit["data"].as_array().map(|d| d.iter().map(|n| n.as_u64().unwrap()).collect::<Vec<_>>());
        patched.splice(start..start + count, numbers.unwrap_or_default());
    }
    let again = client.ask("textDocument/semanticTokens/full", json!({ "textDocument": document })).unwrap();
    assert_eq!(json!(patched), again["data"]);
    let range = json!({ "start": { "line": 7, "character": 0 }, "end": { "line": 8, "character": 0 } });
    let some = client
        .ask("textDocument/semanticTokens/range", json!({ "textDocument": document, "range": range }))
        .unwrap();
    assert!((1..data.len()).contains(&some["data"].as_array().unwrap().len()), "{some}");
    client.finish();
}

#[test]
fn lenses_colours_links_signatures_and_selections() {
    let (mut client, uri) = open();
    let document = json!({ "uri": uri });
    let lenses = client.ask("textDocument/codeLens", json!({ "textDocument": document })).unwrap();
    let hold =
        lenses.as_array().unwrap().iter().find(|l| l["command"]["command"] == "keyon.hold").unwrap().clone();
    assert_eq!(hold["command"]["title"], "shown");
    client
        .ask("workspace/executeCommand", json!({ "command": "keyon.hold", "arguments": [uri, "off_now"] }))
        .unwrap();
    let lenses = client.ask("textDocument/codeLens", json!({ "textDocument": document })).unwrap();
    let titles: Vec<&str> =
        lenses.as_array().unwrap().iter().filter_map(|l| l["command"]["title"].as_str()).collect();
    assert!(titles.contains(&"hold this scenario"), "{titles:?}");

    let colours = client.ask("textDocument/documentColor", json!({ "textDocument": document })).unwrap();
    assert_eq!(colours.as_array().unwrap().len(), 4, "{colours}");
    let params =
        json!({ "textDocument": document, "color": colours[1]["color"], "range": colours[1]["range"] });
    let shown = client.ask("textDocument/colorPresentation", params).unwrap();
    assert_eq!(shown[0]["label"], "OG");

    let at = find("valve(coil = 20") + "valve(coil = ".len();
    let help = client.at("textDocument/signatureHelp", uri, TEXT, at);
    assert_eq!(help["signatures"][0]["label"], "valve(coil: resistance = 24 ohm)");
    assert_eq!(help["activeParameter"], 0);
    assert_eq!(client.at("textDocument/signatureHelp", uri, TEXT, 3), Value::Null);

    let position = crate::client::position(TEXT, find("left.1"), "utf-16");
    let params = json!({ "textDocument": document, "positions": [position] });
    let ranges = client.ask("textDocument/selectionRange", params).unwrap();
    let mut depth = 0;
    let mut at = &ranges[0];
    while !at.is_null() {
        depth += 1;
        at = &at["parent"];
    }
    assert!(depth >= 4, "{ranges}");
    let kind = client.at("textDocument/typeDefinition", uri, TEXT, find("device left") + 7);
    assert_eq!(kind[0]["range"]["start"]["line"], 2);
    let used = find("left.1");
    let declared = client.at("textDocument/declaration", uri, TEXT, used);
    assert_eq!(declared, client.at("textDocument/definition", uri, TEXT, used));
    assert!(declared[0].is_object(), "{declared}");
    let linked = client.at("textDocument/linkedEditingRange", uri, TEXT, find("arm"));
    assert_eq!(linked["ranges"].as_array().unwrap().len(), 5, "{linked}");
    client.finish();
}

#[test]
fn the_trace_is_a_call_hierarchy() {
    let (mut client, uri) = open();
    let items = client.at("textDocument/prepareCallHierarchy", uri, TEXT, find("left.1"));
    assert_eq!(items[0]["name"], "left.1", "{items}");
    let mut names = Vec::new();
    let mut item = items[0].clone();
    for _ in 0..10 {
        let calls = client.ask("callHierarchy/incomingCalls", json!({ "item": item })).unwrap();
        let Some(call) = calls.as_array().and_then(|c| c.first()) else { break };
        item = call["from"].clone();
        names.push(item["name"].as_str().unwrap().to_owned());
    }
    assert_eq!(names, ["arm.2", "arm.1", "S1", "battery"]);
    let calls = client.ask("callHierarchy/outgoingCalls", json!({ "item": items[0] })).unwrap();
    assert_eq!(calls[0]["to"]["name"], "left.2", "{calls}");
    client.finish();
}

#[test]
fn links_lead_to_libraries_and_drawings_are_svg() {
    let files = [("lib.keyon", "part bulb {\n  pins 1, 2\n  resistor 1 -> 2  10 ohm\n}\n")];
    let folder = folder("links", &files);
    let text = "circuit one\nuse \"lib.keyon\"\nsupply b 12 V\nground G1\ndevice l1 : bulb\nwire 1 b -> l1.1\nwire 2 l1.2 -> G1\n";
    let mut client = Client::start();
    let uri = format!("file://{}/one.keyon", folder.display());
    client.open(&uri, 1, text);
    let links = client.ask("textDocument/documentLink", json!({ "textDocument": { "uri": uri } })).unwrap();
    assert!(links[0]["target"].as_str().unwrap().ends_with("/lib.keyon"), "{links}");
    let drawing = client.ask("keyon/draw", json!({ "uri": uri })).unwrap();
    let svg = drawing["svg"].as_str().unwrap();
    assert!(svg.starts_with("<svg") && svg.contains("l1") && !svg.contains("data-at"), "{svg}");
    // What a drawing names leads back to the text.
    let drawing = client.ask("keyon/draw", json!({ "uri": uri, "tappable": true })).unwrap();
    assert!(drawing["svg"].as_str().unwrap().contains("data-at=\"l1.2\""), "{drawing}");
    let place = |client: &mut Client, name: &str| {
        let place = client.ask("keyon/locate", json!({ "uri": uri, "name": name })).unwrap();
        place["range"]["start"]["line"].clone()
    };
    assert_eq!(place(&mut client, "l1"), 4);
    assert_eq!(place(&mut client, "l1.inner.most"), 4, "the device that it is in");
    assert_eq!(place(&mut client, "2"), 6);
    assert_eq!(place(&mut client, "nothing"), Value::Null);
    let rules = client.request("keyon/rules", Value::Null);
    let rules = client.answer(rules).unwrap();
    assert!(rules.as_array().unwrap().iter().any(|r| r["name"] == "unfused-feed" && r["level"].is_string()));
    client.finish();
    let _ = std::fs::remove_dir_all(folder);
}

#[test]
fn circuits_in_notes_are_checked_where_they_stand() {
    let note = "# Ä note\n\nText with \u{1f50c}.\n\n```keyon\ncircuit n\nsupply b 12 V\nground G1\nlamp L 5 W 12 V\nwire 1 b -> L.1\nwire 2 L.2 -> G9\n```\n\nMore text.\n";
    let mut client = Client::start();
    let uri = "file:///nowhere/pump.md";
    client.open(uri, 1, note);
    let found = client.diagnostics(uri, 1);
    let unknown = found.iter().find(|d| d["code"] == "unknown-name").unwrap_or_else(|| panic!("{found:?}"));
    assert_eq!(unknown["range"]["start"], json!({ "line": 10, "character": 14 }));
    let hover = client.at("textDocument/hover", uri, note, note.find("L.1").unwrap());
    assert!(hover["contents"]["value"].as_str().unwrap().contains("12"), "{hover}");
    // The note's own text is nobody's to lay out.
    let params = json!({ "textDocument": { "uri": uri }, "options": { "tabSize": 2, "insertSpaces": true } });
    assert_eq!(client.ask("textDocument/formatting", params).unwrap(), Value::Null);
    client.finish();
}

/// Each circuit of a note is one of its own: the same names in two of them are no clash, and every answer about the document
/// speaks of all.
#[test]
fn a_note_may_hold_several_circuits() {
    let one = "circuit one\nsupply b 12 V\nground G1\nfuse F1 b -> sw.1 5 A\nswitch sw\nlamp L \"Läufer\" 5 W 12 V\nwire 1 sw.2 -> L.1\n";
    let two = "circuit two\nsupply b 24 V\nground G1\nfuse F1 b -> L.1 5 A\nlamp L 5 W 24 V\nwire 1 L.2 -> G9\nscenario lit { }\n";
    let note = format!(
        "# Ä\n\n```keyon\n{one}```\n\nMore \u{1f50c}.\n\n```keyon\n{two}```\n\n```keyon one\nwire 2 L.2 -> G1\n```\n"
    );
    let mut client = Client::start();
    let uri = "file:///nowhere/both.md";
    client.open(uri, 1, &note);
    let found = client.diagnostics(uri, 1);
    let line = |needle: &str| note[..note.find(needle).unwrap()].matches('\n').count() as u64;
    let of = |code: &str| -> Vec<u64> {
        let with = found.iter().filter(|d| d["code"] == code);
        with.map(|d| d["range"]["start"]["line"].as_u64().unwrap()).collect()
    };
    // One is complete with its second block; the other's return is nowhere.
    assert_eq!(of("unknown-name"), [line("wire 1 L.2 -> G9")], "{found:?}");
    assert!(of("duplicate-name").is_empty() && of("no-return-path").is_empty(), "{found:?}");
    for (place, volts) in [("b -> sw.1", "12"), ("b -> L.1", "24")] {
        let hover = client.at("textDocument/hover", uri, &note, note.find(place).unwrap());
        assert!(hover["contents"]["value"].as_str().unwrap().contains(volts), "{place}: {hover}");
    }
    let lamps = client.at("textDocument/definition", uri, &note, note.find("L.2 -> G1").unwrap());
    assert_eq!(
        lamps["range"]["start"]["line"]
            .as_u64()
            .unwrap_or(lamps[0]["range"]["start"]["line"].as_u64().unwrap_or(0)),
        line("lamp L \"L"),
        "{lamps}"
    );
    let symbols =
        client.ask("textDocument/documentSymbol", json!({ "textDocument": { "uri": uri } })).unwrap();
    let text = symbols.to_string();
    assert!(text.contains("\"two\"") || text.contains("lit"), "{text}");
    let tokens =
        client.ask("textDocument/semanticTokens/full", json!({ "textDocument": { "uri": uri } })).unwrap();
    let data: Vec<u64> = tokens["data"].as_array().unwrap().iter().map(|n| n.as_u64().unwrap()).collect();
    let lines: u64 = data.chunks(5).map(|token| token[0]).sum();
    assert_eq!(lines, line("wire 2 L.2 -> G1"), "the last token stands in the last block");
    let held = client.ask("keyon/hold", json!({ "uri": uri, "scenario": "lit" })).unwrap();
    assert_eq!(held["scenario"], "lit", "{held}");

    // An edit in one leaves the other's findings where they are.
    let at = crate::client::position(&note, note.find("More").unwrap(), "utf-16");
    client.change(uri, 2, json!([{ "range": { "start": at, "end": at }, "text": "\n\n" }]));
    let found = client.diagnostics(uri, 2);
    let unknown: Vec<u64> = found
        .iter()
        .filter(|d| d["code"] == "unknown-name")
        .map(|d| d["range"]["start"]["line"].as_u64().unwrap())
        .collect();
    assert_eq!(unknown, [line("wire 1 L.2 -> G9") + 2], "{found:?}");
    client.finish();
}

#[test]
fn a_range_is_laid_out_and_the_line_above_a_new_one() {
    let text = "circuit a\nsupply   battery   12 V\nground    G1\nsplice     S1\n";
    let mut client = Client::start();
    let uri = "untitled:a.keyon";
    client.open(uri, 1, text);
    let options = json!({ "tabSize": 2, "insertSpaces": true });
    let range = json!({ "start": { "line": 2, "character": 0 }, "end": { "line": 2, "character": 12 } });
    let params = json!({ "textDocument": { "uri": uri }, "range": range, "options": options });
    let edits = client.ask("textDocument/rangeFormatting", params).unwrap();
    let lines: Vec<u64> =
        edits.as_array().unwrap().iter().map(|e| e["range"]["start"]["line"].as_u64().unwrap()).collect();
    assert_eq!(lines, [2], "{edits}");
    let position = json!({ "line": 4, "character": 0 });
    let params =
        json!({ "textDocument": { "uri": uri }, "position": position, "ch": "\n", "options": options });
    let edits = client.ask("textDocument/onTypeFormatting", params).unwrap();
    let lines: Vec<u64> =
        edits.as_array().unwrap().iter().map(|e| e["range"]["start"]["line"].as_u64().unwrap()).collect();
    assert_eq!(lines, [3], "{edits}");
    client.finish();
}

#[test]
fn what_is_computed_becomes_an_expectation_and_all_safe_fixes_are_one_action() {
    let (mut client, uri) = open();
    let at = crate::client::position(TEXT, find("left.1"), "utf-16");
    let range = json!({ "start": at, "end": at });
    let params = json!({ "textDocument": { "uri": uri }, "range": range, "context": { "diagnostics": [], "only": ["refactor"] } });
    let actions = client.ask("textDocument/codeAction", params).unwrap();
    let titles: Vec<&str> =
        actions.as_array().unwrap().iter().map(|a| a["title"].as_str().unwrap()).collect();
    assert!(titles.contains(&"expect left.1 fed in on_now"), "{titles:?}");
    for (n, action) in actions.as_array().unwrap().iter().enumerate() {
        // Each by itself holds.
        let one = apply(TEXT, &action["edit"]["changes"][uri]);
        assert!(one.ends_with("}\n") && one.starts_with(TEXT), "{one}");
        let other = format!("untitled:expecting-{n}.keyon");
        client.open(&other, 1, &one);
        let found = client.diagnostics(&other, 1);
        assert!(!found.iter().any(|d| d["code"] == "expectation-failed"), "{found:?}");
    }

    let wrong = "circuit a\nsupply battery 12 V\nground G1\nlamp L 5 W 12 V\nallow voltage-drop\nwire 1 battery -> L.1 0.75 mm2 RD\nWire 2 L.2 -> G1 0.75 mm2 BK\n";
    client.open("untitled:b.keyon", 1, wrong);
    let whole = json!({ "start": { "line": 0, "character": 0 }, "end": { "line": 7, "character": 0 } });
    let params = json!({ "textDocument": { "uri": "untitled:b.keyon" }, "range": whole, "context": { "diagnostics": [], "only": ["source.fixAll"] } });
    let actions = client.ask("textDocument/codeAction", params).unwrap();
    let fixed = apply(wrong, &actions[0]["edit"]["changes"]["untitled:b.keyon"]);
    assert_eq!(fixed, wrong.replace("allow voltage-drop\n", "").replace("Wire", "wire"), "{actions}");
    client.finish();
}

#[test]
fn a_body_becomes_a_part_in_a_note_too() {
    let circuit = "circuit a\nsupply b 12 V\nground G1\nswitch arm\ndevice K1 {\n  pins 1, 2\n  coil 1 -> 2 85 ohm\n}\n";
    let note = format!("# Ein \u{1f50c}\n\n```keyon\n{circuit}```\n\nMore.\n");
    let mut client = Client::start();
    let uri = "file:///nowhere/parts.md";
    client.open(uri, 1, &note);
    let ask = |client: &mut Client, needle: &str, only: &str| {
        let at = crate::client::position(&note, note.find(needle).unwrap() + 7, "utf-16");
        let context = json!({ "diagnostics": [], "only": [only] });
        let params = json!({ "textDocument": { "uri": uri }, "range": { "start": at, "end": at }, "context": context });
        client.ask("textDocument/codeAction", params).unwrap().as_array().unwrap().clone()
    };
    let actions = ask(&mut client, "device K1", "refactor.extract");
    assert_eq!(actions.len(), 1, "{actions:?}");
    assert_eq!(actions[0]["kind"], "refactor.extract");
    let body = "{\n  pins 1, 2\n  coil 1 -> 2 85 ohm\n}\n";
    let wanted =
        note.replace(&format!("device K1 {body}"), &format!("part k1_part {body}\ndevice K1 : k1_part\n"));
    assert_eq!(apply(&note, &actions[0]["edit"]["changes"][uri]), wanted);
    // What stands at the end of the circuit stands within its block.
    let actions = ask(&mut client, "switch arm", "refactor");
    let scenario =
        &actions.iter().find(|a| a["title"].as_str().unwrap().starts_with("declare")).unwrap()["edit"];
    let wanted = note.replace("}\n```", "}\n\nscenario arm_on { arm on }\n```");
    assert_eq!(apply(&note, &scenario["changes"][uri]), wanted);
    assert!(ask(&mut client, "device K1", "source").is_empty());
    client.finish();
}
