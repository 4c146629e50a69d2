//! What is printed for programs. The schemas of SARIF and JUnit are checked from outside, in `tests/formats`.

use crate::common::*;
use serde_json::Value;
use std::fs;

/// A lamp without a return, with a file name that has to be encoded.
fn odd_folder(name: &str) -> std::path::PathBuf {
    let folder = folder(name);
    fs::create_dir(folder.join("größe #1")).unwrap();
    fs::write(folder.join("größe #1/a,b:c.keyon"), NO_RETURN).unwrap();
    folder
}

#[test]
fn sarif_has_relative_encoded_places_and_fingerprints_that_survive_shifts() {
    let folder = odd_folder("lint_sarif");
    let ran = keyon_in(&folder, &["check", ".", "--format", "sarif"]);
    assert_eq!(ran.code, 1, "{}", ran.err);
    let log = ran.json();
    let run = &log["runs"][0];
    assert_eq!(run["columnKind"], "unicodeCodePoints");
    assert_eq!(run["invocations"][0]["exitCode"], 1);
    let of = |log: &Value| -> Vec<Value> { log["runs"][0]["results"].as_array().unwrap().clone() };
    let results = of(&log);
    let result = results.iter().find(|r| r["ruleId"] == "no-return-path").unwrap();
    let place = &result["locations"][0]["physicalLocation"];
    assert_eq!(place["artifactLocation"]["uri"], "gr%C3%B6%C3%9Fe%20%231/a%2Cb%3Ac.keyon");
    assert_eq!(place["region"]["startLine"], 7);
    let rules = run["tool"]["driver"]["rules"].as_array().unwrap();
    let rule = &rules[result["ruleIndex"].as_u64().unwrap() as usize];
    assert_eq!(rule["id"], "no-return-path");
    assert!(rule["help"]["markdown"].as_str().unwrap().contains("```keyon"));
    assert_eq!(rule["helpUri"], "urn:keyon:rule:no-return-path");

    // Blank lines, a comment, other blanks within the line: the same finding.
    let shifted = format!("# a comment\n\n\n{}", NO_RETURN.replace("lamp porch ", "lamp    porch   "));
    fs::write(folder.join("größe #1/a,b:c.keyon"), shifted).unwrap();
    let again = of(&keyon_in(&folder, &["check", ".", "--format", "sarif"]).json());
    let prints = |results: &[Value]| -> Vec<Value> {
        results.iter().map(|r| r["partialFingerprints"].clone()).collect()
    };
    assert_eq!(prints(&results), prints(&again));
    assert_ne!(results[0]["locations"], again[0]["locations"]);
}

#[test]
fn sarif_carries_fixes_and_related_places() {
    let folder = folder("lint_sarif_fix");
    fs::write(folder.join("a.keyon"), SOUND.replace("fuse F1", "fuse F1  ").replace("sw.2 ->", "sww.2 ->"))
        .unwrap();
    fs::write(folder.join("b.keyon"), format!("{SOUND}ground G1\n")).unwrap();
    let log = keyon_in(&folder, &["check", ".", "--format", "sarif"]).json();
    let results = log["runs"][0]["results"].as_array().unwrap();
    let unknown = results.iter().find(|r| r["ruleId"] == "unknown-name").unwrap();
    let change = &unknown["fixes"][0]["artifactChanges"][0];
    assert_eq!(change["artifactLocation"]["uri"], "a.keyon");
    assert_eq!(change["replacements"][0]["insertedContent"]["text"], "sw.2");
    let twice = results.iter().find(|r| r["ruleId"] == "duplicate-name").unwrap();
    assert_eq!(twice["relatedLocations"][0]["physicalLocation"]["region"]["startLine"], 3);
    assert_eq!(twice["relatedLocations"][0]["id"], 0);
}

#[test]
fn a_file_that_cannot_be_read_is_in_every_report() {
    let sarif = keyon(&["check", "no_such.keyon", SPRAYER, "--format", "sarif"]);
    assert_eq!(sarif.code, 2);
    let invocation = &sarif.json()["runs"][0]["invocations"][0];
    assert_eq!(invocation["executionSuccessful"], false);
    assert!(
        invocation["toolExecutionNotifications"][0]["message"]["text"].as_str().unwrap().contains("no_such")
    );
    let junit = keyon(&["check", "no_such.keyon", SPRAYER, "--format", "junit"]);
    assert_eq!(junit.code, 2);
    assert!(junit.out.contains("errors=\"1\"") && junit.out.contains("no_such.keyon"), "{}", junit.out);
    assert!(junit.out.contains("name=\"orchard_sprayer/spraying/mid_valve\""), "{}", junit.out);
    let github = keyon(&["check", "no_such.keyon", "--format", "github"]);
    assert!(github.out.starts_with("::error title=keyon::cannot read"), "{}", github.out);
}

#[test]
fn junit_has_a_case_for_each_expectation() {
    let text = SOUND.replace("porch operates }", "porch operates\n  porch.1 above 13 V\n  sw rests }");
    let folder = folder("lint_junit");
    fs::write(folder.join("porch.keyon"), text).unwrap();
    let ran = keyon_in(&folder, &["check", "porch.keyon", "--format", "junit"]);
    assert_eq!(ran.code, 1);
    insta::assert_snapshot!(ran.out);
}

#[test]
fn github_commands_name_the_place() {
    let folder = odd_folder("lint_github");
    let ran = keyon_in(&folder, &["check", ".", "--format", "github"]);
    assert_eq!(ran.code, 1);
    assert!(
        ran.out.contains(
            "::error file=größe #1/a%2Cb%3Ac.keyon,line=7,endLine=7,col=6,endColumn=10,title=no-return-path::"
        ),
        "{}",
        ran.out
    );
}

#[test]
fn every_format_is_the_same_bytes_each_time_with_any_number_of_threads() {
    for format in ["text", "json", "sarif", "junit", "github"] {
        let with = |jobs: &str| {
            let args = ["check", "corpus/rules", "--format", format, "--no-cache", "--jobs", jobs];
            keyon(&[&args[..], &["--quiet"]].concat())
        };
        let one = with("1");
        assert_eq!(one.out, with("4").out, "{format}");
        assert!(!one.out.is_empty());
    }
}

#[test]
fn quiet_tells_only_what_fails() {
    let warned =
        SOUND.replace("fuse F1  battery -> sw.1  5 A\n", "wire 9  battery -> sw.1  0.75 mm2  RD  0.2 m\n");
    let ran = keyon_with(&["check", "-", "--quiet"], warned.as_bytes());
    assert_eq!((ran.code, ran.out.as_str()), (0, ""));
    let ran = keyon_with(&["check", "-", "-q", "--strict"], warned.as_bytes());
    assert_eq!(ran.code, 1);
    assert!(ran.out.contains("warning[unfused-feed]") && !ran.out.contains("checked"), "{}", ran.out);
    assert_eq!(keyon(&["check", "-", "--strict", "--fail-on", "hint"]).code, 2);
}

#[test]
fn statistics_count_by_rule() {
    let args = [
        "check",
        "corpus/rules/unknown-name",
        "corpus/rules/no-feed-path",
        "--statistics",
        "--format",
        "json",
    ];
    let ran = keyon(&args);
    let statistics = &ran.json()["statistics"];
    assert!(statistics["files"].as_u64().unwrap() > 3);
    let rules = statistics["rules"].as_array().unwrap();
    let count = |name: &str| rules.iter().find(|r| r["rule"] == name).map(|r| r["count"].as_u64().unwrap());
    assert!(count("unknown-name") >= Some(1) && count("no-feed-path") >= Some(1), "{statistics}");
    assert!(statistics.get("slowest_files").is_none());
    let timed = keyon(&["check", "corpus/rules/unknown-name", "--slowest=2", "--format", "json"]).json();
    assert_eq!(timed["statistics"]["slowest_files"].as_array().unwrap().len(), 2);
    assert_eq!(timed["statistics"]["slowest_rules"].as_array().unwrap().len(), 2);
}
