use super::{BodyKind, ItemClass, Layout, ProblemKind, Role, layout};
use proptest::prelude::*;

/// Items and statements, indented by depth, each with the body it stands in; then the problems with their lines.
fn show(source: &str) -> String {
    use std::fmt::Write as _;
    let layout = layout(source);
    let mut out = String::new();
    for item in &layout.items {
        let class = match item.class {
            ItemClass::Word(word) => word,
            ItemClass::Stray => "(stray)",
            ItemClass::Junk => "(junk)",
        };
        let docs = item.docs.range().len();
        writeln!(out, "{class}{}", if docs == 0 { String::new() } else { format!(" +doc {docs}") }).unwrap();
        for s in layout.statements.get(item.statements.start as usize..item.statements.end as usize).unwrap()
        {
            let words: Vec<&str> = layout.significant(s.tokens).map(|t| t.text(source)).collect();
            let role = match s.role {
                Role::Plain => String::new(),
                role => format!("{role:?}: "),
            };
            let opens = s.opens.map_or(String::new(), |b| format!("   => {b:?}"));
            let doc = if s.docs.is_empty() { "" } else { "   +doc" };
            let broken = if s.broken { "   BROKEN" } else { "" };
            let pad = 2 * (s.depth as usize + 1);
            let within = if s.within == BodyKind::File { String::new() } else { format!("{:?}| ", s.within) };
            writeln!(out, "{:pad$}{within}{role}{}{opens}{doc}{broken}", "", words.join(" ")).unwrap();
        }
    }
    for p in &layout.problems {
        let at = layout.tokens[p.token as usize].span.start as usize;
        writeln!(out, "line {}: {:?} (item {})", source[..at].matches('\n').count() + 1, p.kind, p.item)
            .unwrap();
    }
    out
}

#[test]
fn statements_and_bodies() {
    insta::assert_snapshot!(show(
        r#"
## Key.
device key "Key switch" : key_switch   # why
wire 431  S12 ->   # goes on
  left_valve.1

allow unused-name "spare"
## Doc.
module SCU "Unit"
{
  connector A "12-way" {
    1 flap_a switches { bplus, gnd }   # no body
    ## sense
    9 level senses }
  gang g pwm 150 Hz { stop a gnd b gnd
    open a bplus }
}
thermistor T 2 kohm at 25 degC table { 0 degC 5 kohm, 25 degC 2 kohm
  50 degC 1 kohm } span 0 .. 50 degC
part p(a: resistance = 5 kohm,
  b: current) "P" { pins 1, 2 }
"#
    ));
}

#[test]
fn a_forgotten_bracket_costs_its_own_line_only() {
    insta::assert_snapshot!(show(
        r#"device K4 "Relay" {
  pins 30, 85, 86, 87
  coil K 85 -> 86 90 ohm
wire 431 a -> b
module SCU {
  connector A "12-way" {
    1 bplus feed
  connector B {
    7 vref reference 5 V
  }
}
device D {
  pins 1, 2
diode D1 drop 0.7 V
lamp L1 a -> b 10 W 12 V
wire 432 b -> c
part p(ends: resistance = 5 kohm "x" {
  pins 1, 2
  changeover 30 -> (rest 87a, active 87
  diode 1 -> 2 drop 0.7 V
  pins 5,
  diode 1 -> 2 drop 0.7 V
}
wire 433 a ->
wire 434 b -> c
device E {
pins 1, 2
diode D1 drop 0.7 V
}
scenario s { key run
"#
    ));
}

#[test]
fn junk_and_misspelt_heads() {
    insta::assert_snapshot!(show(
        "\
foo bar
12 V }
}
wire
wier 431 a -> b
Wire 432 a -> b; fuse F1
} wire 1 a -> b
device a { pins 1 } wire 2 b -> c
allow x \"y\"
pins 1, 2
## lost

## kept
# plain
ground G1
allow z
"
    ));
}

#[test]
fn columns_do_not_matter_in_sound_text() {
    insta::assert_snapshot!(show(
        "\
readings r in s {
lamp S12 bright
battery 12.3 V
}
module M {
connector A {
where \"left\"
1 a feed
face 2 x 6
}
moves
sealed
}
expect in s {
    ground fed
    wire open
}
"
    ));
}

/// What [`Layout`] promises whatever the text.
fn check(source: &str) -> Layout {
    let layout = layout(source);
    let (mut token, mut statement) = (0, 0);
    for item in &layout.items {
        assert!(
            item.tokens.start >= token && item.tokens.start < item.tokens.end,
            "items overlap: {source:?}"
        );
        token = item.tokens.end;
        assert_eq!(item.statements.start, statement, "a statement without item: {source:?}");
        statement = item.statements.end;
        let mut at = item.tokens.start;
        for s in &layout.statements[item.statements.start as usize..item.statements.end as usize] {
            assert!(s.tokens.start >= at && s.tokens.start < s.tokens.end, "statements overlap: {source:?}");
            at = s.tokens.end;
        }
        assert_eq!(at, item.tokens.end);
    }
    assert_eq!(statement as usize, layout.statements.len());
    // No significant token is lost.
    let inside: usize = layout.statements.iter().map(|s| layout.significant(s.tokens).count()).sum();
    let semicolons = layout.tokens.iter().filter(|t| t.text(source) == ";").count();
    // A `}` too many is no statement's, and is told.
    let needless = layout.problems.iter().filter(|p| p.kind == ProblemKind::CloseExtra).count();
    let lost = layout.tokens.iter().filter(|t| t.kind.is_significant()).count() - inside;
    assert!(lost <= semicolons + needless, "lost a token: {source:?}");
    for p in &layout.problems {
        assert!((p.item as usize) < layout.items.len(), "a problem of no item: {source:?} {p:?}");
    }
    let deep = layout.problems.iter().filter(|p| p.kind == ProblemKind::TooDeep).count();
    assert!(deep <= 1);
    layout
}

#[test]
fn depth_and_length_cost_no_more_than_they_weigh() {
    for text in [
        "device a {\n",
        "{",
        "(",
        "part p {\n diode d\ndiode e\n",
        "x switches {",
        "}\n",
        "wire a ->\n",
        "a {\n\n\n",
    ] {
        check(&text.repeat(20_000));
    }
    check(&format!("part p {{\n pins 1\n{}}}", "diode drop 0.7 V\n".repeat(20_000)));
    check(&format!("wire a -> b{}{{", "\n".repeat(50_000)));
}

#[test]
fn docs_above_an_allow_in_a_body_that_never_ends_stay_there() {
    insta::assert_snapshot!(show(
        "device d {\n## inside\nallow x\nmodule M {\n}\ndevice e {\n  allow x\n## of N\nmodule N {\n}\n"
    ));
    check("device d {\n## a\nallow x\n## b\nmodule M {");
}

proptest! {
    #[test]
    fn any_lines_make_a_layout(lines in prop::collection::vec(prop::sample::select(vec![
        "wire 1 a -> b", "device d {", "  pins 1, 2,", "}", "  connector A {", "module M {", "  1 x switches { a, b",
        "## doc", "allow x", "", "junk (", ")", "scenario s { a b", "diode 1 -> 2 drop 0.7 V", "; ;", "{", "  {", "# c",
        "thermistor t table {", "0 degC 1 ohm } span", "part p(a: b", "\tlamp x 1 W", "\"open {", "→", "a }  wire",
    ]), 0..30)) {
        check(&lines.join("\n"));
    }
}
