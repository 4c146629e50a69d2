//! The quick reading of sound lines and the grammar give the same trees and errors.

use super::{
    pieces::read_in_pieces,
    trees::{by_grammar, quickly_read, trees},
};
use crate::{layout::layout, lexer::tokens};
use proptest::prelude::*;
use std::sync::LazyLock;

/// All texts that the project has, right and wrong ones.
static TEXTS: LazyLock<Vec<String>> = LazyLock::new(|| {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut folders = vec![root.join("../../corpus"), root.join("tests/fixtures")];
    let mut paths = Vec::new();
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "keyon") {
                paths.push(path);
            }
        }
    }
    paths.sort();
    paths.iter().map(|path| std::fs::read_to_string(path).unwrap()).collect()
});

/// Lines that are worth changing: each line once that differs from the others in more than numbers, and bodies in one line.
static LINES: LazyLock<Vec<&'static str>> = LazyLock::new(|| {
    let mut seen = std::collections::BTreeSet::new();
    let shape = |line: &str| line.replace(|c: char| c.is_ascii_digit(), "0");
    let lines = TEXTS.iter().flat_map(|text| text.lines().map(str::trim));
    lines.filter(|line| !line.is_empty() && !line.starts_with('#') && seen.insert(shape(line))).collect()
});

#[track_caller]
fn agree(text: &str) {
    let layout = layout(text);
    let (ours, theirs) = (trees(text, &layout, layout.items.len()), by_grammar(text, &layout));
    assert_eq!(ours.len(), theirs.len());
    for (ours, theirs) in ours.iter().zip(&theirs) {
        assert_eq!(format!("{ours:#?}"), format!("{theirs:#?}"), "{text}");
    }
}

#[test]
fn on_every_file() {
    assert!(TEXTS.len() > 100);
    TEXTS.iter().for_each(|text| agree(text));
}

/// A reader that always gives up would agree, too.
#[test]
fn nearly_all_that_is_sound_is_read_quickly() {
    let (mut quick, mut all) = (0, 0);
    for text in TEXTS.iter().filter(|text| super::parse(text).errors.is_empty()) {
        let layout = layout(text);
        quick += quickly_read(text, &layout);
        all += layout.items.len();
    }
    assert!(quick * 100 >= all * 95, "{quick} of {all} items");
}

/// In which body a line stands.
const BODIES: &[(&str, &str)] = &[
    ("", ""),
    ("device d {\n", "\n}"),
    ("part p(a: resistance = 1 ohm) {\n", "\n}"),
    ("module m {\nconnector A {\n", "\n}\n}"),
    ("module m {\ngang g {\n", "\n}\n}"),
    ("expect in s {\n", "\n}"),
    ("readings r in s accuracy 1 % {\n", "\n}"),
    ("scenario s {\n", "\n}"),
    ("connector c {\n", "\n}"),
    ("exercise e {\n", "\n}"),
    ("thermistor t table {\n", "\n} span 0 .. 50 degC"),
    ("about {\n", "\n}"),
];

/// Tokens that change what a line is.
const SCRAPS: &[&str] = &[
    "->",
    ",",
    "..",
    "+-",
    ":",
    "=",
    "(",
    ")",
    "{",
    "}",
    "/",
    "-",
    "%",
    "\"x\"",
    "\"open",
    "12",
    "0.5",
    "1e3",
    "87a",
    "12V",
    "5mm2",
    "2k2",
    "V",
    "ohm",
    "ohms",
    "mm2",
    "m",
    "a",
    "a.b",
    "431.2",
    "0,5",
    "AWG",
    "awg18",
    "18awg",
    "wire",
    "coil",
    "where",
    "access",
    "easy",
    "sealed",
    "face",
    "2",
    "x",
    "moves",
    "hazard",
    "restricted",
    "closed",
    "open",
    "in",
    "when",
    "energised",
    "rest",
    "active",
    "at",
    "beta",
    "table",
    "steinhart",
    "wiper",
    "out",
    "over",
    "ratio",
    "span",
    "nominal",
    "to",
    "from",
    "with",
    "without",
    "fitted",
    "uses",
    "as",
    "shared",
    "by",
    "live",
    "positions",
    "unused",
    "feed",
    "ground",
    "drives",
    "low",
    "switches",
    "reference",
    "return",
    "senses",
    "bus",
    "digital",
    "switched",
    "clamp",
    "on",
    "limit",
    "pwm",
    "inner",
    "draws",
    "pull_up",
    "pull_down",
    "threshold",
    "range",
    "accuracy",
    "below",
    "above",
    "about",
    "operates",
    "forward",
    "fed",
    "via",
    "load",
    "rests",
    "high",
    "lamp",
    "ohms",
    "unplug",
    "jumper",
    "do",
    "pull",
    "ask",
    "fault",
    "en",
    "de",
    "# c",
    ";",
    "→",
    "é",
    "K",
    "degC",
    "run",
    "en \"y\"",
];

/// The line with tokens put in, taken out, doubled, or taken from another line.
fn changed(line: &str, other: &str, changes: &[(usize, usize, usize)]) -> String {
    let words = |line: &str| -> Vec<String> {
        tokens(line).iter().map(|t| t.text(line).to_owned()).filter(|t| !t.trim().is_empty()).collect()
    };
    let (mut line, other) = (words(line), words(other));
    for &(kind, at, which) in changes {
        let at = at % (line.len() + 1);
        match kind {
            0 if !other.is_empty() => line.insert(at, other[which % other.len()].clone()),
            1 if at < line.len() => drop(line.remove(at)),
            2 if at < line.len() && !other.is_empty() => line[at] = other[which % other.len()].clone(),
            3 if at < line.len() => line[at] = SCRAPS[which % SCRAPS.len()].to_owned(),
            4 if at < line.len() => line.insert(at, line[at].clone()),
            5 if at + 1 < line.len() => line.swap(at, at + 1),
            _ => line.insert(at, SCRAPS[which % SCRAPS.len()].to_owned()),
        }
    }
    line.join(" ")
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 100, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn on_changed_lines(lines in prop::collection::vec((
        0usize..10_000,
        0usize..10_000,
        0..BODIES.len(),
        prop::collection::vec((0usize..7, 0usize..40, 0usize..1000), 0..4),
    ), 1..60)) {
        let mut text = String::new();
        for (line, other, body, changes) in lines {
            let line = changed(LINES[line % LINES.len()], LINES[other % LINES.len()], &changes);
            let (before, after) = BODIES[body];
            text += &format!("{before}{line}{after}\n{line}\n");
        }
        agree(&text);
    }

    #[test]
    fn on_any_words(lines in prop::collection::vec((
        0..BODIES.len(),
        prop::collection::vec(prop::sample::select(SCRAPS), 0..9),
    ), 1..60)) {
        let mut text = String::new();
        for (body, words) in lines {
            let ((before, after), words) = (BODIES[body], words.join(" "));
            text += &format!("{before}{words}{after}\n{words}\n");
        }
        agree(&text);
    }
}

/// A text read in pieces is the same as one read at once.
#[track_caller]
fn agree_in_pieces(text: &str, size: usize) {
    let (pieces, whole) = (read_in_pieces(text, size), read_in_pieces(text, usize::MAX));
    assert_eq!(format!("{pieces:?}"), format!("{whole:?}"), "{text:?} in pieces of {size}");
}

#[test]
fn in_pieces_on_every_file() {
    for text in TEXTS.iter() {
        for size in [1, 100, 1000] {
            agree_in_pieces(text, size);
            agree_in_pieces(&text.replace('\n', "\r\n"), size);
            agree_in_pieces(&text.replace('\n', "\r"), size);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn in_pieces_on_any_lines(
        size in 1usize..200,
        lines in prop::collection::vec((0usize..10_000, 0usize..4), 0..20),
        scraps in prop::collection::vec((0usize..1000, prop::sample::select(&[
            "{", "}", "\n}\n", "(", ")", ";", "\u{200B}", "\u{FEFF}", "## doc\n", "\n## doc\n\n", "allow x\n", "->\n", ",\n", "\r",
            "\r\n", "\n", "  ", "# c\n", "junk\n", "device k {\n", "module m {\nconnector A {\n", "→", "\"",
        ][..])), 0..6),
    ) {
        let line = |&(line, indent): &(usize, usize)| format!("{}{}\n", "  ".repeat(indent), LINES[line % LINES.len()]);
        let mut text: String = lines.iter().map(line).collect();
        for (at, scrap) in scraps {
            let at = (at % (text.len() + 1)..).find(|at| text.is_char_boundary(*at)).unwrap();
            text.insert_str(at, scrap);
        }
        agree_in_pieces(&text, size);
    }

    #[test]
    fn in_pieces_on_brackets(
        size in 1usize..60,
        lines in prop::collection::vec(prop::sample::select(&[
            "device d {", "  pins 1, 2", "  pins 1,", "diode D1 drop 0.7 V", "  diode drop 0.7 V", "}", "  }", "wire 1 a -> b",
            "wire 2 a ->", "  b", "module M {", "connector A {", "  connector A {", "  1 a feed", "switches { a, b", "## doc",
            "", "  # c", "allow x", "junk", "(", ")", "{", "; fuse F1", "} wire 3 a -> b", "scenario s { a b",
            "thermistor t table {", "0 degC 1 ohm }", "\u{FEFF}wire 4 a -> b", "\u{200B}", "where \"x\"", "part p(a: b",
        ][..]), 0..25),
    ) {
        agree_in_pieces(&lines.join("\n"), size);
    }
}
