//! What holds for every text: no panic, sound indices, and that the order of items does not matter.

#![allow(clippy::unwrap_used)]

mod common;

use common::{Texts, source};
use keyon_circuit::{Elaboration, elaborate, ids::*, model::*};
use proptest::prelude::*;
use std::{collections::BTreeSet, fs, path::Path};

fn corpus(folder: &str) -> Vec<(String, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../corpus").join(folder);
    let mut all: Vec<_> = fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.extension().is_some_and(|e| e == "keyon"))
        .map(|p| (p.file_name().unwrap().to_str().unwrap().to_owned(), fs::read_to_string(p).unwrap()))
        .collect();
    all.sort();
    all
}

fn libraries() -> Texts {
    Texts(corpus("parts").into_iter().map(|(name, text)| (format!("../parts/{name}"), text)).collect())
}

/// Every index leads somewhere, names are unique, places lie in their texts.
fn is_sound(e: &Elaboration) {
    let c = &e.circuit;
    let point = |p: PointId| assert!(p.index() < c.points.len(), "{p:?}");
    let element = |e: ElementId| assert!(e.index() < c.elements.len(), "{e:?}");
    let mut names = BTreeSet::new();
    for x in &c.elements {
        point(x.from);
        point(x.to);
        assert!(names.insert(&x.name), "two elements are named {}", x.name);
        match x.when {
            When::In { control, positions } => {
                let count = c.controls[control.index()].positions.len();
                assert!(count == 64 || positions >> count == 0);
            }
            When::Energised { coil, .. } => assert_eq!(c.elements[coil.index()].kind, ElementKind::Coil),
            When::Always | When::Never => {}
        }
        if let Some(s) = x.law.stimulus() {
            assert!(s.index() < c.stimuli.len());
        }
    }
    for (i, s) in c.stimuli.iter().enumerate() {
        assert_eq!(c.elements[s.element.index()].law.stimulus(), Some(StimulusId::from(i)), "{}", s.name);
        assert!(s.span.0 <= s.span.1 && s.nominal.is_finite() && !s.name.is_empty());
    }
    for control in &c.controls {
        assert!((2..=64).contains(&control.positions.len()), "{}", control.name);
    }
    c.supplies.iter().for_each(|s| (element(s.element), point(s.point), point(s.negative)).0);
    c.grounds.iter().for_each(|g| element(g.element));
    c.splices.iter().flat_map(|s| &s.legs).for_each(|&e| element(e));
    c.fuses.iter().for_each(|f| element(f.element));
    c.wires.iter().flat_map(|w| &w.stretches).for_each(|s| element(s.element));
    c.inlines.iter().flat_map(|i| &i.cavities).for_each(|k| element(k.joint));
    for device in &c.devices {
        device.elements.iter().for_each(|&e| element(e));
        for pin in &device.pins {
            element(pin.terminal);
            pin.landings.iter().for_each(|&e| element(e));
        }
    }
    for cavity in c.modules.iter().flat_map(|m| &m.connectors).flat_map(|c| &c.cavities) {
        element(cavity.terminal);
        cavity.elements.iter().for_each(|&e| element(e));
    }
    for gang in c.modules.iter().flat_map(|m| &m.gangs) {
        assert!(gang.control.index() < c.controls.len());
    }
    let settings = c
        .scenarios
        .iter()
        .map(|s| &s.settings)
        .chain(c.expects.iter().flat_map(|e| &e.rows).map(|r| &r.settings));
    for s in settings {
        for &(control, position, _) in &s.controls {
            assert!(position < c.controls[control.index()].positions.len());
        }
        s.stimuli.iter().for_each(|s| assert!(s.0.index() < c.stimuli.len()));
    }
    c.tainted.iter().for_each(|&p| point(p));
    let inside = |loc: Loc| {
        let span = e.span(loc);
        let file = &e.files[loc.file.index()];
        assert!(file.text.get(span.range()).is_some(), "{loc:?}");
    };
    for problem in &e.problems {
        inside(problem.loc);
        problem.related.iter().for_each(|(loc, _)| inside(*loc));
        problem.fix.iter().flat_map(|f| &f.edits).for_each(|(loc, _)| inside(*loc));
        assert!(!problem.message.is_empty());
    }
    for name in &e.names {
        inside(name.loc);
        assert!(!e.text(name.loc).is_empty());
        e.describe(name.entity);
        if let Some(loc) = e.definition(name.entity) {
            inside(loc);
        }
    }
    keyon_circuit::dump(c);
}

fn run(libraries: &Texts, text: &str) -> Elaboration {
    let e = elaborate(libraries, &source("main", text));
    is_sound(&e);
    e
}

#[test]
fn the_corpus_is_sound() {
    let libraries = libraries();
    for (_, text) in corpus("circuits").iter().chain(&corpus("parts")) {
        run(&libraries, text);
    }
}

/// The dump without what depends on order: lines sorted, and lists within them.
fn canonical(e: &Elaboration) -> Vec<String> {
    let sort = |line: &str| match line.split_once(": ") {
        Some((head, tail)) => {
            let mut parts: Vec<&str> = tail.split(", ").collect();
            parts.sort_unstable();
            format!("{head}: {}", parts.join(", "))
        }
        None => line.to_owned(),
    };
    // Who shares is listed by index.
    let shared = |line: &str| match line.split_once(" shared by ") {
        Some((head, tail)) => {
            let mut parts: Vec<&str> = tail.split(", ").collect();
            parts.sort_unstable();
            format!("{} shared by {}", sort(head), parts.join(", "))
        }
        None => sort(line),
    };
    let mut lines: Vec<String> = keyon_circuit::dump(&e.circuit).lines().map(shared).collect();
    lines.sort();
    lines
}

/// A file's items as texts, the `circuit` line first.
fn items(text: &str) -> Vec<String> {
    let parse = keyon_syntax::parse(text);
    let placed = &parse.file.items;
    placed.iter().map(|p| text[p.item.span.moved(p.start).range()].to_owned()).collect()
}

/// Legs are numbered by the order of lines, and the second wire of a number is the second in the file.
fn depends_on_order(text: &str) -> bool {
    text.contains("@")
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn order_of_items_never_matters(which in 0usize..100, seed in any::<u64>()) {
        let libraries = libraries();
        let all = corpus("circuits");
        let (name, text) = &all[which % all.len()];
        let parts = items(text);
        let mut rest: Vec<&String> = parts[1..].iter().collect();
        // A shuffle of our own: proptest's would shrink for hours.
        let mut state = seed | 1;
        for i in (1..rest.len()).rev() {
            state = state.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
            rest.swap(i, (state >> 33) as usize % (i + 1));
        }
        // "The first supply" is the first in the file.
        rest.sort_by_key(|item| !item.contains("supply "));
        let supplies: Vec<&String> = parts.iter().filter(|item| item.contains("supply ")).collect();
        rest[..supplies.len()].copy_from_slice(&supplies);
        let shuffled = std::iter::once(&parts[0]).chain(rest).fold(String::new(), |all, item| all + item + "\n");
        let straight = run(&libraries, &parts.iter().fold(String::new(), |all, item| all + item + "\n"));
        let mixed = run(&libraries, &shuffled);
        prop_assert_eq!(straight.problems.len(), mixed.problems.len());
        if !depends_on_order(&shuffled) {
            let (one, two) = (canonical(&straight), canonical(&mixed));
            let differ: Vec<_> = one.iter().zip(&two).filter(|(a, b)| a != b).take(2).collect();
            prop_assert!(differ.is_empty() && one.len() == two.len(), "{}: {:?}", name, differ);
        }
    }

    #[test]
    fn no_text_breaks_it(which in 0usize..100, cuts in prop::collection::vec((any::<u32>(), any::<u32>(), 0u8..5), 1..6)) {
        let libraries = libraries();
        let all = corpus("circuits");
        let mut text = all[which % all.len()].1.clone();
        for (at, other, how) in cuts {
            let boundary = |n: u32| {
                let mut n = n as usize % (text.len() + 1);
                while !text.is_char_boundary(n) { n -= 1; }
                n
            };
            let (a, b) = (boundary(at), boundary(other));
            match how {
                0 => text.truncate(a),
                1 => {
                    let end = text[a..].char_indices().nth(7).map_or(text.len(), |(n, _)| a + n);
                    text.replace_range(a..end, "");
                }
                2 => { let piece: String = text[b..].chars().take(40).collect(); text.insert_str(a, &piece) }
                3 => text.insert_str(a, ["}", "{", "\n", "->", " 12 V ", "\"", ".", ", ", "0 ohm", "1e308 V"][other as usize % 10]),
                _ => {
                    let line = text[..a].rfind('\n').map_or(0, |n| n + 1);
                    let end = text[a..].find('\n').map_or(text.len(), |n| a + n);
                    text.replace_range(line..end, "");
                }
            }
        }
        run(&libraries, &text);
    }

    #[test]
    fn no_part_breaks_it(which in 0usize..100, at in any::<u32>(), with in 0usize..8) {
        let all = corpus("parts");
        let mut text = all[which % all.len()].1.clone();
        let mut n = at as usize % (text.len() + 1);
        while !text.is_char_boundary(n) { n -= 1; }
        text.insert_str(n, ["}", "{", "\n", "->", " 12 V ", "\"", " x", ", 1"][with]);
        let mut libraries = libraries();
        run(&libraries, &text);
        let key = format!("../parts/{}", all[which % all.len()].0);
        libraries.0.insert(key, text);
        let circuits = corpus("circuits");
        run(&libraries, &circuits[at as usize % circuits.len()].1);
    }
}
