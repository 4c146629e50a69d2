//! `keyon.toml`: what it changes, and what is said of its mistakes.

#![allow(clippy::unwrap_used)]

use keyon_check::{Finding, Level, Run, Settings, check_with, settings::Config};
use keyon_circuit::{Source, World};
use std::{fmt::Write, sync::Arc};

struct NoFiles;

impl World for NoFiles {
    fn library(&self, _: &str, _: &str) -> Option<Source> {
        None
    }
}

/// Each mistake below its line, marked.
fn shown(text: &str) -> String {
    let mut out = String::new();
    for mistake in Config::parse(text).1 {
        let start = mistake.span.start as usize;
        let line_start = text[..start].rfind('\n').map_or(0, |at| at + 1);
        let line = text[line_start..].lines().next().unwrap_or_default();
        let marked = text[start..mistake.span.end as usize].lines().next().unwrap_or_default();
        let lead = " ".repeat(text[line_start..start].chars().count());
        let _ =
            writeln!(out, "{line}\n{lead}{} {}", "^".repeat(marked.chars().count().max(1)), mistake.message);
        if let Some(help) = mistake.help {
            let _ = writeln!(out, "{lead}  help: {help}");
        }
    }
    out
}

#[test]
fn mistakes_are_told_at_their_places() {
    insta::assert_snapshot!(shown(
        r#"exclud = ["a"]
manual = "rules"
exclude = ["/etc/**", 3]
fuses = ["5 A", "5 V"]
nonsense = 1

[rules]
voltage-drp = "error"
voltage-drop = "eror"
sneak-path = true
syntax = "off"
exclude = ["x"]

[limits]
voltage-drop = 3
key-off-draw = "50 mV"
ground-offset = "50 mv"
fuse-load = "150 %"
ambient = "105 degC"
voltagedrop = "3 %"

[ampacity]
"0.75 mm2" = "14 A"
"1.0 mm2" = "12 A"
"AWG x" = "1 A"
"1 V" = "1 A"
"2 mm2" = "0 A"

[[override]]
paths = "legacy"
rule = { voltage-drop = "off" }

[[override]]
limits = { ambient = "200 degC" }
"#
    ));
}

#[test]
fn text_that_is_no_toml_is_told_and_the_rest_is_read() {
    let text = "[rules\nvoltage-drop = \"off\"\n";
    assert!(!Config::parse(text).1.is_empty());
    let text = "[rules]\nvoltage-drop = \"off\"\nsneak-path = \n";
    let (config, mistakes) = Config::parse(text);
    assert_eq!(mistakes.len(), 1, "{mistakes:?}");
    assert!(config.settings(&[]).is_off("voltage-drop"));
    insta::assert_snapshot!(shown("a = 'x\nb = 1 2\n[x\n[rules]\n[rules]\n"));
}

#[test]
fn hostile_texts_come_to_an_end() {
    for text in [
        "[".repeat(100_000),
        format!("a = {}", "[".repeat(100_000)),
        format!("a = {}", "{b = ".repeat(50_000)),
        "a.".repeat(50_000),
        "\u{feff}[rules]\n".to_owned(),
        "\0\u{fffd}".repeat(1000),
    ] {
        let _ = Config::parse(&text);
    }
    assert_eq!(Config::parse("\u{feff}[rules]\nvoltage-drop = \"off\"\n").1, []);
    assert_eq!(Config::parse("").1, []);
}

const UNFUSED: &str = "\
circuit lamp \"Test lamp\"
supply battery 12.6 V
ground G1
switch lamp_switch battery -> work.1
lamp work \"Work lamp\" 21 W 12 V
wire 1 work.2 -> G1 1.0 mm2 BK 1.0 m
";

fn source(text: &str) -> Source {
    Source { key: "test.keyon".into(), text: text.into(), parse: Arc::new(keyon_syntax::parse(text)) }
}

fn with(toml: &str, text: &str) -> Vec<Finding> {
    let (config, mistakes) = Config::parse(toml);
    assert_eq!(mistakes, []);
    check_with(&NoFiles, &source(text), &config.settings(&[]), &keyon_solve::Never).unwrap().findings
}

fn rules(findings: &[Finding]) -> Vec<(&str, Level)> {
    findings.iter().map(|f| (f.rule, f.level)).collect()
}

#[test]
fn a_level_is_that_of_the_settings() {
    assert_eq!(rules(&with("", UNFUSED)), [("unfused-feed", Level::Warning)]);
    assert_eq!(rules(&with("rules.unfused-feed = \"error\"", UNFUSED)), [("unfused-feed", Level::Error)]);
    assert_eq!(rules(&with("rules.unfused-feed = \"off\"", UNFUSED)), []);
}

#[test]
fn an_allow_for_a_rule_that_is_off_is_not_called_useless() {
    let text = UNFUSED.replace("lamp work", "allow unfused-feed \"bench\"\nlamp work");
    assert_eq!(rules(&with("rules.unfused-feed = \"off\"", &text)), []);
    let fused = text.replace(
        "switch lamp_switch battery",
        "fuse F1 battery -> lamp_switch.1 5 A\nswitch lamp_switch lamp_switch.1",
    );
    assert!(rules(&with("", &fused)).iter().any(|f| f.0 == "unused-allow"), "{:?}", with("", &fused));
    assert!(!rules(&with("rules.unfused-feed = \"off\"", &fused)).iter().any(|f| f.0 == "unused-allow"));
}

#[test]
fn limits_move_the_threshold() {
    // 1.75 A through 0.02 ohm of wire: about 35 mV, 0.3 %.
    assert!(with("", UNFUSED).iter().all(|f| f.rule != "voltage-drop"));
    let strict = with("limits.voltage-drop = \"0.1 %\"", UNFUSED);
    assert!(strict.iter().any(|f| f.rule == "voltage-drop"), "{strict:?}");
    assert!(with("ampacity.\"1 mm2\" = \"1 A\"", UNFUSED).iter().any(|f| f.rule == "thin-wire"));
    let hot = "[limits]\nambient = \"104.9 degC\"\n";
    assert!(with(hot, UNFUSED).iter().any(|f| f.rule == "thin-wire"));
}

#[test]
fn a_library_has_its_own_levels() {
    struct One;
    impl World for One {
        fn library(&self, _: &str, path: &str) -> Option<Source> {
            let text = "part valve { pins 1, 2\n  coil -24 ohm\n}\n";
            Some(Source { key: path.into(), text: text.into(), parse: Arc::new(keyon_syntax::parse(text)) })
        }
    }
    let text = "circuit c\nuse \"p.keyon\"\nsupply b 12 V\nground G\nfuse F b -> v.1 5 A\ndevice v : valve\nwire v.2 -> G\n";
    let elaboration = keyon_circuit::elaborate(&One, &source(text));
    let off = Config::parse("rules.impossible-value = \"off\"").0.settings(&[]);
    let usual = Settings::default();
    let told = |settings: &[&Settings]| {
        let run = Run {
            settings,
            expectations: true,
            memo: None,
            done: None,
            threads: 1,
            cancel: &keyon_solve::Never,
        };
        run.report(&elaboration).unwrap().findings.iter().filter(|f| f.rule == "impossible-value").count()
    };
    assert_eq!(told(&[&usual, &usual]), 1);
    assert_eq!(told(&[&usual, &off]), 0);
    assert_eq!(told(&[&off, &usual]), 1);
    assert_eq!(told(&[&off]), 0);
}
