//! Memory stays bounded over ten thousand edits. A test binary of its own, since it measures the process.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
#![cfg(target_os = "linux")]

#[allow(dead_code)]
#[path = "protocol/client.rs"]
mod client;

use client::Client;
use serde_json::json;

const URI: &str = "untitled:a.keyon";
const TEXT: &str = include_str!("../../../corpus/circuits/first_lamp.keyon");

/// Resident memory of this process, in kilobytes.
fn resident() -> usize {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status.lines().find(|line| line.starts_with("VmRSS:")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse().unwrap()
}

/// Types and deletes at the end of the text, and asks something now and then.
fn edit(client: &mut Client, versions: std::ops::Range<i64>) {
    let line = TEXT.lines().count();
    let last = versions.end - 1;
    for version in versions {
        let end = json!({ "line": line, "character": if version % 2 == 0 { 0 } else { 9 } });
        let start = json!({ "line": line, "character": 0 });
        let text = if version % 2 == 0 { "splice S9" } else { "" };
        client.change(URI, version, json!([{ "range": { "start": start, "end": end }, "text": text }]));
        if version % 50 == 0 || version == last {
            let params = json!({ "textDocument": { "uri": URI }, "position": { "line": 2, "character": 8 } });
            let _ = client.ask("textDocument/hover", params);
            client.unasked();
        }
    }
}

#[test]
fn ten_thousand_edits() {
    let mut client = Client::start();
    client.open(URI, 0, TEXT);
    edit(&mut client, 2..2000);
    let before = resident();
    edit(&mut client, 2000..12_000);
    let grown = resident().saturating_sub(before);
    assert!(grown < 16 << 10, "{grown} kB more after ten thousand edits");
    client.finish();
}
