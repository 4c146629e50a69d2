//! Clauses: a word that says what the value after it is.

use super::{Block, Builder, Cells, View, extend, mark};
use crate::{fmt::entries::Word, lexer::TokenKind, step::step};

/// What may be said of a thing's place and dangers.
pub(super) const ATTRIBUTES: &[&str] =
    &["where", "access", "sealed", "face", "moves", "hazard", "restricted"];

/// Clauses of elements, fuses, switches.
pub(super) const ELEMENT: &[&str] = &[
    "pulls_in",
    "drops_out",
    "rated",
    "turns_at",
    "runs",
    "cold",
    "beta",
    "steinhart",
    "table",
    "wiper",
    "out",
    "travel",
    "over",
    "ratio",
    "drop",
    "span",
    "nominal",
    "closed",
    "open",
    "when",
    "in",
    "positions",
    "where",
    "access",
    "sealed",
    "face",
    "moves",
    "hazard",
    "restricted",
];

/// Clauses of supplies, grounds and splices.
pub(super) const SOURCE: &[&str] = &[
    "inner",
    "range",
    "negative",
    "limit",
    "live",
    "shared",
    "where",
    "access",
    "sealed",
    "face",
    "moves",
    "hazard",
    "restricted",
];

/// Options of a module's cavity.
pub(super) const CAVITY: &[&str] = &[
    "on",
    "limit",
    "pwm",
    "clamp",
    "inner",
    "draws",
    "pull_up",
    "pull_down",
    "threshold",
    "range",
    "shared",
];

/// Clauses of headers.
pub(super) const HEADER: &[&str] =
    &["uses", "pwm", "accuracy", "where", "access", "sealed", "face", "moves", "hazard", "restricted"];

/// Words after which a name comes, whatever it looks like.
const BEFORE_NAME: &[&str] = &[
    "in",
    "when",
    "to",
    "from",
    "by",
    "positions",
    "wiper",
    "out",
    "negative",
    "rest",
    "active",
    "uses",
    "access",
];

/// Whether a clause of `set` begins at `at`.
pub(super) fn begins(view: View<'_, '_>, at: usize, set: &[&str]) -> bool {
    if !view.is(at, TokenKind::Word) || !set.contains(&view.text(at)) {
        return false;
    }
    let previous = at.checked_sub(1).map(|i| (view.kind(i), view.text(i)));
    match (previous, view.text(at)) {
        (Some((Some(TokenKind::Comma | TokenKind::Arrow | TokenKind::Equals | TokenKind::Dots), _)), _) => {
            false
        }
        // `closed when`, `open in`: one clause.
        (Some((_, "closed" | "open" | "live")), "when" | "in") => false,
        (Some((Some(TokenKind::Word), word)), _) if BEFORE_NAME.contains(&word) => false,
        (_, "closed" | "open") => view.is_word(at + 1, "when") || view.is_word(at + 1, "in"),
        _ => true,
    }
}

/// Cells for the clauses from word `from` on. The first begins a column of its own, whatever it is; the others are
/// aligned with those lines that have the same clauses in the same order up to there.
pub(super) fn tail(build: &mut Builder, view: View<'_, '_>, from: usize, set: &[&str], column: u16) {
    let mut key = 0;
    let mut column = column;
    let mut at = from;
    while at < view.len() {
        step();
        if view.is(at, TokenKind::OpenBrace) && view.text(at.saturating_sub(1)) != "table" {
            build.cell(at, BODY, 1, usize::MAX);
            return;
        }
        let name = if set.contains(&view.text(at)) { view.text(at) } else { "#" };
        build.keyed(at, column, key, 2, 28);
        key = extend(if key == 0 { mark("") } else { key }, name);
        column = column.saturating_add(1);
        let begin = at;
        let mut next = view.find(at + 1, |i| {
            begins(view, i, set) || (view.is(i, TokenKind::OpenBrace) && view.text(i - 1) != "table")
        });
        // `out 2  0.5 .. 4.5 V`, `wiper 2  5 kohm`: the value after the pin is a thing of its own.
        if matches!(name, "out" | "wiper") && begin + 2 < next {
            next = begin + 2;
        }
        at = next;
    }
}

/// The column of a one-line body.
pub(super) const BODY: u16 = 900;

/// What follows the `}` of a table.
pub(super) fn after_close(words: &[Word<'_>]) -> Cells {
    let view = View(words);
    let mut build = Builder::default();
    if !view.is(1, TokenKind::OpenBrace) {
        tail(&mut build, view, 1, ELEMENT, 1);
    }
    Cells { block: Block::ALONE, ..build.block(0) }
}
