//! `keyon.toml` as `keyon check` finds it.

use crate::common::*;
use std::fs;

/// A lamp that is fed without a fuse: a warning, `unfused-feed`.
fn unfused() -> String {
    SOUND.replace("fuse F1  battery -> sw.1  5 A\n", "wire 9  battery -> sw.1  0.75 mm2  RD  0.2 m\n")
}

#[test]
fn the_nearest_file_above_each_circuit_holds() {
    let folder = folder("lint_settings");
    for at in ["a", "b/c", "legacy"] {
        fs::create_dir_all(folder.join(at)).unwrap();
        fs::write(folder.join(at).join("porch.keyon"), unfused()).unwrap();
    }
    fs::write(
        folder.join("keyon.toml"),
        "[rules]\nunfused-feed = \"error\"\n[[override]]\npaths = [\"legacy\"]\nrules.unfused-feed = \"off\"\n",
    )
    .unwrap();
    fs::write(folder.join("b/keyon.toml"), "[rules]\nunfused-feed = \"hint\"\n").unwrap();
    let ran = keyon_in(&folder, &["check", ".", "--format", "json"]);
    let json = ran.json();
    let found: Vec<(&str, &str)> = json["findings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|f| (f["file"].as_str().unwrap(), f["level"].as_str().unwrap()))
        .collect();
    assert_eq!(found, [("./a/porch.keyon", "error"), ("./b/c/porch.keyon", "hint")]);
    assert_eq!(ran.code, 1);
    // From elsewhere, by standard input: the same settings.
    let name = folder.join("a/new.keyon");
    let args = ["check", "-", "--stdin-name", name.to_str().unwrap()];
    assert!(keyon_with(&args, unfused().as_bytes()).out.contains("error[unfused-feed]"));
}

#[test]
fn a_mistake_is_a_finding_at_its_place() {
    let folder = folder("lint_mistake");
    fs::write(folder.join("porch.keyon"), SOUND).unwrap();
    fs::write(folder.join("keyon.toml"), "# ä\n[rules]\nunfused-fed = \"error\"\n").unwrap();
    let ran = keyon_in(&folder, &["check", "porch.keyon"]);
    assert_eq!(ran.code, 1);
    insta::assert_snapshot!(ran.out);
    let sarif = keyon_in(&folder, &["check", "porch.keyon", "--format", "sarif"]).json();
    let result = &sarif["runs"][0]["results"][0];
    assert_eq!(result["ruleId"], "settings");
    assert_eq!(result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"], "keyon.toml");
}

#[test]
fn excluded_files_are_passed_over_in_folders_only() {
    let folder = folder("lint_exclude");
    fs::create_dir(folder.join("wrong")).unwrap();
    fs::write(folder.join("wrong/a.keyon"), NO_RETURN).unwrap();
    fs::write(folder.join("porch.keyon"), SOUND).unwrap();
    fs::write(folder.join("keyon.toml"), "exclude = [\"wrong/**\"]\n").unwrap();
    assert_eq!(keyon_in(&folder, &["check", "."]).out, "1 file checked: nothing found\n");
    let all_out = keyon_in(&folder, &["check", "wrong"]);
    assert_eq!(
        (all_out.code, all_out.out.as_str()),
        (0, "0 files checked: nothing found\n"),
        "{}",
        all_out.err
    );
    assert_eq!(keyon_in(&folder, &["check", "wrong/a.keyon"]).code, 1);
}

#[test]
fn conflicts_across_files_obey_settings_and_allow() {
    let folder = folder("lint_conflicts");
    for name in ["other.keyon", "wrong.keyon"] {
        fs::copy(root().join("corpus/rules/cavity-conflict").join(name), folder.join(name)).unwrap();
    }
    let told = || keyon_in(&folder, &["check", "."]).out;
    assert!(told().contains("wrong.keyon:14:"), "{}", told());
    assert!(told().contains("in ./other.keyon, line"), "{}", told());
    fs::write(folder.join("keyon.toml"), "rules.cavity-conflict = \"off\"\n").unwrap();
    assert_eq!(told(), "2 files checked: nothing found\n");
    fs::remove_file(folder.join("keyon.toml")).unwrap();
    let wrong = fs::read_to_string(folder.join("wrong.keyon")).unwrap();
    let allowed = wrong.replace("module VCU", "allow cavity-conflict \"the second build\"\nmodule VCU");
    fs::write(folder.join("wrong.keyon"), allowed).unwrap();
    assert_eq!(told(), "2 files checked: nothing found\n");
}
