//! The parser of a wire: its points, and what is said of each stretch.

use super::{
    atoms::{Ex, P, first_of, mark, name, plain_value, point, quantity, some, title, token, word, words},
    clauses::Q,
    piece::Piece,
    sig::Sig,
    statement::keyword,
};
use crate::{
    lexer::TokenKind as T,
    tree::{Name, Value, ValueKind},
};
use chumsky::prelude::*;

/// A wire: `[label [title]] point`, then stretches. A first word is the label unless an arrow follows it.
pub(crate) fn wire<'t, E: Ex<'t>>() -> P<'t, Vec<Piece>, E> {
    let arrow = || mark(T::Arrow, "`->` and the point where the wire ends");
    let from = || point().map(|n| Piece::WithName("from", n.span, n));
    let label = token("a wire number or a point", |s| {
        matches!(s.kind, T::Word | T::Int | T::Glued | T::Exp | T::Dec | T::Text | T::OpenText)
    })
    .map(|s: Sig<'t>| {
        let label = if matches!(s.kind, T::Text | T::OpenText) {
            Name { text: s.unquoted().text.into(), span: s.span }
        } else {
            s.name()
        };
        Piece::WithName("label", s.span, label)
    });
    let bare = from().then_ignore(arrow().rewind()).map(|p| vec![p]);
    let labelled = label
        .then(title().map(Piece::Title).or_not())
        .then(from().or_not())
        .map(|((label, title), from)| [Some(label), title, from].into_iter().flatten().collect::<Vec<_>>());
    let head = bare.or(labelled);
    let to = arrow().then(point()).map(|(a, n)| Piece::WithName("->", a.span, n)).boxed();
    let at = word("at").then(quantity()).map(|(w, q)| {
        let span = q.span;
        Piece::With("at", w.span, Value { kind: ValueKind::Quantity(q), tolerance: None, span })
    });
    let fitted = word("fitted")
        .ignore_then(words(&["with", "without"], "`with` or `without`"))
        .then(name())
        .map(|(w, n)| {
            Piece::WithName(if w.text == "with" { "fitted with" } else { "fitted without" }, w.span, n)
        });
    let number = |s: &Sig<'t>| matches!(s.kind, T::Int | T::Dec | T::Exp | T::Glued | T::Minus | T::Plus);
    let piece = first_of(
        vec![
            (|s| s.kind == T::Arrow, to.clone()),
            (may_be_awg, awg()),
            (number, plain_value().map(Piece::Value).boxed()),
            (|s| s.text == "at", at.boxed()),
            (|s| s.text == "fitted", fitted.boxed()),
        ],
        colour().map(Piece::Word).boxed(),
    );
    keyword()
        .ignore_then(head.or_not())
        .then(to.then(piece.repeated().collect::<Vec<_>>()).or_not())
        .map(|(head, stretches)| {
            let mut all = head.unwrap_or_default();
            if let Some((first, mut pieces)) = stretches {
                all.push(first);
                all.append(&mut pieces);
            }
            all
        })
        .boxed()
}

/// Whether a wire's size in AWG may begin here.
fn may_be_awg(s: &Sig<'_>) -> bool {
    s.kind == T::Int
        || s.text.get(..3).is_some_and(|t| t.eq_ignore_ascii_case("AWG"))
        || s.text.ends_with(['g', 'G'])
}

/// `AWG 18`, `AWG 2/0`, `18 AWG`, and the glued spellings, which are reported afterwards.
fn awg<'t, E: Ex<'t>>() -> Q<'t, E> {
    let int = some(|s: &Sig<'t>| s.kind == T::Int);
    let zero =
        mark(T::Slash, "`/`").ignore_then(token("`0`", |s| s.kind == T::Int && s.text == "0")).or_not();
    let size = |int: &str, zero: bool| {
        let number = int.parse::<i32>().unwrap_or(0);
        if zero || int == "0" { 1 - number.max(1) } else { number }
    };
    let sized = int.then(zero).map(move |(i, z): (Sig<'t>, Option<Sig<'t>>)| {
        (size(i.text, z.is_some()), z.map_or(i.span, |z| i.span.to(z.span)))
    });
    let before = word("AWG").then(sized.clone()).map(|(w, (n, s))| Piece::Awg(n, w.span.to(s), false));
    let after = sized.then(word("AWG")).map(|((n, s), w)| Piece::Awg(n, s.to(w.span), false));
    let glued = some(|s: &Sig<'t>| {
        let lower = s.text.to_ascii_lowercase();
        let digits = lower.strip_prefix("awg").or_else(|| lower.strip_suffix("awg"));
        digits.is_some_and(|d| !d.is_empty() && d.bytes().all(|b| b.is_ascii_digit()))
    })
    .map(|s: Sig<'t>| {
        let digits: String = s.text.chars().filter(char::is_ascii_digit).collect();
        Piece::Awg(digits.parse().unwrap_or(0), s.span, true)
    });
    choice((before, after, glued)).boxed()
}

/// Colour letters with a tracer, `OG/BK`: joined into one name.
fn colour<'t, E: Ex<'t>>() -> P<'t, Name, E> {
    let letters = token("a colour such as `OG` or `OG/BK`", |s| s.kind == T::Word);
    letters
        .clone()
        .then(mark(T::Slash, "`/`").ignore_then(letters).repeated().collect::<Vec<Sig<'t>>>())
        .map(|(first, more): (Sig<'t>, Vec<Sig<'t>>)| {
            let mut name = first.name();
            for sig in more {
                name =
                    Name { text: format!("{}/{}", name.text, sig.text).into(), span: name.span.to(sig.span) };
            }
            name
        })
        .boxed()
}
