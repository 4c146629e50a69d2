//! Findings as they appear, change and go.

use crate::client::{Client, position, range};
use serde_json::{Value, json};
use std::{fs, path::PathBuf};

const URI: &str = "untitled:a.keyon";

/// Sound: a lamp on a fused supply.
const SOUND: &str = include_str!("../../../../corpus/circuits/first_lamp.keyon");

fn rules(diagnostics: &[Value]) -> Vec<&str> {
    diagnostics.iter().map(|d| d["code"].as_str().unwrap()).collect()
}

/// A folder of its own that goes when the test ends.
pub(crate) struct Folder(PathBuf);

impl Folder {
    pub(crate) fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("keyon-server-{}-{name}", std::process::id()));
        fs::create_dir_all(&path).unwrap();
        Self(path.canonicalize().unwrap())
    }
    pub(crate) fn write(&self, name: &str, text: &str) -> String {
        fs::write(self.0.join(name), text).unwrap();
        self.uri(name)
    }
    pub(crate) fn make(&self, name: &str) {
        fs::create_dir_all(self.0.join(name)).unwrap();
    }
    pub(crate) fn root(&self) -> String {
        format!("file://{}", self.0.display())
    }
    pub(crate) fn remove(&self, name: &str) {
        fs::remove_file(self.0.join(name)).unwrap();
    }
    pub(crate) fn uri(&self, name: &str) -> String {
        format!("file://{}", self.0.join(name).display())
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

#[test]
fn a_finding_appears_and_goes_with_the_text() {
    let mut client = Client::start();
    client.open(URI, 1, SOUND);
    assert_eq!(client.diagnostics(URI, 1), Vec::<Value>::new(), "sound");
    let broken = format!("{SOUND}wire 999 nowhere -> nobody\n");
    client.change(URI, 2, json!([{ "text": broken }]));
    let diagnostics = client.diagnostics(URI, 2);
    assert_eq!(rules(&diagnostics), ["unknown-name", "unknown-name"]);
    let at = broken.find("nowhere").unwrap();
    assert_eq!(diagnostics[0]["range"], range(&broken, at..at + "nowhere".len(), "utf-16"));
    assert_eq!(diagnostics[0]["source"], "keyon");
    assert_eq!(diagnostics[0]["severity"], 1);
    let end = position(&broken, broken.len(), "utf-16");
    let start = position(&broken, SOUND.len(), "utf-16");
    client.change(URI, 3, json!([{ "range": { "start": start, "end": end }, "text": "" }]));
    assert_eq!(client.diagnostics(URI, 3), Vec::<Value>::new());
    client.change(URI, 4, json!([{ "text": broken }]));
    assert_eq!(client.diagnostics(URI, 4).len(), 2);
    client.close(URI);
    let cleared = client.wait_for("the close to clear", |m| {
        m["params"]["uri"] == URI && m["params"]["diagnostics"] == json!([])
    });
    assert!(cleared["params"].get("version").is_none());
    client.finish();
}

#[test]
fn a_large_file_shows_what_reading_finds_before_the_rest() {
    let mut text = String::from(SOUND);
    // An unknown name, and a lamp that is fed and has no way to ground.
    text.push_str(
        "wire 998 nowhere -> G1\nlamp alone 5 W 12 V\nwire 999 battery -> alone.1 0.75 mm2 RD 1 m\n",
    );
    while text.len() < 70_000 {
        text.push_str("# Lines that say nothing make a file large as well.\n");
    }
    let mut client = Client::start();
    client.open(URI, 1, &text);
    assert_eq!(rules(&client.diagnostics(URI, 1)), ["unknown-name"], "at once");
    let all = client.wait_for("the rest", |m| {
        m["params"]["uri"] == URI && m["params"]["diagnostics"].as_array().is_some_and(|all| all.len() > 1)
    });
    let found = rules(all["params"]["diagnostics"].as_array().unwrap());
    assert!(found.contains(&"unknown-name") && found.contains(&"no-return-path"), "{found:?}");
    // What was found elsewhere stays while an edit is looked at, and stands where its line stands now.
    let place = |all: &[Value], rule: &str| {
        all.iter().find(|d| d["code"] == rule).map(|d| d["range"]["start"]["line"].as_u64().unwrap())
    };
    let first = place(all["params"]["diagnostics"].as_array().unwrap(), "no-return-path").unwrap();
    let two = text.replace("wire 998 nowhere", "# A remark.\nwire 998 somewhere");
    client.change(URI, 2, json!([{ "text": two }]));
    let early = client.diagnostics(URI, 2);
    assert!(early.iter().any(|d| d["message"].as_str().unwrap().contains("somewhere")), "{early:?}");
    assert_eq!(place(&early, "no-return-path"), Some(first + 1));
    // Writing comes before names. (What is asked for here is there when all is checked.)
    let start = json!({ "line": 0, "character": 0 });
    let all = json!({ "textDocument": { "uri": URI }, "range": { "start": start, "end": start }, "context": { "diagnostics": [] } });
    client.ask("textDocument/codeAction", all).unwrap();
    client.change(URI, 3, json!([{ "text": two.replace("999 battery", "999 battery battery") }]));
    let early = client.diagnostics(URI, 3);
    assert!(place(&early, "syntax").is_some() && place(&early, "unknown-name").is_some(), "{early:?}");
    // The whole check has the last word.
    client.change(URI, 4, json!([{ "text": SOUND }]));
    let last = |m: &Value| {
        m["params"]["uri"] == URI && m["params"]["version"] == 4 && m["params"]["diagnostics"] == json!([])
    };
    client.wait_for("nothing to be left", last);
    client.finish();
}

#[test]
fn a_burst_ends_with_the_findings_of_its_last_version() {
    let mut client = Client::start();
    client.open(URI, 0, SOUND);
    let line = SOUND.lines().count();
    let end = json!({ "line": line, "character": 0 });
    for version in 1..=40 {
        client.change(
            URI,
            version,
            json!([{ "range": { "start": end, "end": end }, "text": format!("splice X{version}\n") }]),
        );
    }
    let diagnostics = client.diagnostics(URI, 40);
    let lone = diagnostics.iter().filter(|d| d["message"].as_str().unwrap().contains('X')).count();
    assert!(lone >= 40, "{lone} of 40 splices are blamed");
    client.finish();
}

#[test]
fn positions_are_right_in_every_encoding_and_with_crlf() {
    for encoding in ["utf-8", "utf-16", "utf-32"] {
        let mut client = Client::start_with(&[encoding]);
        let text = "circuit a \"Gew\u{e4}chshaus \u{1f33f}\"\r\nsplice \u{d6}l_1 \"\u{1f50c}\" shared by n\u{f6}dig\r\n";
        client.open(URI, 1, text);
        let diagnostics = client.diagnostics(URI, 1);
        let at = text.find("n\u{f6}dig").unwrap();
        let wanted = range(text, at..at + "n\u{f6}dig".len(), encoding);
        let ranges: Vec<_> = diagnostics.iter().map(|d| &d["range"]).collect();
        assert!(ranges.contains(&&wanted), "{encoding}: {diagnostics:#?}");
        client.finish();
    }
}

#[test]
fn edits_that_do_not_fit_silence_the_document_until_a_full_text() {
    let mut client = Client::start();
    client.open(URI, 1, "circuit a\nwire 1 x -> y\n");
    assert!(!client.diagnostics(URI, 1).is_empty());
    let nowhere = json!({ "start": { "line": 70, "character": 0 }, "end": { "line": 71, "character": 0 } });
    client.change(URI, 2, json!([{ "range": nowhere, "text": "!" }]));
    assert_eq!(client.diagnostics(URI, 2), Vec::<Value>::new());
    client.wait_for("a word to the person", |m| m["method"] == "window/showMessage");
    let hover = json!({ "textDocument": { "uri": URI }, "position": { "line": 0, "character": 0 } });
    assert_eq!(client.refusal("textDocument/hover", hover), -32602);
    client.change(URI, 3, json!([{ "text": "circuit a\nwire 1 x -> y\n" }]));
    assert!(!client.diagnostics(URI, 3).is_empty());
    // Saving with the text mends it as well.
    client.change(URI, 4, json!([{ "range": nowhere, "text": "!" }]));
    client.notify("textDocument/didSave", json!({ "textDocument": { "uri": URI }, "text": "circuit a\n" }));
    client.wait_for("the saved text's findings", |m| {
        m["params"]["uri"] == URI && m["params"]["version"] == 4 && m["params"]["diagnostics"] == json!([])
    });
    client.finish();
}

#[test]
fn closing_while_computing_leaves_nothing() {
    let mut client = Client::start();
    for round in 0..20 {
        client.open(URI, round, "circuit a\nwire 1 x -> y\n");
        client.change(URI, round + 1, json!([{ "text": "circuit a\nwire 1 y -> x\n" }]));
        client.close(URI);
    }
    client.ask("keyon/explain", json!({ "rule": "syntax" })).unwrap();
    client.open(URI, 100, "circuit a\n");
    assert_eq!(client.diagnostics(URI, 100), Vec::<Value>::new());
    let mut last = None;
    for message in client.unasked() {
        if message["params"]["uri"] == URI {
            last = Some(message);
        }
    }
    assert!(
        last.is_none_or(|m| m["params"]["diagnostics"] == json!([])),
        "the last word is that nothing is wrong"
    );
    client.finish();
}

#[test]
fn libraries_come_from_open_buffers_first_and_dependents_follow() {
    let folder = Folder::new("libraries");
    let mut client = Client::start();
    let circuit = "circuit a\nuse \"parts.keyon\"\ndevice d : thing\nunused d.1\nunused d.2\n";
    let uri = folder.uri("a.keyon");
    client.open(&uri, 1, circuit);
    let diagnostics = client.diagnostics(&uri, 1);
    assert!(diagnostics.iter().any(|d| d["severity"] == 1), "the library is missing: {diagnostics:#?}");
    // It appears on the disk.
    let part = "part thing {\n  pins 1, 2\n  resistor 1 -> 2 100 ohm\n}\n";
    let library = folder.write("parts.keyon", part);
    client.notify("workspace/didChangeWatchedFiles", json!({ "changes": [{ "uri": library, "type": 1 }] }));
    let unknown = |m: &Value| {
        m.to_string().contains("thing")
            && m["params"]["diagnostics"]
                .as_array()
                .is_some_and(|d| d.iter().any(|d| d["code"] == "unknown-name"))
    };
    client.wait_for("the library on the disk", |m| m["params"]["uri"] == uri.as_str() && !unknown(m));
    // In the editor the part gets another name: that is what counts, saved or not.
    client.open(&library, 1, &part.replace("thing", "other"));
    client.wait_for("the library in the editor", |m| m["params"]["uri"] == uri.as_str() && unknown(m));
    client.change(&library, 2, json!([{ "text": part }]));
    client.wait_for("the change in the library", |m| m["params"]["uri"] == uri.as_str() && !unknown(m));
    client.change(
        &library,
        3,
        json!([{ "text": "part other {\n  pins 1, 2\n  resistor 1 -> 2 100 ohm\n}\n" }]),
    );
    client.wait_for("another change", |m| m["params"]["uri"] == uri.as_str() && unknown(m));
    // Closed, the disk counts again.
    client.close(&library);
    client.wait_for("the disk again", |m| m["params"]["uri"] == uri.as_str() && !unknown(m));
    client.finish();
}
