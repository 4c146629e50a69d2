//! Reading costs as many steps as the text is long, a text read again as many as its edit reaches. Counted, not timed.

use super::{Edit, parse, reparse};
use crate::step::counted;

/// What it is, and one of it with so many lines.
type Text = (&'static str, fn(usize) -> String);

/// Texts that would cost more than they weigh in a careless reader.
const TEXTS: &[Text] = &[
    ("wires", |n| (0..n).map(|i| format!("wire {i} S{i} -> V.{i} 0.75 mm2 OG 2 m # x\n")).collect()),
    ("a chain", |n| "wire a -> b -> ".repeat(n)),
    ("bodies that never end", |n| "device k {\n pins 1\n".repeat(n)),
    ("bodies that end in a comma", |n| "part p {\n  pins 1,\ndiode 1 -> 2 drop 0.7 V\n".repeat(n)),
    ("braces of switches", |n| format!("module m {{\n connector A {{\n{}", "  1 a switches { b\n".repeat(n))),
    ("settings", |n| format!("scenario s {{ {} }}", "key run, ".repeat(n))),
    ("clauses", |n| format!("splice s {}", "hazard \"x\" ".repeat(n))),
    ("rows that fail", |n| format!("expect in s {{\n{}}}", "a !\n".repeat(n))),
    ("closing braces", |n| "}\n".repeat(n)),
    ("allows", |n| "allow x\n".repeat(n)),
    ("pins", |n| format!("device d {{ pins {} }}", "1, ".repeat(n))),
    ("pins marked as unused", |n| {
        let all = |word: &str| (0..n).map(|i| format!("{word}{i}, ")).collect::<String>();
        format!("device d {{\n pins {}\n unused {}\n}}", all("p"), all("q"))
    }),
    ("semicolons", |n| ";".repeat(n)),
    ("docs", |n| "## doc\n".repeat(n)),
    ("docs that belong to nothing", |n| "## doc\n\n".repeat(n)),
    ("invisible characters", |n| "\u{200B} ".repeat(n)),
    ("invisible characters in a statement", |n| format!("wire 1 {}", "\u{200B} ".repeat(n))),
    ("semicolons and blanks", |n| "; \u{200B} \u{200B} ".repeat(n)),
    ("decimal commas", |n| format!("wire 1 a -> b {}", "0,75 mm2 ".repeat(n))),
    ("strange words", |n| format!("pins {}", "a°b ".repeat(n))),
    ("open texts", |n| "wire \"x {{{{ {\n".repeat(n)),
    ("open brackets", |n| "(".repeat(n)),
    ("open braces", |n| "device a {".repeat(n)),
    ("items on one line", |n| "device a { pins 1 } ".repeat(n)),
    ("tables", |n| format!("part p {{\n{}}}", "thermistor t table { 0 degC 1 ohm\n".repeat(n))),
    ("numbers without units", |n| format!("part p {{\n{}}}", "coil 1 -> 2 5 rated 6\n".repeat(n))),
    ("headers without braces", |n| "scenario s \"S\"\n  key run\n".repeat(n)),
    ("headers without braces in a module", |n| {
        format!("module m {{\n{}}}", "  connector A\n    1 a feed\n".repeat(n))
    }),
    ("blocks without braces on a line", |n| "scenario s key run }\n".repeat(n)),
    ("a header with blank lines below", |n| format!("device d{}", "\n  ".repeat(n))),
    ("wrong brackets", |n| "module m (\n  connector A [\n    1 a feed\n  )\n]\n".repeat(n)),
    ("braces twice", |n| format!("module m {{ {}", "{ ".repeat(n))),
    ("braces too many", |n| format!("module m {{\n{}", "  }\n".repeat(n))),
    ("broken lines", |n| format!("lamp L\n{}", "  21 W\n".repeat(n))),
    ("arrows below", |n| format!("wire a{}", "\n  -> b".repeat(n))),
    ("odd arrows", |n| format!("wire a {}", "- > b ".repeat(n))),
    ("strokes", |n| format!("coil {}", "- ".repeat(n))),
    ("items joined to one with a body", |n| format!("lamp {}", "device k {".repeat(n))),
    ("open texts in a body", |n| format!("device d {{\n{}}}", "  coil \"x\n".repeat(n))),
    ("misspelt items", |n| "wier 1 a -> b\n".repeat(n)),
    ("unknown lines", |n| "what is this\n".repeat(n)),
];

#[test]
fn work_grows_with_the_text_and_no_faster() {
    for (what, text) in TEXTS {
        let steps = |n| counted(|| parse(&text(n))).1;
        let (few, many) = (steps(200), steps(3200));
        assert!(few > 100, "{what}: nothing was counted");
        assert!(many <= 16 * few * 5 / 4 + 2000, "{what}: {few} steps, and {many} for 16 times the text");
    }
}

#[test]
fn an_edit_costs_what_it_reaches() {
    let again = |text: &str, at: usize, new: &str| {
        let old = parse(text);
        let mut edited = text.to_owned();
        edited.insert_str(at, new);
        let edit = Edit { start: at as u32, old_end: at as u32, new_end: (at + new.len()) as u32 };
        counted(|| reparse(&old, text, &edited, edit)).1
    };
    let wire = |i: usize| format!("wire {i:6} S{i:6} -> V.{i:6} 0.75 mm2 OG 2 m # x\n");
    let part = |i: usize| format!("part p{i:6} {{\n  pins 1, 2\n  coil 1 -> 2 5 ohm\n}}\n\n");
    for (what, text) in [("wires", &wire as &dyn Fn(usize) -> String), ("parts", &part)] {
        let whole = |n: usize| (0..n).map(text).collect::<String>();
        let length = text(0).len();
        for new in ["x", "\n", "\"", " #", "wire 1 a -> b\n"] {
            let few = again(&whole(200), 100 * length + length / 3, new);
            let many = again(&whole(3200), 1600 * length + length / 3, new);
            assert!(few > 10, "{what}, {new:?}: nothing was counted");
            assert_eq!(few, many, "{what}, {new:?}: steps in a text and in one 16 times as long");
        }
        // A bracket may reach to the end of the text, and costs no more than reading all of it.
        for new in ["{", "(", "}"] {
            let (text, at) = (whole(3200), 1600 * length + length / 3);
            let afresh = counted(|| parse(&text)).1;
            let steps = again(&text, at, new);
            assert!(steps <= 2 * afresh, "{what}, {new:?}: {steps} steps, {afresh} to read all");
        }
    }
}

#[test]
fn an_edit_in_one_endless_line_costs_no_more_than_the_line() {
    for piece in ["device a { pins 1 } ", "wire 1 a -> b; ", "\"", "} "] {
        let steps = |n: usize| {
            let text = piece.repeat(n);
            let old = parse(&text);
            let at = text.len() / 2;
            let mut edited = text.clone();
            edited.insert(at, 'x');
            let edit = Edit { start: at as u32, old_end: at as u32, new_end: at as u32 + 1 };
            counted(|| reparse(&old, &text, &edited, edit)).1
        };
        let (few, many) = (steps(200), steps(3200));
        assert!(many <= 16 * few * 5 / 4 + 2000, "{piece:?}: {few} steps, and {many} for 16 times the text");
    }
}
