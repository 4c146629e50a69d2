//! `keyon compare`: files, folders, commits.

use crate::{common::*, since::git};
use std::fs;

/// Two circuits that use one part, and one that does not.
fn library(name: &str) -> std::path::PathBuf {
    let folder = folder(name);
    fs::create_dir(folder.join("parts")).unwrap();
    fs::create_dir(folder.join("circuits")).unwrap();
    fs::write(
        folder.join("parts/p.keyon"),
        "part valve(coil: resistance = 24 ohm) { pins 1, 2\n  coil coil\n}\n",
    )
    .unwrap();
    for (circuit, expected) in [("mild", "0.3 .. 0.9 A"), ("strict", "0.50 .. 0.55 A")] {
        let text = format!(
            "circuit {circuit}\nuse \"../parts/p.keyon\"\nsupply b 12.6 V\nground G\nfuse F b -> sw.1 5 A\nswitch sw\n\
             device v : valve\nwire 1 sw.2 -> v.1 1 mm2 RD 1 m\nwire 2 v.2 -> G 1 mm2 BK 1 m\nscenario on {{ sw on }}\n\
             expect in on {{ F {expected} }}\n\
             exercise dead \"No water\" in on {{\n  fault open 1\n  symptom v rests\n  ask volts v.1\n}}\n"
        );
        fs::write(folder.join("circuits").join(format!("{circuit}.keyon")), text).unwrap();
    }
    fs::write(folder.join("circuits/other.keyon"), SOUND).unwrap();
    folder
}

fn stronger(folder: &std::path::Path) {
    let part = folder.join("parts/p.keyon");
    let text = fs::read_to_string(&part).unwrap().replace("24 ohm", "20 ohm");
    fs::write(part, text).unwrap();
}

#[test]
fn folders_are_compared_file_by_file() {
    let (old, new) = (library("lint_compare_old"), library("lint_compare_new"));
    stronger(&new);
    let args = ["compare", old.to_str().unwrap(), new.to_str().unwrap()];
    let ran = keyon(&args);
    assert_eq!(ran.code, 1, "an expectation fails now: {}{}", ran.out, ran.err);
    let named = ran.out.replace(old.to_str().unwrap(), "OLD").replace(new.to_str().unwrap(), "NEW");
    insta::assert_snapshot!(named);
    let markdown = keyon(&[&args[..], &["--format", "markdown"]].concat());
    insta::assert_snapshot!(
        markdown.out.replace(old.to_str().unwrap(), "OLD").replace(new.to_str().unwrap(), "NEW")
    );
    let json = keyon(&[&args[..], &["--format", "json"]].concat()).json();
    assert_eq!(json["worse"], true);
    assert_eq!(json["untouched"], serde_json::json!(["circuits/other.keyon"]));
    let circuits = json["circuits"].as_array().unwrap();
    assert_eq!(circuits.len(), 2);
    let amps = circuits[0]["states"][0]["readings"]
        .as_array()
        .unwrap()
        .iter()
        .find(|r| r["kind"] == "fuse")
        .unwrap();
    let number = |value: &serde_json::Value| value["amps"].as_f64().unwrap();
    assert!((number(&amps["new"]) / number(&amps["old"]) - 1.2).abs() < 0.01, "{amps}");
    // The other way round nothing gets worse.
    assert_eq!(keyon(&["compare", args[2], args[1]]).code, 0);
    assert_eq!(keyon(&["compare", args[1], args[1]]).out.lines().count(), 1);
}

#[test]
fn commits_are_compared_with_each_other_and_with_the_files_as_they_are() {
    let folder = library("lint_compare_git");
    git(&folder, &["init", "-q", "-b", "main"]);
    git(&folder, &["add", "-A"]);
    git(&folder, &["commit", "-q", "-m", "first"]);
    stronger(&folder);
    let unsaved = keyon_in(&folder, &["compare", "main", "--format", "json"]);
    assert_eq!(unsaved.code, 1, "{}", unsaved.err);
    git(&folder, &["checkout", "-q", "-b", "next"]);
    fs::rename(folder.join("circuits/other.keyon"), folder.join("circuits/porch.keyon")).unwrap();
    fs::write(folder.join("circuits/fresh.keyon"), SOUND.replace("circuit porch", "circuit fresh")).unwrap();
    git(&folder, &["add", "-A"]);
    git(&folder, &["commit", "-q", "-m", "second"]);
    let ran = keyon_in(&folder, &["compare", "main..next", "--format", "json"]);
    let json = ran.json();
    assert_eq!(json["added"], serde_json::json!(["circuits/fresh.keyon"]));
    assert_eq!(json["removed"], serde_json::json!([]));
    let moved = json["circuits"].as_array().unwrap().iter().find(|c| c["circuit"] == "porch").unwrap();
    assert_eq!(
        (&moved["moved_from"], &moved["states"]),
        (&"circuits/other.keyon".into(), &serde_json::json!([]))
    );
    assert_eq!(json["circuits"].as_array().unwrap().len(), 3);
    // From a folder below, and only what is in it.
    let below =
        keyon_in(&folder.join("parts"), &["compare", "main..next", "--only", ".", "--format", "json"]);
    assert_eq!(below.json()["circuits"], serde_json::json!([]));
    let one =
        keyon_in(&folder, &["compare", "main", "next", "--only", "circuits/mild.keyon", "--format", "json"]);
    assert_eq!(one.json()["circuits"].as_array().unwrap().len(), 1, "{}", one.out);
    // The same bytes each time.
    assert_eq!(ran.out, keyon_in(&folder, &["compare", "main..next", "--format", "json"]).out);
}

#[test]
fn files_are_compared_whatever_they_are_called() {
    let folder = folder("lint_compare_files");
    fs::write(folder.join("a.keyon"), SOUND).unwrap();
    fs::write(folder.join("b.keyon"), NO_RETURN).unwrap();
    let ran = keyon_in(&folder, &["compare", "a.keyon", "b.keyon", "--format", "json"]);
    assert_eq!(ran.code, 1, "{}", ran.err);
    let json = ran.json();
    let circuit = &json["circuits"][0];
    assert_eq!(circuit["moved_from"], serde_json::Value::Null);
    assert_eq!(circuit["states_removed"], serde_json::json!(["lit"]));
    assert_eq!(circuit["table"][0]["device"], "porch");
    assert_eq!(circuit["table"][0]["when"], serde_json::json!({"sw": "on"}));
    assert!(circuit["findings_new"].as_array().unwrap().iter().any(|f| f["rule"] == "no-return-path"));
}

#[test]
fn settings_are_part_of_what_an_answer_comes_from() {
    let (old, new) = (library("lint_compare_settings_a"), library("lint_compare_settings_b"));
    fs::write(new.join("keyon.toml"), "rules.missing-gauge = \"off\"\n").unwrap();
    let ran = keyon(&["compare", old.to_str().unwrap(), new.to_str().unwrap(), "--format", "json"]);
    assert_eq!(ran.json()["untouched"], serde_json::json!([]));
    assert_eq!(ran.code, 0);
}

#[test]
fn what_cannot_be_compared_is_said() {
    let folder = library("lint_compare_wrong");
    let said = |args: &[&str]| {
        let ran = keyon_in(&folder, &[&["compare"], args].concat());
        assert_eq!(ran.code, 2, "{args:?}: {}", ran.out);
        ran.err
    };
    assert!(said(&["circuits"]).contains("name the other version too"));
    assert!(said(&["circuits", "circuits/mild.keyon"]).contains("with a single file"));
    git(&folder, &["init", "-q", "-b", "main"]);
    assert!(said(&["no-such..main"]).contains("git knows no commit `no-such`"));
    assert!(said(&["a...b"]).contains("with two points"));
}
