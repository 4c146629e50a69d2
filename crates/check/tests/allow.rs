//! `allow`: what it silences, and when it is itself a finding.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use keyon_check::check;
use keyon_circuit::{Source, World};
use std::sync::Arc;

struct NoFiles;

impl World for NoFiles {
    fn library(&self, _: &str, _: &str) -> Option<Source> {
        None
    }
}

/// Line, rule and message of each finding.
fn findings(text: &str) -> Vec<(usize, &'static str, String)> {
    let source =
        Source { key: "test.keyon".into(), text: text.into(), parse: Arc::new(keyon_syntax::parse(text)) };
    let checked = check(&NoFiles, &source, &keyon_solve::Never).unwrap();
    let line = |f: &keyon_check::Finding| {
        text[..checked.elaboration.span(f.loc).start as usize].matches('\n').count() + 1
    };
    checked.findings.iter().map(|f| (line(f), f.rule, f.message.clone())).collect()
}

fn rules(text: &str) -> Vec<(usize, &'static str)> {
    findings(text).into_iter().map(|(line, rule, _)| (line, rule)).collect()
}

const UNFUSED: &str = "\
circuit lamp \"Test lamp\"
supply battery 12.6 V
ground G1
switch lamp_switch battery -> work.1
lamp work \"Work lamp\" 21 W 12 V
wire 1 work.2 -> G1 1.0 mm2 BK 1.0 m
";

fn with(line: &str) -> String {
    UNFUSED.replace("lamp work", &format!("{line}\nlamp work"))
}

#[test]
fn silences_the_rule_on_the_next_item_alone() {
    assert_eq!(rules(UNFUSED), [(5, "unfused-feed")]);
    assert_eq!(rules(&with("allow unfused-feed \"bench set-up, 2 A supply\"")), []);
    let elsewhere = UNFUSED.replace("ground G1", "allow unfused-feed \"bench\"\nground G1");
    assert_eq!(rules(&elsewhere), [(3, "unused-allow"), (6, "unfused-feed")]);
}

#[test]
fn without_a_reason_it_silences_and_is_reported() {
    assert_eq!(rules(&with("allow unfused-feed")), [(5, "unused-allow")]);
    assert_eq!(rules(&with("allow unfused-feed \" \"")), [(5, "unused-allow")]);
}

#[test]
fn a_misspelt_rule_is_named() {
    let found = findings(&with("allow unfused-feeds \"bench\""));
    assert_eq!(found.len(), 2, "{found:?}");
    assert_eq!((found[0].0, found[0].1), (5, "unused-allow"));
    let source = with("allow unfused-feeds \"bench\"");
    let parsed = Source {
        key: "t".into(),
        text: source.as_str().into(),
        parse: Arc::new(keyon_syntax::parse(&source)),
    };
    let checked = check(&NoFiles, &parsed, &keyon_solve::Never).unwrap();
    assert_eq!(checked.findings[0].help.as_deref(), Some("did you mean `unfused-feed`?"));
    assert_eq!(checked.findings[0].fixes[0].edits[0].1, "unfused-feed");
}

#[test]
fn a_second_one_for_the_same_finding_is_useless() {
    let twice = with("allow unfused-feed \"bench\"\nallow unfused-feed \"bench again\"");
    assert_eq!(rules(&twice), [(6, "unused-allow")]);
}

#[test]
fn what_an_error_holds_back_is_not_called_useless() {
    // The lamp hangs on a misspelt point, so that nothing is said of its feed; the `allow` may be right all the same.
    let text = with("allow unfused-feed \"bench\"").replace("battery -> work.1", "batery -> work.1");
    assert_eq!(rules(&text).iter().map(|(_, rule)| *rule).collect::<Vec<_>>(), ["unknown-name"]);
}

#[test]
fn neither_syntax_nor_allow_itself_can_be_silenced() {
    let text = with("allow unused-allow \"why not\"");
    assert_eq!(rules(&text), [(5, "unused-allow"), (6, "unfused-feed")]);
}
