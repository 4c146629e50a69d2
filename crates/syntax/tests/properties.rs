//! What holds for any text: here the corpus, cut off, with tokens taken out or put in, and edited.
#![allow(missing_docs, clippy::unwrap_used)]

use keyon_syntax::{Edit, Parse, lexer::tokens, parse, reparse};
use proptest::prelude::*;
use std::sync::{Arc, LazyLock};

/// All circuits and parts of the corpus.
static CORPUS: LazyLock<Vec<String>> = LazyLock::new(|| {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let folders = ["../../corpus/circuits", "../../corpus/parts", "tests/fixtures"];
    let files = folders.iter().flat_map(|folder| std::fs::read_dir(root.join(folder)).into_iter().flatten());
    let mut paths: Vec<_> = files.map(|f| f.unwrap().path()).collect();
    paths.retain(|p| p.extension().is_some_and(|e| e == "keyon"));
    paths.sort();
    paths.iter().map(|p| std::fs::read_to_string(p).unwrap()).collect()
});

/// Where the items of each begin.
static STARTS: LazyLock<Vec<Vec<usize>>> = LazyLock::new(|| {
    CORPUS.iter().map(|text| parse(text).file.items.iter().map(|p| p.start as usize).collect()).collect()
});

/// A stretch of a corpus text, so that a case costs little; it begins at an item.
fn stretch(file: usize, at: usize, items: usize) -> &'static str {
    let text = CORPUS[file % CORPUS.len()].as_str();
    let starts = &STARTS[file % CORPUS.len()];
    let first = at % starts.len();
    let end = starts.get(first + items).copied().unwrap_or(text.len());
    &text[starts[first]..end]
}

/// Spans lie in the text and between characters; items tile in order.
fn check(text: &str, parse: &Parse) {
    let within = |span: keyon_syntax::Span| {
        assert!(span.start <= span.end, "{span:?} in {text:?}");
        assert!(text.get(span.range()).is_some(), "{span:?} in {text:?}");
    };
    let mut last = 0;
    for error in &parse.errors {
        within(error.span);
        assert!(error.span.start >= last, "errors out of order in {text:?}: {:?}", parse.errors);
        last = error.span.start;
        assert!(!error.message.is_empty());
        if let Some((_, span, _)) = &error.fix {
            within(*span);
        }
    }
    let mut end = 0;
    for placed in &parse.file.items {
        assert!(placed.start >= end, "items overlap in {text:?}");
        end = placed.start + placed.item.span.end;
        within(placed.item.span.moved(placed.start));
        within(placed.item.statement.moved(placed.start));
        assert!(placed.item.statement.end <= placed.item.span.end);
    }
}

/// Items that are whole and say the same, as text without places.
fn sound_items(text: &str) -> Vec<String> {
    let parse = parse(text);
    let whole = parse.file.items.iter().filter(|p| !p.item.damaged);
    whole.map(|p| text[p.item.statement.moved(p.start).range()].to_owned()).collect()
}

/// Items outside an edited range stay: those that end well before, and those that begin a line well behind it.
fn others_stay(old: &str, new: &str, from: usize, to: usize) {
    let before = parse(old);
    let after = sound_items(new);
    let mut at = 0;
    let near = 2;
    let first = before.file.items.partition_point(|p| (p.start + p.item.span.end) as usize <= from);
    let behind = before.file.items.partition_point(|p| (p.start as usize) < to);
    for (i, placed) in before.file.items.iter().enumerate() {
        if i + near >= first && i < behind + near {
            continue;
        }
        let text = &old[placed.item.statement.moved(placed.start).range()];
        let found = after[at..].iter().position(|t| t == text);
        assert!(found.is_some(), "lost {text:?} after the edit of {from}..{to} in:\n{new}");
        at += found.unwrap() + 1;
    }
}

const SCRAPS: &[&str] = &[
    "{",
    "}",
    "(",
    ")",
    ",",
    "->",
    "\"",
    "wire",
    "device",
    "# ",
    "## x\n",
    "\n",
    "\r",
    ";",
    "→",
    "12",
    " V",
    "..",
    "=",
    "\u{200B}",
    "é",
    "  ",
    "allow x\n",
    "pins ",
    "@",
    "}\n}\n",
    "fuse F9 a -> b 10 A\n",
    "\"open",
    "0,5",
    ".",
];

fn same(a: &Parse, b: &Parse, text: &str) {
    assert_eq!(a.errors, b.errors, "{text:?}");
    let show =
        |p: &Parse| p.file.items.iter().map(|i| (i.start, format!("{:?}", i.item))).collect::<Vec<_>>();
    assert_eq!(show(a), show(b), "{text:?}");
}

#[test]
fn the_corpus_parses_without_an_error() {
    assert!(CORPUS.len() > 8);
    for text in CORPUS.iter() {
        let parse = parse(text);
        assert_eq!(parse.errors, [], "{text}");
        assert!(parse.file.items.iter().all(|p| !p.item.damaged));
        check(text, &parse);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 100, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_text_cut_off_anywhere_parses(file in 0usize..100, at in 0usize..10_000, cut in 0usize..10_000) {
        let text = stretch(file, at, 8);
        let mut cut = cut % (text.len() + 1);
        while !text.is_char_boundary(cut) {
            cut -= 1;
        }
        check(&text[..cut], &parse(&text[..cut]));
        others_stay(text, &text[..cut], cut, text.len());
    }

    #[test]
    fn tokens_taken_out_leave_the_other_items(file in 0usize..100, at in 0usize..10_000, nth in 0usize..10_000) {
        let text = stretch(file, at, 12);
        let tokens = tokens(text);
        let span = tokens[nth % tokens.len()].span;
        let mut new = text.to_owned();
        new.replace_range(span.range(), "");
        check(&new, &parse(&new));
        others_stay(text, &new, span.start as usize, span.end as usize);
    }

    #[test]
    fn scraps_put_in_leave_the_other_items(
        file in 0usize..100, at in 0usize..10_000, nth in 0usize..10_000, scrap in prop::sample::select(SCRAPS)
    ) {
        let text = stretch(file, at, 12);
        let tokens = tokens(text);
        let place = tokens[nth % tokens.len()].span.start as usize;
        let mut new = text.to_owned();
        new.insert_str(place, scrap);
        check(&new, &parse(&new));
        // A stray `}` or a quote may cost what stands in the same body or line, nothing else.
        others_stay(text, &new, place, place);
    }

    #[test]
    fn any_tokens_parse(scraps in prop::collection::vec(prop::sample::select(SCRAPS), 0..40)) {
        let text = scraps.concat();
        check(&text, &parse(&text));
    }

    #[test]
    fn read_again_is_the_same_as_read_afresh(
        file in 0usize..100,
        at in 0usize..10_000,
        edits in prop::collection::vec((0usize..10_000, 0usize..12, prop::sample::select(SCRAPS), any::<bool>()), 1..6),
    ) {
        let mut text = stretch(file, at, 30).to_owned();
        let mut old = parse(&text);
        for (place, length, scrap, far) in edits {
            let place = if far { place * 7 } else { place } % (text.len() + 1);
            let boundary = |mut at: usize| { while !text.is_char_boundary(at) { at -= 1 } at };
            let start = boundary(place);
            let end = boundary((start + length).min(text.len())).max(start);
            let mut new = text.clone();
            new.replace_range(start..end, scrap);
            let edit = Edit { start: start as u32, old_end: end as u32, new_end: (start + scrap.len()) as u32 };
            let again = reparse(&old, &text, &new, edit);
            same(&again, &parse(&new), &new);
            (old, text) = (again, new);
        }
    }
}

#[test]
fn an_edit_leaves_the_other_trees_untouched() {
    let text: String = (0..1000).map(|i| format!("wire {i} S{i} -> V{i}.1  0.75 mm2 OG 1.9 m\n")).collect();
    let old = parse(&text);
    let at = text.find("wire 500").unwrap();
    let mut new = text.clone();
    new.insert(at + 4, 'X');
    let edit = Edit { start: at as u32 + 4, old_end: at as u32 + 4, new_end: at as u32 + 5 };
    let again = reparse(&old, &text, &new, edit);
    same(&again, &parse(&new), "");
    let kept = old.file.items.iter().zip(&again.file.items).filter(|(a, b)| Arc::ptr_eq(&a.item, &b.item));
    assert!(kept.count() >= 990);
}
