//! What must hold of the formatter for every text: corpus files, and what becomes of them under random edits.

#![allow(clippy::expect_used)]

use keyon_syntax::{
    fmt::{format, format_edits},
    lexer::{TokenKind, tokens},
    parse,
};
use proptest::prelude::*;
use std::{collections::BTreeMap, path::Path, sync::LazyLock};

/// The corpus files' texts, with line feeds only and without a byte order mark.
static CORPUS: LazyLock<Vec<String>> = LazyLock::new(|| {
    let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../corpus");
    let mut paths = Vec::new();
    for folder in ["circuits", "parts"] {
        paths.extend(std::fs::read_dir(corpus.join(folder)).expect("corpus").flatten().map(|e| e.path()));
    }
    paths.retain(|p| p.extension().is_some_and(|e| e == "keyon"));
    paths.sort();
    assert!(paths.len() > 8);
    let read = |p| std::fs::read_to_string(p).expect("UTF-8").replace("\r\n", "\n").replace('\u{FEFF}', "");
    paths.iter().map(read).collect()
});

/// How often each token stands in a text, spelt as the formatter spells it. Commas at a line's end in a list may go, so
/// commas are left out.
fn census(text: &str) -> BTreeMap<(bool, String), usize> {
    let mut out = BTreeMap::new();
    for token in tokens(text) {
        let written = match token.kind {
            TokenKind::Blank | TokenKind::Newline | TokenKind::Comma => continue,
            TokenKind::PlusMinus => "+-",
            _ => token.text(text).trim_end(),
        };
        let comment = matches!(token.kind, TokenKind::Comment | TokenKind::Doc);
        *out.entry((comment, written.to_owned())).or_insert(0) += 1;
    }
    out
}

/// The items without their places.
fn meaning(text: &str) -> Vec<String> {
    let without_spans = |debug: String| {
        let mut out = String::with_capacity(debug.len());
        let mut rest = debug.as_str();
        // A span shows as `12..34`.
        while let Some(at) = rest.find(|c: char| c.is_ascii_digit()) {
            let (before, digits) = rest.split_at(at);
            out.push_str(before);
            let end = digits.find(|c: char| !c.is_ascii_digit()).unwrap_or(digits.len());
            let after =
                digits[end..].strip_prefix("..").map(|t| t.trim_start_matches(|c: char| c.is_ascii_digit()));
            match after {
                Some(after) => {
                    out.push('_');
                    rest = after;
                }
                None => {
                    out.push_str(&digits[..end]);
                    rest = &digits[end..];
                }
            }
        }
        out + rest
    };
    parse(text)
        .file
        .items
        .iter()
        .map(|i| {
            without_spans(format!(
                "{:?} {:?} {:?} {}",
                i.item.doc, i.item.allows, i.item.kind, i.item.damaged
            ))
        })
        .collect()
}

/// What must hold of any text.
fn check(text: &str) -> String {
    let once = format(text);
    assert_eq!(format(&once), once, "formatting twice changes something in\n{text}");
    assert_eq!(census(&once), census(text), "a token is lost or doubled in\n{text}");
    let errors = |text: &str| parse(text).errors.into_iter().map(|e| e.message).collect::<Vec<_>>();
    assert_eq!(errors(&once), errors(text), "other errors after formatting\n{text}");
    let (before, after) = (meaning(text), meaning(&once));
    for (a, b) in before.iter().zip(&after) {
        assert_eq!(a, b, "an item means something else after formatting\n{text}");
    }
    assert_eq!(before.len(), after.len(), "other items after formatting\n{text}");
    let mut end = 0;
    for (span, new) in format_edits(text) {
        assert!(span.start >= end && span.end as usize <= text.len(), "edits out of order");
        assert_ne!(text.get(span.range()), Some(new.as_str()), "an edit changes nothing");
        end = span.end;
    }
    once
}

#[test]
fn corpus() {
    for text in CORPUS.iter() {
        assert_eq!(&check(text), text);
        let crlf = text.replace('\n', "\r\n");
        assert_eq!(check(&crlf), crlf);
        let bom = format!("\u{FEFF}{text}");
        assert_eq!(check(&bom), bom);
    }
}

/// One change to a text; places and choices are taken modulo what there is.
#[derive(Clone, Debug)]
enum Mutation {
    /// Other blanks where there are some (not in texts and comments).
    Blanks(usize, usize),
    /// Another indentation.
    Indent(usize, usize),
    /// A token goes.
    Delete(usize),
    /// A token is doubled.
    Double(usize),
    /// Two neighbours change places.
    Swap(usize),
    /// Something comes in.
    Insert(usize, usize),
    /// A line is moved.
    MoveLine(usize, usize),
    /// The text ends here.
    Cut(usize),
}

const INSERTS: &[&str] = &[
    "\n",
    "\n\n\n",
    " # c",
    "# c\n",
    "\n## d\n",
    "{",
    "}",
    "(",
    ")",
    ",",
    "->",
    "\"",
    "\"t\"",
    "wire",
    "wire 1 a -> b\n",
    "±",
    "=",
    ":",
    "é",
    "\u{200B}",
    "\t",
    "\u{A0}",
    "}\n",
    "\nlamp L1 21 W 12 V S1 -> S2\n",
    "\nfuse F7 10 A a -> b # c\n",
    ",\n",
    "->\n",
    "\r",
    "..",
    "-",
    "12V",
    "pins 1, 2\n",
    "\nallow unused-name\n",
];

fn mutation() -> impl Strategy<Value = Mutation> {
    let n = || any::<prop::sample::Index>().prop_map(|i| i.index(1_000_000));
    prop_oneof![
        (n(), n()).prop_map(|(a, b)| Mutation::Blanks(a, b)),
        (n(), n()).prop_map(|(a, b)| Mutation::Indent(a, b)),
        n().prop_map(Mutation::Delete),
        n().prop_map(Mutation::Double),
        n().prop_map(Mutation::Swap),
        (n(), n()).prop_map(|(a, b)| Mutation::Insert(a, b)),
        (n(), n()).prop_map(|(a, b)| Mutation::MoveLine(a, b)),
        n().prop_map(Mutation::Cut),
    ]
}

fn mutate(text: &str, mutation: &Mutation) -> String {
    let mut parts: Vec<String> = tokens(text).iter().map(|t| t.text(text).to_owned()).collect();
    let mut lines: Vec<String> = text.split_inclusive('\n').map(str::to_owned).collect();
    if parts.is_empty() || lines.is_empty() {
        return text.to_owned();
    }
    let n = parts.len();
    match *mutation {
        Mutation::Blanks(at, width) => {
            let blanks: Vec<usize> = (0..n).filter(|&i| parts[i].chars().all(|c| c == ' ')).collect();
            if !blanks.is_empty() {
                parts[blanks[at % blanks.len()]] = " ".repeat(1 + width % 7);
            }
        }
        Mutation::Indent(at, width) => {
            let at = at % lines.len();
            lines[at] = format!("{}{}", " ".repeat(width % 9), lines[at].trim_start_matches(' '));
            parts = lines;
        }
        Mutation::Delete(at) => {
            parts.remove(at % n);
        }
        Mutation::Double(at) => {
            let part = parts[at % n].clone();
            parts.insert(at % n, part);
        }
        Mutation::Swap(at) => {
            let at = at % n;
            parts.swap(at, (at + 1) % n);
        }
        Mutation::Insert(at, what) => parts.insert(at % n, INSERTS[what % INSERTS.len()].to_owned()),
        Mutation::MoveLine(from, to) => {
            let line = lines.remove(from % lines.len());
            lines.insert(to % (lines.len() + 1), line);
            parts = lines;
        }
        Mutation::Cut(at) => parts.truncate(at % n),
    }
    parts.concat()
}

/// A stretch of some thirty lines of a corpus file, so that a failing case is short and many of them are quick.
fn stretch() -> impl Strategy<Value = String> {
    (any::<prop::sample::Index>(), any::<prop::sample::Index>()).prop_map(|(file, line)| {
        let text = &CORPUS[file.index(CORPUS.len())];
        let lines: Vec<&str> = text.split_inclusive('\n').collect();
        lines.iter().skip(line.index(lines.len())).take(30).copied().collect()
    })
}

/// So many cases, or as many as `PROPTEST_CASES` asks for.
fn config(cases: u32) -> ProptestConfig {
    let cases = std::env::var("PROPTEST_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(cases);
    ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() }
}

proptest! {
    #![proptest_config(config(150))]

    #[test]
    fn mutations(text in stretch(), mutations in prop::collection::vec(mutation(), 1..4)) {
        let text = mutations.iter().fold(text, |text, m| mutate(&text, m));
        check(&text);
    }

    #[test]
    fn texts_of_our_words(words in prop::collection::vec(prop::sample::select(WORDS), 0..60)) {
        check(&words.concat());
    }

    #[test]
    fn any_text(text in "\\PC*") {
        check(&text);
    }
}

proptest! {
    #![proptest_config(config(20))]

    #[test]
    fn whole_files_with_mutations(file in any::<prop::sample::Index>(), mutations in prop::collection::vec(mutation(), 1..6)) {
        let text = CORPUS[file.index(CORPUS.len())].clone();
        let text = mutations.iter().fold(text, |text, m| mutate(&text, m));
        check(&text);
    }

    /// Whatever blanks stand between the words of a sound file: it comes out the same.
    #[test]
    fn blanks_do_not_matter(file in any::<prop::sample::Index>(), widths in prop::collection::vec(1..6usize, 40)) {
        let text = &CORPUS[file.index(CORPUS.len())];
        let mut widths = widths.into_iter().cycle();
        let mut loose = String::new();
        for token in tokens(text) {
            match token.kind {
                TokenKind::Blank if !loose.ends_with('\n') => loose.push_str(&" ".repeat(widths.next().unwrap_or(1))),
                _ => loose.push_str(token.text(text)),
            }
        }
        prop_assert_eq!(&check(&loose), text);
    }
}

const WORDS: &[&str] = &[
    " ",
    "\n",
    "\n  ",
    "\n",
    " ",
    " ",
    "wire",
    "lamp",
    "fuse",
    "device",
    "module",
    "part",
    "scenario",
    "expect in s",
    "gang",
    "connector",
    "pins",
    "coil",
    "thermistor",
    "table",
    "switches",
    "allow x",
    "##",
    "# c",
    "{",
    "}",
    "{",
    "}",
    "(",
    ")",
    "->",
    ",",
    "..",
    "+-",
    "±",
    "1",
    "12",
    "0.75",
    "mm2",
    "V",
    "ohm",
    "12V",
    "A",
    "S12",
    "K.1",
    "\"t\"",
    "\"",
    ":",
    "=",
    "-",
    "/",
    "@",
    "when",
    "closed",
    "in",
    "is",
    "with",
    "unused",
    "face 2 x 6",
    "\r\n",
    "\u{FEFF}",
    "é",
];
