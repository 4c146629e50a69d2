//! Columns of the statements in a part, a device, a module, and of a connector's cavities.

use super::{Block, Builder, Cells, View, clauses, mark, top};
use crate::{fmt::entries::Word, lexer::TokenKind};

/// A statement of a part, a device or a module.
pub(super) fn cells(words: &[Word<'_>]) -> Cells {
    let view = View(words);
    let mut build = Builder::default();
    match view.text(0) {
        "resistor" | "lamp" | "heater" | "coil" | "winding" | "motor" | "thermistor" | "variable"
        | "diode" | "track" | "transducer" | "contact" | "changeover" => edge(&mut build, view),
        "connector" | "gang" => {
            let mut at = 2;
            if view.is(at, TokenKind::Text) {
                at += 1;
            }
            clauses::tail(&mut build, view, at, clauses::HEADER, 10);
        }
        "grade" => {
            build.cell(1, 0, 1, 24);
            build.cell(2, clauses::BODY, 1, 40);
        }
        _ => return Cells { block: Block::ALONE, ..build.block(0) },
    }
    build.block(mark(view.text(0)))
}

/// `KIND [NAME] [A -> B] VALUES`
fn edge(build: &mut Builder, view: View<'_, '_>) {
    let arrow = view.find(1, |i| view.is(i, TokenKind::Arrow));
    let mut at = 1;
    if arrow < view.len() {
        if arrow == 3 {
            build.cell(1, 0, 1, 24);
            at = 2;
        }
        at = top::path(build, view, at, if at == 2 { 2 } else { 1 });
    } else if named(view) {
        build.cell(1, 0, 1, 24);
        at = 2;
    }
    clauses::tail(build, view, at, clauses::ELEMENT, 10);
    // A value right behind the keyword stands one blank from it.
    if let Some(first) = build.cells.first_mut()
        && first.at == 1
    {
        first.gap = 1;
    }
}

/// Whether a name comes before the values: two words are name and value, one is the value.
fn named(view: View<'_, '_>) -> bool {
    let is_clause = |at| clauses::begins(view, at, clauses::ELEMENT);
    view.is(1, TokenKind::Word)
        && !is_clause(1)
        && view.len() > 2
        && !is_clause(2)
        && !view.is(2, TokenKind::PlusMinus)
}

/// A cavity of a module's connector.
pub(super) fn cavity(words: &[Word<'_>]) -> Cells {
    let view = View(words);
    let mut build = Builder::default();
    let attribute = clauses::ATTRIBUTES.contains(&view.text(0))
        && (view.len() == 1 || !view.is(2, TokenKind::Word) || view.is_word(0, "face"));
    if attribute || view.is_word(0, "allow") {
        return Cells { block: Block::ALONE, ..build.block(0) };
    }
    build.cell(1, 0, 2, 20);
    build.cell(2, 1, 2, 16);
    let at = match view.text(2) {
        "drives" => view.find(4, |i| clauses::begins(view, i, clauses::CAVITY)),
        "switches" => view.find(3, |i| view.is(i, TokenKind::CloseBrace)).max(6) + 1,
        _ => view.find(3, |i| clauses::begins(view, i, clauses::CAVITY)),
    };
    clauses::tail(&mut build, view, at, clauses::CAVITY, 10);
    build.block(mark("cavity"))
}
