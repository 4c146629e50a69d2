//! `keyon check`: exit codes, JSON, what is read.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod common;

use common::*;
use std::fs;

#[test]
fn the_sound_corpus_is_clean() {
    let ran = keyon(&["check", "corpus/circuits", "corpus/parts"]);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{}", ran.out);
    assert!(ran.out.lines().last().unwrap().contains("files checked"), "{}", ran.out);
    assert!(!ran.out.contains("error["), "{}", ran.out);
}

#[test]
fn the_whole_corpus_has_findings_and_comes_to_an_end() {
    let ran = keyon(&["check", "corpus", "--format", "json"]);
    assert_eq!((ran.code, ran.err.as_str()), (1, ""));
    let json = ran.json();
    let findings = json["findings"].as_array().unwrap();
    assert!(findings.iter().any(|f| f["file"] == "corpus/rules/no-feed-path/wrong.keyon"));
}

#[test]
fn errors_exit_1_and_have_their_places() {
    let folder = folder("check_errors");
    fs::write(folder.join("porch.keyon"), NO_RETURN).unwrap();
    let ran = keyon_in(&folder, &["check", "porch.keyon", "--format", "json"]);
    assert_eq!(ran.code, 1);
    let json = ran.json();
    let keys: Vec<&str> = json.as_object().unwrap().keys().map(String::as_str).collect();
    assert_eq!(keys, ["version", "findings"]);
    let finding =
        json["findings"].as_array().unwrap().iter().find(|f| f["rule"] == "no-return-path").unwrap();
    let keys: Vec<&str> = finding.as_object().unwrap().keys().map(String::as_str).collect();
    let documented =
        ["rule", "level", "file", "line", "column", "end_line", "end_column", "message", "help", "related"];
    assert_eq!(keys[..documented.len()], documented);
    assert_eq!(keys[documented.len()..], ["fixes", "id"]);
    assert_eq!(finding["level"], "error");
    assert_eq!(finding["file"], "porch.keyon");
    assert_eq!((&finding["line"], &finding["column"]), (&7.into(), &6.into()));
    assert_eq!((&finding["end_line"], &finding["end_column"]), (&7.into(), &11.into()));

    let text = keyon_in(&folder, &["check", "porch.keyon"]);
    assert_eq!(text.code, 1);
    assert!(text.out.contains("porch.keyon:7:6: error[no-return-path]: "), "{}", text.out);
    assert!(!text.out.contains('\x1b'), "no colour into a pipe");
}

#[test]
fn a_sound_circuit_exits_0_and_says_so() {
    let ran = keyon_with(&["check", "-"], SOUND.as_bytes());
    assert_eq!((ran.code, ran.out.as_str(), ran.err.as_str()), (0, "1 file checked: nothing found\n", ""));
}

#[test]
fn what_cannot_run_exits_2_and_says_what_to_do() {
    let missing = keyon(&["check", "no_such.keyon"]);
    assert_eq!(missing.code, 2);
    assert!(missing.err.contains("`no_such.keyon`: there is no such file or folder"), "{}", missing.err);
    let empty = folder("check_empty");
    let ran = keyon_in(&empty, &["check", "."]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("no *.keyon file in"), "{}", ran.err);
    assert_eq!(keyon(&["check"]).code, 2);
    assert_eq!(keyon(&["check", SPRAYER, "--format", "yaml"]).code, 2);
    assert_eq!(keyon(&["chekc"]).code, 2);
    // One file that cannot be read does not hide the others.
    let both = keyon(&["check", "no_such.keyon", "corpus/rules/no-feed-path/wrong.keyon"]);
    assert_eq!(both.code, 2);
    assert!(both.out.contains("error[no-feed-path]"), "{}", both.out);
}

#[test]
fn libraries_are_found_beside_the_file_and_beside_standard_input() {
    let folder = folder("check_libraries");
    fs::create_dir(folder.join("parts")).unwrap();
    fs::write(folder.join("parts/p.keyon"), "part valve { pins 1, 2  \n  coil 24 ohm\n}\n").unwrap();
    let circuit = "circuit c\nuse \"parts/p.keyon\"\nsupply b 12 V\nground G\nfuse F b -> v.1 5 A\ndevice v : valve\nwire v.2 -> G\n";
    fs::write(folder.join("c.keyon"), circuit).unwrap();
    let parent = folder.parent().unwrap();
    let by_file = keyon_in(parent, &["check", "check_libraries/c.keyon", "--format", "json"]);
    assert!(!by_file.out.contains("unknown-name"), "{}", by_file.out);
    let name = folder.join("note.keyon");
    let ran = keyon_with(&["check", "-", "--stdin-name", name.to_str().unwrap()], circuit.as_bytes());
    assert!(!ran.out.contains("unknown-name"), "{}", ran.out);
    let lost = keyon_with(&["check", "-"], circuit.as_bytes());
    assert_eq!(lost.code, 1);
    assert!(lost.out.contains("parts/p.keyon"), "{}", lost.out);
}

#[test]
fn findings_in_a_shared_library_come_once() {
    let folder = folder("check_once");
    fs::write(folder.join("p.keyon"), "part valve { pins 1, 2\n  coil -24 ohm\n}\n").unwrap();
    let circuit = |n: u32| {
        format!(
            "circuit c{n}\nuse \"p.keyon\"\nsupply b 12 V\nground G\nfuse F b -> v.1 5 A\ndevice v : valve\nwire v.2 -> G\n"
        )
    };
    fs::write(folder.join("a.keyon"), circuit(1)).unwrap();
    fs::write(folder.join("b.keyon"), circuit(2)).unwrap();
    let ran = keyon_in(&folder, &["check", "a.keyon", "b.keyon", "--format", "json"]);
    let json = ran.json();
    let in_library: Vec<_> =
        json["findings"].as_array().unwrap().iter().filter(|f| f["file"] == "p.keyon").collect();
    assert_eq!(in_library.len(), 1, "{}", ran.out);
}

#[test]
fn bytes_that_are_not_utf8_are_reported_and_the_rest_is_read() {
    let folder = folder("check_bytes");
    let mut text = SOUND.as_bytes().to_vec();
    text.extend(b"# caf\xe9\nlamp x\xff\xfe\n");
    fs::write(folder.join("a.keyon"), text).unwrap();
    let ran = keyon_in(&folder, &["check", "a.keyon"]);
    assert_eq!(ran.code, 1, "{}{}", ran.out, ran.err);
    assert!(ran.out.contains("UTF-8"), "{}", ran.out);
}

#[test]
fn hidden_folders_are_passed_over_and_files_are_sorted() {
    let folder = folder("check_folders");
    for name in ["b", "a/z", ".git", "a"] {
        fs::create_dir_all(folder.join(name)).unwrap();
    }
    for name in ["b/1.keyon", "a/z/2.keyon", ".git/3.keyon", "a/4.keyon", "a/5.txt"] {
        fs::write(folder.join(name), NO_RETURN).unwrap();
    }
    let ran = keyon_in(&folder, &["check", ".", "--format", "json"]);
    let json = ran.json();
    let mut files: Vec<&str> =
        json["findings"].as_array().unwrap().iter().filter_map(|f| f["file"].as_str()).collect();
    files.dedup();
    assert_eq!(files, ["./a/4.keyon", "./a/z/2.keyon", "./b/1.keyon"]);
    assert!(keyon_in(&folder, &["check", "."]).out.contains("3 files checked"));
}

#[test]
fn the_level_that_fails_can_be_lowered() {
    let text =
        SOUND.replace("fuse F1  battery -> sw.1  5 A\n", "wire 9  battery -> sw.1  0.75 mm2  RD  0.2 m\n");
    let usual = keyon_with(&["check", "-"], text.as_bytes());
    assert_eq!(usual.code, 0, "{}", usual.out);
    assert!(usual.out.contains("warning["), "{}", usual.out);
    assert_eq!(keyon_with(&["check", "-", "--fail-on", "warning"], text.as_bytes()).code, 1);
}

#[test]
fn findings_read_well() {
    let ran = keyon_with(&["check", "-", "--stdin-name", "porch.keyon"], NO_RETURN.as_bytes());
    insta::assert_snapshot!(ran.out);
}
