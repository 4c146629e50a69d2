//! `keyon fmt`, `explain`, `new`, `lsp`, and how the program behaves as a whole.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod common;

use common::*;
use std::{
    fs,
    io::{Read, Write},
    process::Stdio,
};

#[test]
fn fmt_mends_names_and_checks() {
    let folder = folder("fmt");
    let file = folder.join("a.keyon");
    fs::write(&file, SOUND.replace("switch sw", "switch   sw")).unwrap();
    let check = keyon_in(&folder, &["fmt", "--check", "."]);
    assert_eq!(
        (check.code, check.out.as_str()),
        (1, "./a.keyon: not formatted\n1 file: 1 would be formatted\n")
    );
    let mend = keyon_in(&folder, &["fmt", "a.keyon"]);
    assert_eq!((mend.code, mend.out.as_str()), (0, "1 file: 1 formatted\n"));
    let again = keyon_in(&folder, &["fmt", "--check", "a.keyon"]);
    assert_eq!((again.code, again.out.as_str()), (0, "1 file: all formatted already\n"));
    let from_input = keyon_with(&["fmt", "-"], SOUND.replace("switch sw", "switch   sw").as_bytes());
    assert_eq!((from_input.code, from_input.out.as_str()), (0, fs::read_to_string(&file).unwrap().as_str()));
    assert_eq!(keyon_with(&["fmt", "--check", "-"], b"wire   1 a->b\n").code, 1);
    assert_eq!(keyon(&["fmt", "nowhere"]).code, 2);
}

#[test]
fn fmt_leaves_what_is_not_utf8_alone() {
    let folder = folder("fmt_bytes");
    let bytes = b"circuit   a\n# caf\xe9\n";
    fs::write(folder.join("a.keyon"), bytes).unwrap();
    let ran = keyon_in(&folder, &["fmt", "a.keyon"]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("is not UTF-8"), "{}", ran.err);
    assert_eq!(fs::read(folder.join("a.keyon")).unwrap(), bytes);
}

#[test]
fn the_corpus_is_formatted() {
    let ran = keyon(&["fmt", "--check", "corpus/circuits", "corpus/parts"]);
    assert_eq!(ran.code, 0, "{}", ran.out);
}

#[test]
fn explain_prints_a_page_a_list_and_the_nearest_name() {
    let page = keyon(&["explain", "no-feed-path"]);
    assert_eq!(page.code, 0);
    for part in ["# no-feed-path", "## Why it matters", "## Wrong", "## Right", "circuit "] {
        assert!(page.out.contains(part), "{}", page.out);
    }
    let list = keyon(&["explain"]);
    assert_eq!(list.code, 0);
    for part in ["power\n", "no-feed-path", "error", "hint", "keyon explain RULE"] {
        assert!(list.out.contains(part), "{}", list.out);
    }
    let slip = keyon(&["explain", "no-feed-pth"]);
    assert_eq!(slip.code, 2);
    assert!(slip.err.contains("did you mean `no-feed-path`"), "{}", slip.err);
    assert_eq!(keyon(&["explain", "zzz"]).code, 2);
}

#[test]
fn new_writes_a_circuit_without_any_finding_and_overwrites_nothing() {
    let folder = folder("new");
    let first = keyon_in(&folder, &["new", "pump_light"]);
    assert_eq!(first.code, 0, "{}", first.err);
    assert!(first.out.starts_with("wrote pump_light.keyon\n"), "{}", first.out);
    let checked = keyon_in(&folder, &["check", "pump_light.keyon"]);
    assert_eq!((checked.code, checked.out.as_str()), (0, "1 file checked: nothing found\n"));
    assert_eq!(keyon_in(&folder, &["fmt", "--check", "pump_light.keyon"]).code, 0);
    let state =
        keyon_in(&folder, &["state", "pump_light.keyon", "--in", "working", "--format", "json"]).json();
    assert_eq!(state["devices"]["valve"]["state"], "operates");
    assert_eq!(state["circuit"], "pump_light");

    fs::write(folder.join("pump_light.keyon"), "# mine\n").unwrap();
    let again = keyon_in(&folder, &["new", "pump_light"]);
    assert_eq!(again.code, 2);
    assert!(again.err.contains("--force"), "{}", again.err);
    assert_eq!(fs::read_to_string(folder.join("pump_light.keyon")).unwrap(), "# mine\n");
    assert_eq!(keyon_in(&folder, &["new", "pump_light", "--force"]).code, 0);
    assert_ne!(fs::read_to_string(folder.join("pump_light.keyon")).unwrap(), "# mine\n");

    let bad = keyon_in(&folder, &["new", "../2 pumps"]);
    assert_eq!(bad.code, 2);
    assert!(bad.err.contains("try `"), "{}", bad.err);
}

#[test]
fn every_command_has_help_with_examples() {
    for command in ["check", "state", "table", "trace", "fmt", "explain", "new"] {
        let ran = keyon(&[command, "--help"]);
        assert_eq!(ran.code, 0);
        assert!(ran.out.contains("Example"), "{command}: {}", ran.out);
    }
    let version = keyon(&["--version"]);
    assert_eq!(version.out, format!("keyon {}\n", env!("CARGO_PKG_VERSION")));
}

#[test]
fn a_reader_that_goes_away_is_no_failure() {
    let mut child = command()
        .args(["check", "corpus/rules", "--format", "json"])
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let mut err = String::new();
    child.stderr.take().unwrap().read_to_string(&mut err).unwrap();
    assert_eq!((child.wait().unwrap().code(), err.as_str()), (Some(0), ""));
}

#[test]
fn the_language_server_speaks_over_standard_input_and_output() {
    let mut child = command()
        .args(["lsp", "--stdio"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut input = child.stdin.take().unwrap();
    for message in [
        r#"{"jsonrpc":"2.0","id":1,"method":"initialize","params":{"capabilities":{}}}"#,
        r#"{"jsonrpc":"2.0","method":"initialized","params":{}}"#,
        r#"{"jsonrpc":"2.0","id":2,"method":"shutdown"}"#,
        r#"{"jsonrpc":"2.0","method":"exit"}"#,
    ] {
        write!(input, "Content-Length: {}\r\n\r\n{message}", message.len()).unwrap();
    }
    drop(input);
    let mut out = String::new();
    child.stdout.take().unwrap().read_to_string(&mut out).unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(0), "{out}");
    assert!(out.contains("\"capabilities\"") && out.contains("\"id\":2"), "{out}");
}
