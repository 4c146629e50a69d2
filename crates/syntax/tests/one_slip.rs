//! One slip costs one finding, and the rest is read as it was meant.
#![allow(missing_docs, clippy::unwrap_used)]

use keyon_syntax::{
    lexer::{TokenKind, tokens},
    parse,
    tree::ItemKind,
};

const CIRCUIT: &str = include_str!("../../../corpus/circuits/first_lamp.keyon");
const LARGE: &str = include_str!("../../../corpus/circuits/ferry_ramp.keyon");

/// Every kind of block, each with more than one row.
const BLOCKS: &[&str] = &[
    "device key \"Key\" {\n  pins B, R\n  positions off, run\n  contact B -> R closed in run\n}\n",
    "part key(a: resistance = 5 ohm) \"Key\" {\n  pins B, R\n  coil B -> R a\n}\n",
    "device c {\n  pins 1, 2\n  coil A 1 -> 2 5 ohm\n  grade trickle {\n    A\n  }\n}\n",
    "module M \"Unit\" {\n  connector A \"12-way\" face 2 x 3 {\n    1  bplus  feed\n    2  gnd  ground\n  }\n  gang g \"G\" {\n    stop  a gnd\n    open  a bplus\n  }\n}\n",
    "connector C201 \"8-way\" {\n  1, 2\n  3\n}\n",
    "scenario run \"Run\" {\n  key run\n  left_cmd on\n}\n",
    "expect in run {\n  left operates\n  left.1 below 0.4 V\n}\n",
    "exercise dead \"Dead\" in run {\n  fault open 431\n  symptom left rests\n}\n",
    "readings card \"Card\" in run {\n  battery 12.3 V\n  left rests\n}\n",
    "about {\n  author \"A\"\n  level 2\n}\n",
    "thermistor T 2 kohm at 25 degC table {\n  0 degC 5 kohm\n  25 degC 2 kohm\n}\n",
];

fn without_spans(file: &keyon_syntax::tree::File) -> Vec<String> {
    let mut out = Vec::new();
    for item in &file.items {
        let debug = format!("{:?}", item.item.kind);
        let mut plain = String::new();
        let mut rest = debug.as_str();
        // Spans are shown as `12..15`.
        while let Some(at) = rest.find("..") {
            let digits = |c: char| c.is_ascii_digit();
            plain.push_str(rest[..at].trim_end_matches(digits));
            rest = rest[at + 2..].trim_start_matches(digits);
        }
        plain.push_str(rest);
        out.push(plain);
    }
    out
}

/// The items before and after, so that what was swallowed is seen.
fn around(block: &str) -> String {
    format!("ground G1\n\n{block}\nground G2\n")
}

#[test]
fn a_block_without_its_brace_is_read_as_with_it() {
    for block in BLOCKS {
        let sound = around(block);
        let wanted = parse(&sound);
        assert!(wanted.errors.is_empty(), "{block}: {:?}", wanted.errors);
        for (at, _) in sound.match_indices(" {\n") {
            let mut text = sound.clone();
            text.replace_range(at..at + 2, "");
            let found = parse(&text);
            let messages: Vec<&str> = found.errors.iter().map(|e| e.message.as_str()).collect();
            assert_eq!(messages, ["missing here: the `{` of this block"], "{text}");
            assert!(found.file.items.iter().all(|i| !i.item.damaged), "{text}");
            assert_eq!(without_spans(&found.file), without_spans(&wanted.file), "{text}");
            // The fix mends it.
            let (_, span, new) = found.errors[0].fix.clone().unwrap();
            text.replace_range(span.range(), &new);
            assert!(parse(&text).errors.is_empty(), "{text}");
        }
    }
}

#[test]
fn brackets_of_the_wrong_kind_cost_one_finding_each() {
    for block in BLOCKS {
        let sound = around(block);
        for (from, to) in [("{\n", "(\n"), ("{\n", "[\n"), ("{\n", "{ {\n"), ("}\n", ")\n"), ("}\n", "]\n")] {
            for (at, _) in sound.match_indices(from) {
                let mut text = sound.clone();
                text.replace_range(at..at + from.len(), to);
                let found = parse(&text);
                assert_eq!(found.errors.len(), 1, "{text}: {:?}", found.errors);
                assert!(
                    found
                        .file
                        .items
                        .iter()
                        .any(|i| matches!(&i.item.kind, ItemKind::Ground(g) if g.name.text == "G2"))
                );
            }
        }
    }
}

#[test]
fn blocks_on_one_line_without_their_brace() {
    for text in [
        "scenario run \"Run\" key run, left_cmd on }",
        "connector C201 \"8-way\" 1, 2 }",
        "expect in run left operates }",
        "exercise dead \"Dead\" in run fault open 431 }",
        "scenario run }",
    ] {
        let text = around(&format!("{text}\n"));
        let found = parse(&text);
        assert_eq!(found.errors.len(), 1, "{text}: {:?}", found.errors);
        assert_eq!(found.file.items.len(), 3, "{text}");
        assert!(found.file.items.iter().all(|i| !i.item.damaged), "{text}");
    }
}

#[test]
fn arrows_written_in_other_ways() {
    for statement in [
        "wire SF @ lamp.1 0.75 mm2 RD 1 m",
        "wire 10 SF @ lamp.1 0.75 mm2",
        "fuse F1 battery @ key.B 5 A",
        "lamp L SF @ G1 21 W 12 V",
    ] {
        for arrow in ["<-", ">", "<", "-", "--", "=", ">>", "->>", "- >", "<->", "to", ",", "=>", "-->"] {
            let text = around(&format!("{}\n", statement.replace('@', arrow)));
            let found = parse(&text);
            let messages: Vec<&str> = found.errors.iter().map(|e| e.message.as_str()).collect();
            assert_eq!(messages, [format!("`{arrow}` should be `->`")], "{text}");
            let sound = parse(&around(&format!("{}\n", statement.replace('@', "->"))));
            assert_eq!(without_spans(&found.file), without_spans(&sound.file), "{text}");
        }
    }
    for row in ["contact B @ R closed in run", "coil K 85 @ 86 90 ohm", "diode 1 @ 2 drop 0.7 V"] {
        for arrow in ["<-", ">", "-", ","] {
            let text = around(&format!("device k {{\n  {}\n}}\n", row.replace('@', arrow)));
            let found = parse(&text);
            assert_eq!(found.errors.len(), 1, "{text}: {:?}", found.errors);
            assert_eq!(found.errors[0].message, format!("`{arrow}` should be `->`"), "{text}");
        }
    }
    // What is no arrow stays what it is.
    for sound in [
        "thermistor T 2 kohm at -20 degC beta 3500 K",
        "variable T 0 .. 10 kohm span -40 .. 120 degC",
        "device k {\n  contact closed in run, start\n  contact in run, start\n}",
        "wire 1 a -> b at -20 degC",
    ] {
        assert!(parse(sound).errors.is_empty(), "{sound}: {:?}", parse(sound).errors);
    }
}

#[test]
fn lines_broken_in_the_wrong_place() {
    for text in [
        "wire 431 S12\n  -> left.1 0.75 mm2\n",
        "wire 431 S12\n-> left.1 0.75 mm2\n",
        "lamp L \"Left\"\n  21 W 12 V\n",
        "lamp L \"Left\"\n21 W 12 V\n",
        "supply b 12 V\n  inner 5 mohm\n",
        "fuse F1\n  battery -> key.B 5 A\n",
        "switch s \"S\"\n  positions off, on\n",
        "device key \"Key\"\n  : key_switch\n",
        "device k {\n  coil K 85 -> 86\n    90 ohm\n  diode 1 -> 2\n    drop 0.7 V\n}\n",
    ] {
        let text = around(text);
        let found = parse(&text);
        let slips = text.matches("\n    ").count().max(1);
        assert_eq!(found.errors.len(), slips, "{text}: {:?}", found.errors);
        assert_eq!(found.file.items.len(), 3, "{text}");
        assert!(found.file.items.iter().all(|i| !i.item.damaged), "{text}");
        let mut mended = text.clone();
        for error in found.errors.iter().rev() {
            let (_, span, new) = error.fix.clone().unwrap();
            mended.replace_range(span.range(), &new);
        }
        assert!(parse(&mended).errors.is_empty(), "{mended}");
    }
}

#[test]
fn a_text_without_its_quote_costs_one_finding() {
    for text in [
        "lamp L \"Left 21 W 12 V",
        "lamp L Left\" 21 W 12 V",
        "device key Key switch\" : key_switch",
        "module M \"Unit {\n  connector A {\n    1 a feed\n  }\n}",
        "module M {\n  connector A 12-way\" {\n    1 a feed\n  }\n}",
    ] {
        let found = parse(&around(&format!("{text}\n")));
        assert_eq!(found.errors.len(), 1, "{text}: {:?}", found.errors);
        assert_eq!(found.file.items.len(), 3, "{text}");
    }
}

#[test]
fn a_range_without_a_unit_costs_one_finding() {
    let text = "supply battery 12.6 V range 9 .. 14.8";
    let found = parse(text);
    assert_eq!(found.errors.len(), 1, "{:?}", found.errors);
    assert_eq!(&text[found.errors[0].span.range()], "9 .. 14.8");
}

#[test]
fn items_on_one_line() {
    for (text, items, errors) in [
        ("lamp L 5 W 12 V device K {\n  pins 1, 2\n  coil 1 -> 2 5 ohm\n}\n", 4, 1),
        ("ground G3 module M {\n  connector A {\n    1  a  feed\n  }\n}\n", 4, 1),
        ("module M {\n  co nnector A {\n    1  a  feed\n  }\n}\n", 3, 1),
    ] {
        let text = around(text);
        let found = parse(&text);
        assert_eq!(found.errors.len(), errors, "{text}: {:?}", found.errors);
        assert_eq!(found.file.items.len(), items, "{text}");
    }
}

/// In a whole circuit each brace, arrow and quote is lost once.
#[test]
fn a_sign_lost_from_a_circuit_costs_one_finding() {
    for circuit in [CIRCUIT, LARGE] {
        let items = parse(circuit).file.items.len();
        for token in tokens(circuit) {
            let range = match token.kind {
                TokenKind::OpenBrace | TokenKind::CloseBrace | TokenKind::Arrow => token.span.range(),
                TokenKind::Text => token.span.range().start..token.span.range().start + 1,
                _ => continue,
            };
            // `switches { X, Y }` is no block.
            let line = circuit[..range.start].rsplit('\n').next().unwrap_or_default();
            let mut text = circuit.to_owned();
            text.replace_range(range.clone(), "");
            if line.contains("switches") {
                continue;
            }
            let found = parse(&text);
            assert_eq!(found.errors.len(), 1, "line `{line}`: {:?}", found.errors);
            let count = found.file.items.len();
            assert!(count >= items, "line `{line}`: {count} items of {items}");
        }
    }
}

/// A value with a sign before it is no arrow with a number behind it.
#[test]
fn a_signed_value_is_a_value() {
    for line in
        ["resistor odd -5 ohm", "resistor odd - 5 ohm", "coil K 85 -> 86 -90 ohm", "resistor odd -5ohm"]
    {
        let text = format!("circuit c\n{line}\n");
        let parse = keyon_syntax::parse(&text);
        let told: Vec<&str> = parse.errors.iter().map(|error| error.message.as_str()).collect();
        assert!(!told.iter().any(|message| message.contains("`->`")), "{line}: {told:?}");
    }
}
