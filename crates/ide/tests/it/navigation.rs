//! From names to places, symbols, folds, fixes, layout.

use crate::fixture::{Fixture, PUMP, pump_at, pump_with};
use keyon_ide::{Symbol, actions, definition, folds, format, highlight, references, symbols};

fn places(fixture: &Fixture, locs: Vec<keyon_circuit::model::Loc>) -> Vec<String> {
    locs.into_iter().map(|loc| fixture.place(fixture.elaboration.span(loc))).collect()
}

#[test]
fn definitions() {
    let go = |needle: &str| {
        let fixture = pump_at(needle);
        places(&fixture, fixture.view(|view| definition(view, fixture.offset))).join(", ")
    };
    let needles = [
        "-> S1",
        "-> pump.1",
        "-> ECU.A.3",
        "wire 4 pump",
        "-> ECU",
        ": valve",
        "(ohms",
        "float high",
        "{ float",
        "pump_cmd on",
        "2 ohms",
    ];
    let shown: Vec<_> = needles.iter().map(|needle| format!("{needle}  =>  {}", go(needle))).collect();
    insta::assert_snapshot!(shown.join("\n"));
}

#[test]
fn references_are_found_and_marked() {
    let fixture = pump_at("splice S1");
    let found = places(&fixture, fixture.view(|view| references(view, fixture.offset, true)));
    assert_eq!(found.len(), 4, "{found:?}");
    let without = fixture.view(|view| references(view, fixture.offset, false));
    assert_eq!(without.len(), 3);
    let marks = fixture.view(|view| highlight(view, fixture.offset));
    assert_eq!(marks.iter().filter(|(_, declares)| *declares).count(), 1);
    assert_eq!(marks.len(), 4);
    let nothing = Fixture::new("# no name| here\n");
    assert!(nothing.view(|view| references(view, nothing.offset, true)).is_empty());
}

#[test]
fn a_part_is_found_from_its_library() {
    let fixture = Fixture::corpus("circuits/orchard_sprayer.keyon", ": boom_valve");
    let locs = fixture.view(|view| definition(view, fixture.offset));
    let file = &fixture.elaboration.files[locs[0].file.index()];
    assert!(file.key.ends_with("spray.keyon"), "{}", file.key);
    assert_eq!(&file.text[fixture.elaboration.span(locs[0]).range()], "boom_valve");
}

#[test]
fn symbols_are_a_tree() {
    let fixture = pump_with("|");
    let mut out = String::new();
    let symbols = fixture.view(symbols);
    let mut waiting: Vec<(usize, &Symbol)> = symbols.iter().rev().map(|s| (0, s)).collect();
    while let Some((depth, symbol)) = waiting.pop() {
        let within = symbol.span.start <= symbol.name_span.start && symbol.name_span.end <= symbol.span.end;
        assert!(within, "{} is selected outside itself", symbol.name);
        let detail = symbol.detail.as_deref().unwrap_or("");
        out.push_str(&format!("{}{:?} {} ({detail})\n", "  ".repeat(depth), symbol.kind, symbol.name));
        waiting.extend(symbol.children.iter().rev().map(|s| (depth + 1, s)));
    }
    insta::assert_snapshot!(out);
}

#[test]
fn folds_cover_bodies_and_comments() {
    let fixture = Fixture::new(
        "# one\n# two\ncircuit a\n\nmodule M {\n  connector A {\n    1 g ground\n  }\n}\nwire 1 a -> b # x|\n",
    );
    let folds: Vec<_> = folds(&fixture.elaboration.files[0])
        .into_iter()
        .map(|fold| format!("{} {:?}", fold.comment, &fixture.text()[fold.span.range()]))
        .collect();
    insta::assert_snapshot!(folds.join("\n"));
}

#[test]
fn fixes_are_offered_where_they_are_needed() {
    let fixture = pump_with("wire 8 S11 -> G1|\n");
    let findings =
        keyon_check::findings(&fixture.elaboration, &keyon_check::Settings::default(), &keyon_solve::Never)
            .unwrap();
    let at = fixture.text().find("S11").unwrap();
    let here = keyon_syntax::Span::new(at, at);
    let found = actions(&fixture.elaboration, &findings, here);
    assert_eq!(found[0].edits[0].1, "S1");
    assert_eq!(found[0].rule, "unknown-name");
    let elsewhere = actions(&fixture.elaboration, &findings, keyon_syntax::Span::new(0, 0));
    assert!(elsewhere.iter().all(|action| action.finding.start == 0), "{elsewhere:?}");
}

#[test]
fn layout_is_given_as_edits() {
    let messy = PUMP.replace("wire 2 S1 -> pump.1", "wire    2 S1->pump.1");
    let mut text = messy.clone();
    for (span, new) in format(&messy).iter().rev() {
        text.replace_range(span.range(), new);
    }
    assert_eq!(text, keyon_syntax::fmt::format(&messy));
    assert!(format(&text).is_empty(), "laid out already");
}
