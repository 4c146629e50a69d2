//! Columns of the items of a file.

use super::{Block, Builder, Cells, View, clauses, mark};
use crate::{fmt::entries::Word, lexer::TokenKind, step::step};

/// Items whose path may stand behind their value, and is written before it.
const PATH_FIRST: &[&str] = &[
    "fuse",
    "breaker",
    "link",
    "resistor",
    "lamp",
    "heater",
    "coil",
    "winding",
    "motor",
    "thermistor",
    "variable",
    "diode",
    "switch",
];

/// Puts the path before the value: `fuse F7  10 A  key.R -> S12`.
pub(super) fn path_first(words: &mut [Word<'_>]) {
    let view = View(words);
    if !PATH_FIRST.contains(&view.text(0)) {
        return;
    }
    let value = 2 + usize::from(view.is(2, TokenKind::Text));
    let arrow = view.find(value, |i| view.is(i, TokenKind::Arrow));
    if arrow <= value + 1 || arrow + 1 >= view.len() {
        return;
    }
    if let Some(stretch) = words.get_mut(value..arrow + 2) {
        stretch.rotate_right(3);
    }
}

/// The cells of an item's first line.
pub(super) fn cells(words: &[Word<'_>]) -> Cells {
    let view = View(words);
    let mut build = Builder::default();
    let head = view.text(0);
    match head {
        "wire" => return wire(view),
        "supply" | "ground" | "splice" => {
            let at = named(&mut build, view, 1);
            clauses::tail(&mut build, view, at, clauses::SOURCE, 10);
        }
        "fuse" | "breaker" | "link" => {
            let at = named(&mut build, view, 1);
            let at = path(&mut build, view, at, 2);
            clauses::tail(&mut build, view, at, clauses::ELEMENT, 10);
            return build.block(mark("fuse"));
        }
        "resistor" | "lamp" | "heater" | "coil" | "winding" | "motor" | "thermistor" | "variable"
        | "diode" | "switch" => {
            let at = named(&mut build, view, 1);
            let at = path(&mut build, view, at, 2);
            clauses::tail(&mut build, view, at, clauses::ELEMENT, 10);
        }
        "control" => {
            let at = named(&mut build, view, 1);
            clauses::tail(&mut build, view, at, clauses::ELEMENT, 10);
        }
        "device" | "part" | "module" | "connector" | "scenario" | "exercise" => header(&mut build, view),
        "circuit" | "variant" => {
            named(&mut build, view, 1);
        }
        "use" => {
            build.cell(1, 0, 1, 40);
            let alias = view.find(2, |i| view.is_word(i, "as"));
            if alias < view.len() {
                build.cell(alias, 1, 1, 40);
            }
        }
        "allow" => {
            let reason = view.find(1, |i| view.is(i, TokenKind::Text));
            if reason < view.len() {
                build.cell(reason, 1, 1, 40);
            }
        }
        _ => return Cells { block: Block::ALONE, ..build.block(0) },
    }
    build.block(mark(head))
}

/// `NAME ["title"]`: the index after it.
fn named(build: &mut Builder, view: View<'_, '_>, at: usize) -> usize {
    build.cell(at, 0, 1, 24);
    let mut at = at + 1;
    // A part's parameters belong to its name.
    if view.is(at, TokenKind::OpenParen) {
        at = view.find(at + 1, |i| view.is(i, TokenKind::CloseParen)) + 1;
    }
    if view.is(at, TokenKind::Text) {
        build.cell(at, 1, 1, 36);
        at += 1;
        // `"Lüftung" en "Ventilation"`
        while view.is(at, TokenKind::Word) && view.is(at + 1, TokenKind::Text) && view.text(at).len() == 2 {
            at += 2;
        }
    }
    at
}

/// `A -> B` at `at`, if it stands there: the index after it.
pub(super) fn path(build: &mut Builder, view: View<'_, '_>, at: usize, gap: usize) -> usize {
    if !view.is(at + 1, TokenKind::Arrow) {
        return at;
    }
    build.cell(at, 5, gap, 40);
    if view.is(at + 2, TokenKind::OpenParen) {
        (view.find(at + 3, |i| view.is(i, TokenKind::CloseParen)) + 1).min(view.len())
    } else {
        at + 3
    }
}

fn header(build: &mut Builder, view: View<'_, '_>) {
    let mut at = named(build, view, 1);
    if view.is(at, TokenKind::Colon) {
        build.cell(at, 5, 1, 40);
        at = view
            .find(at + 2, |i| clauses::begins(view, i, clauses::HEADER) || view.is(i, TokenKind::OpenBrace));
    } else if view.is_word(at, "in") {
        build.cell(at, 5, 1, 40);
        at += 2;
    }
    clauses::tail(build, view, at, clauses::HEADER, 10);
}

fn wire(view: View<'_, '_>) -> Cells {
    let mut build = Builder::default();
    let mut at = 1;
    if !view.is(2, TokenKind::Arrow) {
        build.cell(1, 0, 1, 12);
        at = 2;
        if view.is(2, TokenKind::Text) {
            build.cell(2, 1, 1, 36);
            at = 3;
        }
        build.cell(at, 5, 2, 40);
    } else {
        build.cell(1, 5, 1, 40);
    }
    let last_arrow = (at..view.len()).rev().find(|&i| view.is(i, TokenKind::Arrow)).unwrap_or(at);
    let mut column = 9;
    let mut at = last_arrow + 2;
    while at < view.len() {
        step();
        let (next, class) = conductor(view, at);
        // What stands out of order has no column.
        column = if class > column { class } else { column.saturating_add(20) };
        build.cell(at, column, 2, 16);
        at = next.max(at + 1);
    }
    build.block(mark("wire"))
}

/// One clause of a conductor: the index after it, and its column.
fn conductor(view: View<'_, '_>, at: usize) -> (usize, u16) {
    const GAUGE: u16 = 10;
    const COLOUR: u16 = 11;
    const LENGTH: u16 = 12;
    const REST: u16 = 13;
    let size = |i: usize| i + 1 + 2 * usize::from(view.is(i + 1, TokenKind::Slash));
    if view.is_word(at, "AWG") {
        return (size(at + 1), GAUGE);
    }
    if view.is(at, TokenKind::Int) && view.is_word(size(at), "AWG") {
        return (size(at) + 1, GAUGE);
    }
    if view.is_word(at, "at") {
        return (view.after_quantity(at + 1), REST);
    }
    if view.is_word(at, "fitted") {
        return (at + 3, REST);
    }
    let after = view.after_quantity(at);
    if after > at {
        let unit = view.text(after - 1);
        let area = unit.ends_with("mm2") || unit.ends_with("mm²");
        let after = if view.is(after, TokenKind::PlusMinus) { view.after_quantity(after + 1) } else { after };
        return (after, if area { GAUGE } else { LENGTH });
    }
    (size(at), COLOUR)
}
