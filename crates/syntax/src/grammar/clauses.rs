//! The parsers of clauses: a word that says what follows it, and what follows.

use super::{
    atoms::{
        Ex, P, mark, name, number, pin, point, points, position_list, quantity, range, some, text, token,
        value, word, words,
    },
    piece::{Piece, Throw},
    sig::Sig,
};
use crate::{lexer::TokenKind as T, tree::Name};
use chumsky::prelude::*;

/// A parser of one piece.
pub(crate) type Q<'t, E> = P<'t, Piece, E>;

/// `WORD value`.
pub(crate) fn with<'t, E: Ex<'t>>(clause: &'static str) -> Q<'t, E> {
    word(clause).then(value()).map(move |(w, v)| Piece::With(clause, w.span, v)).boxed()
}

pub(crate) fn with_range<'t, E: Ex<'t>>(clause: &'static str) -> Q<'t, E> {
    word(clause).then(range()).map(move |(w, r)| Piece::WithRange(clause, w.span, Box::new(r))).boxed()
}

pub(crate) fn with_point<'t, E: Ex<'t>>(clause: &'static str) -> Q<'t, E> {
    word(clause).then(point()).map(move |(w, n)| Piece::WithName(clause, w.span, n)).boxed()
}

pub(crate) fn with_pin<'t, E: Ex<'t>>(clause: &'static str) -> Q<'t, E> {
    word(clause).then(pin()).map(move |(w, n)| Piece::WithName(clause, w.span, n)).boxed()
}

pub(crate) fn with_points<'t, E: Ex<'t>>(clause: &'static str) -> Q<'t, E> {
    word(clause).then(points()).map(move |(w, n)| Piece::WithNames(clause, w.span, n)).boxed()
}

pub(crate) fn with_text<'t, E: Ex<'t>>(clause: &'static str) -> Q<'t, E> {
    word(clause).then(text()).map(move |(w, t)| Piece::WithText(clause, w.span, t)).boxed()
}

pub(crate) fn flag<'t, E: Ex<'t>>(clause: &'static str) -> Q<'t, E> {
    word(clause).map(move |w| Piece::Flag(clause, w.span)).boxed()
}

/// `shared by A, B`.
pub(crate) fn shared_by<'t, E: Ex<'t>>() -> Q<'t, E> {
    word("shared")
        .then_ignore(word("by"))
        .then(points())
        .map(|(w, n)| Piece::WithNames("shared", w.span, n))
        .boxed()
}

/// `where`, `access`, `sealed`, `face`, `moves`, `hazard`, `restricted`.
pub(crate) fn attribute<'t, E: Ex<'t>>() -> Q<'t, E> {
    choice((
        with_text("where"),
        word("access")
            .then(words(&["easy", "cover", "buried"], "`easy`, `cover` or `buried`"))
            .map(|(w, n): (Sig<'t>, Sig<'t>)| Piece::WithName("access", w.span, n.name()))
            .boxed(),
        flag("sealed"),
        flag("moves"),
        with_text("hazard"),
        flag("restricted"),
        face(),
    ))
    .boxed()
}

/// `face 2 x 6`, also `face 2x6`.
fn face<'t, E: Ex<'t>>() -> Q<'t, E> {
    let count = |s: &Sig<'t>| s.text.parse::<u32>().unwrap_or(0);
    let apart = token("rows", |s| s.kind == T::Int)
        .then_ignore(word("x"))
        .then(token("columns", |s| s.kind == T::Int));
    let apart = apart.map(move |(a, b): (Sig<'t>, Sig<'t>)| (count(&a), count(&b), b.span));
    let close = some(|s: &Sig<'t>| s.kind == T::Glued && s.text.contains('x')).map(|s: Sig<'t>| {
        let (rows, columns) = s.text.split_once('x').unwrap_or_default();
        (rows.parse().unwrap_or(0), columns.parse().unwrap_or(0), s.span)
    });
    word("face").then(apart.or(close)).map(|(w, (r, c, s))| Piece::Face(r, c, w.span.to(s))).boxed()
}

/// `pull_up R to 5 V` or `to vref`.
pub(crate) fn pull_up<'t, E: Ex<'t>>() -> Q<'t, E> {
    let to = quantity().map(Ok).or(name().map(Err));
    word("pull_up")
        .then(value())
        .then_ignore(word("to"))
        .then(to)
        .map(|((w, v), to)| Piece::PullUp(w.span, Box::new((v, to))))
        .boxed()
}

/// `30 -> (rest 87a, active 87)`, in either order.
pub(crate) fn throw<'t, E: Ex<'t>>() -> Q<'t, E> {
    let place = |a: &'static str, b: &'static str| {
        word(a)
            .ignore_then(pin())
            .then_ignore(mark(T::Comma, "`,`").or_not())
            .then_ignore(word(b))
            .then(pin())
    };
    let places = place("rest", "active").or(place("active", "rest").map(|(active, rest)| (rest, active)));
    pin()
        .then_ignore(mark(T::Arrow, "`->`"))
        .then(places.delimited_by(mark(T::OpenParen, "`(`"), mark(T::CloseParen, "`)`")))
        .map(|(common, (rest, active))| Piece::Throw(Box::new(Throw { common, rest, active })))
        .boxed()
}

/// `closed when K energised`, `closed in run, start`, and the same with `open` or, for changeovers, with neither.
pub(crate) fn condition<'t, E: Ex<'t>>() -> Q<'t, E> {
    let when = |clause: &'static str| {
        word("when")
            .then(point())
            .then_ignore(word("energised"))
            .map(move |(w, n)| Piece::WithName(clause, w.span, n))
    };
    let within = |clause: &'static str| {
        word("in").then(position_list()).map(move |(w, n)| Piece::WithNames(clause, w.span, n))
    };
    choice((
        word("closed").ignore_then(when("closed when").or(within("closed in"))),
        word("open").ignore_then(when("open when").or(within("open in"))),
        when("closed when"),
        within("closed in"),
    ))
    .boxed()
}

/// `live in CONTROL POSITION`.
pub(crate) fn live<'t, E: Ex<'t>>() -> P<'t, Piece, E> {
    word("live")
        .then_ignore(word("in"))
        .then(point())
        .then(pin())
        .map(|((w, control), position)| Piece::Pair("live", w.span, Box::new((control, position))))
        .boxed()
}

pub(crate) fn steinhart<'t, E: Ex<'t>>() -> P<'t, Piece, E> {
    word("steinhart")
        .then(number())
        .then(number())
        .then(number())
        .map(|(((w, a), b), c)| Piece::Numbers(w.span, [a, b, c]))
        .boxed()
}

/// `no-feed-path`: words and hyphens.
pub(crate) fn rule_name<'t, E: Ex<'t>>() -> P<'t, Piece, E> {
    let part = token("a rule's name", |s| s.kind == T::Word);
    part.clone()
        .then(mark(T::Minus, "`-`").ignore_then(part).repeated().collect::<Vec<Sig<'t>>>())
        .map(|(first, more): (Sig<'t>, Vec<Sig<'t>>)| {
            let mut name = first.name();
            for sig in more {
                name =
                    Name { text: format!("{}-{}", name.text, sig.text).into(), span: name.span.to(sig.span) };
            }
            Piece::Word(name)
        })
        .boxed()
}
