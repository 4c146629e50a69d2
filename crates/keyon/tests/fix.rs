//! `keyon check --fix` and `--diff`.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod common;

use common::*;
use std::fs;

/// A slip of the pen on line 4 and an unused splice on line 7.
const SLIPS: &str = "\
circuit porch \"Porch lamp\"
supply battery  12.6 V
ground G1
fuse F1  battery -> sw.1  5 a
switch sw \"Porch switch\"
lamp porch \"Porch lamp\" sw.2 -> G1 5 W 12 V
splice S9
";

#[test]
fn safe_fixes_are_made_and_the_rest_is_reported() {
    let folder = folder("fix_safe");
    let file = folder.join("porch.keyon");
    fs::write(&file, SLIPS).unwrap();
    let ran = keyon_in(&folder, &["check", "--fix", "porch.keyon"]);
    assert_eq!(ran.code, 0, "{}", ran.out);
    assert_eq!(fs::read_to_string(&file).unwrap(), SLIPS.replace("5 a", "5 A"));
    assert!(ran.err.contains("porch.keyon:4: syntax: write `A`"), "{}", ran.err);
    assert!(ran.out.contains("warning[unused-name]") && !ran.out.contains("error["), "{}", ran.out);
    let left: Vec<_> = fs::read_dir(&folder).unwrap().map(|f| f.unwrap().file_name()).collect();
    assert_eq!(left, ["porch.keyon"], "nothing is left beside it");
}

#[test]
fn all_fixes_are_made_only_when_asked_for() {
    let folder = folder("fix_all");
    let file = folder.join("porch.keyon");
    // A byte order mark and the line ends of other systems stay.
    let dos = format!("\u{feff}{}", SLIPS.replace('\n', "\r\n"));
    fs::write(&file, &dos).unwrap();
    let ran = keyon_in(&folder, &["check", "--fix=all", "porch.keyon", "--format", "json"]);
    assert_eq!(ran.code, 0, "{}", ran.out);
    assert_eq!(ran.json()["findings"].as_array().unwrap().len(), 0);
    let expected = dos.replace("5 a", "5 A").replace("splice S9\r\n", "");
    assert_eq!(fs::read_to_string(&file).unwrap(), expected);
}

#[test]
fn a_diff_changes_nothing() {
    let folder = folder("fix_diff");
    let file = folder.join("porch.keyon");
    fs::write(&file, SLIPS).unwrap();
    let ran = keyon_in(&folder, &["check", "--fix=all", "--diff", "porch.keyon"]);
    assert_eq!((ran.code, ran.err.as_str()), (1, ""));
    insta::assert_snapshot!(ran.out);
    assert_eq!(fs::read_to_string(&file).unwrap(), SLIPS);
    fs::write(&file, SOUND).unwrap();
    let ran = keyon_in(&folder, &["check", "--diff", "porch.keyon"]);
    assert_eq!((ran.code, ran.out.as_str()), (0, ""));
}

#[test]
fn standard_input_is_shown_and_never_mended() {
    let ran = keyon_with(&["check", "--diff", "-", "--stdin-name", "notes/porch.keyon"], SLIPS.as_bytes());
    assert_eq!(ran.code, 1);
    assert!(ran.out.starts_with("--- notes/porch.keyon\n+++ notes/porch.keyon\n"), "{}", ran.out);
    let ran = keyon_with(&["check", "--fix", "-"], SLIPS.as_bytes());
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("use `--diff`"), "{}", ran.err);
}

/// A library is mended only where it is named as well.
#[test]
fn libraries_are_mended_where_they_are_named() {
    let folder = folder("fix_library");
    let part = "part porch_lamp \"Porch lamp\" {\n  pins 1, 2\n  lamp 1 -> 2 5 w 12 V\n}\n";
    let circuit = "\
circuit porch \"Porch lamp\"
use \"parts.keyon\"
supply battery  12.6 V
ground G1
fuse F1  battery -> sw.1  5 A
switch sw \"Porch switch\"
device porch : porch_lamp
wire 1 sw.2 -> porch.1 0.75 mm2 RD 1 m
wire 2 porch.2 -> G1 0.75 mm2 BK 1 m
";
    fs::write(folder.join("parts.keyon"), part).unwrap();
    fs::write(folder.join("porch.keyon"), circuit).unwrap();
    let ran = keyon_in(&folder, &["check", "--fix", "porch.keyon"]);
    assert_eq!(ran.code, 1, "{}", ran.out);
    assert_eq!(fs::read_to_string(folder.join("parts.keyon")).unwrap(), part);
    let ran = keyon_in(&folder, &["check", "--fix", "."]);
    assert_eq!(ran.code, 0, "{}", ran.out);
    assert_eq!(fs::read_to_string(folder.join("parts.keyon")).unwrap(), part.replace("5 w", "5 W"));
}

#[test]
fn what_is_not_utf_8_is_left_alone() {
    let folder = folder("fix_bytes");
    let file = folder.join("porch.keyon");
    let mut bytes = SLIPS.replace("Porch switch", "Porch X").into_bytes();
    let at = bytes.iter().position(|b| *b == b'X').unwrap();
    bytes[at] = 0xe9;
    fs::write(&file, &bytes).unwrap();
    let ran = keyon_in(&folder, &["check", "--fix", "porch.keyon"]);
    assert_eq!(ran.code, 2, "{}", ran.err);
    assert!(ran.err.contains("not UTF-8"), "{}", ran.err);
    assert_eq!(fs::read(&file).unwrap(), bytes);
}
