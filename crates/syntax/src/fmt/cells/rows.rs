//! Columns of rows: claims, readings, settings, gang positions, tables.

use super::{Builder, Cells, View, mark};
use crate::{fmt::entries::Word, lexer::TokenKind, step::step};

/// A row of `expect` or `readings`: what is measured, what it is said to be, `with` what.
pub(super) fn claim(words: &[Word<'_>]) -> Cells {
    let view = View(words);
    let mut build = Builder::default();
    let says = STATES.contains(&view.text(1));
    if matches!(view.text(0), "unplug" | "pull" | "jumper" | "load") && is_name(view, 1) && !says {
        return build.block(mark("set-up"));
    }
    // `ohms A to B`, `clamp 431`, `lamp A to B`: but a device may have such a name.
    let value = view.after_quantity(1);
    let has_value = value > 2 || (value == 2 && view.len() == 2) || view.is(2, TokenKind::Dots);
    let probe = matches!(view.text(0), "ohms" | "clamp" | "lamp") && is_name(view, 1) && !says && !has_value;
    let mut at = if probe && view.len() > 2 { 2 } else { 1 };
    if view.is_word(at, "to") {
        at += 2;
    }
    if at < view.len() {
        build.cell(at, 0, 2, 32);
    }
    let with = view.find(at + 1, |i| view.is_word(i, "with"));
    if with < view.len() {
        build.cell(with, 1, 2, 32);
    }
    build.block(mark("claim"))
}

fn is_name(view: View<'_, '_>, at: usize) -> bool {
    use TokenKind::*;
    matches!(view.kind(at), Some(Word | Path | Int | Glued | DigitPath | Dec | Exp))
}

/// Words with which an assertion begins.
const STATES: &[&str] = &[
    "below",
    "above",
    "about",
    "operates",
    "weak",
    "rests",
    "chatters",
    "holds",
    "fed",
    "grounded",
    "referenced",
    "between",
    "open",
    "clash",
    "blown",
    "good",
    "high",
    "low",
    "bright",
    "dim",
    "dark",
];

/// A row of two columns: `key run`, `fault open 431`, `author "…"`.
pub(super) fn pair(words: &[Word<'_>]) -> Cells {
    let mut build = Builder::default();
    if words.len() > 1 {
        build.cell(1, 0, 1, 24);
    }
    build.block(mark("pair"))
}

/// `POSITION STAGE PLACE STAGE PLACE …`
pub(super) fn gang(words: &[Word<'_>]) -> Cells {
    let view = View(words);
    let mut build = Builder::default();
    let mut column = 0;
    let mut at = 1;
    while at < view.len() {
        step();
        build.cell(at, column, 2, 28);
        column = column.saturating_add(1);
        at += 2 + usize::from(view.is(at + 2, TokenKind::Comma));
    }
    build.block(mark("gang"))
}

/// `TEMPERATURE RESISTANCE`
pub(super) fn table(words: &[Word<'_>]) -> Cells {
    let view = View(words);
    let mut build = Builder::default();
    let second = view.after_quantity(0);
    if second > 0 && second < view.len() {
        build.cell(second, 0, 2, 20);
    }
    build.block(mark("pair"))
}
