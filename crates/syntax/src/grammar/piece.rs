//! What a statement is made of. chumsky reads a statement into pieces in the order they were written; the builders
//! (`sources.rs` and its neighbours) sort the pieces into the tree, so that clauses may stand in any order.

use super::{
    atoms::{
        Ex, P, mark, name, path, pin, plain_value, point, points, position_list, quantity, range, some, text,
        title, token, value, word, words,
    },
    sig::Sig,
};
use crate::{
    Span,
    lexer::TokenKind as T,
    tree::{Name, Path, Quantity, Range, Text, Title, Value},
};
use chumsky::prelude::*;

/// One piece.
#[derive(Clone, Debug)]
pub(crate) enum Piece {
    /// A word, a pin or a path that no clause takes: a name, a parameter, a colour.
    Word(Name),
    Title(Title),
    Path(Path),
    /// A quantity, with its tolerance.
    Value(Value),
    Range(Range),
    /// `inner 15 mohm`: the clause's word and its value.
    With(&'static str, Span, Value),
    WithRange(&'static str, Span, Range),
    WithName(&'static str, Span, Name),
    WithNames(&'static str, Span, Vec<Name>),
    WithText(&'static str, Span, Text),
    /// Two names: `live in key run`, `switches { X, Y }`, `jumper A to B`, `energised`.
    Pair(&'static str, Span, Name, Name),
    Flag(&'static str, Span),
    /// `AWG 18`; whether it was written without the blank.
    Awg(i32, Span, bool),
    Face(u32, u32, Span),
    /// `steinhart A B C`.
    Numbers(Span, [f64; 3]),
    /// `accuracy 0.5 %, 10 mV`.
    Quantities(Span, Vec<Quantity>),
    /// `common -> (rest PIN, active PIN)`.
    Throw {
        common: Name,
        rest: Name,
        active: Name,
    },
    /// `pull_up R to 5 V`.
    PullUp(Span, Value, Result<Quantity, Name>),
}

impl Piece {
    /// Where it begins and ends.
    pub(crate) fn span(&self) -> Span {
        match self {
            Self::Word(n) => n.span,
            Self::Title(t) => t.text.span,
            Self::Path(p) => p.from.span.to(p.to.span),
            Self::Value(v) => v.span,
            Self::Range(r) => r.span,
            Self::With(_, s, v) => s.to(v.span),
            Self::WithRange(_, s, r) => s.to(r.span),
            Self::WithName(_, s, n) => s.to(n.span),
            Self::WithNames(_, s, n) => n.last().map_or(*s, |n| s.to(n.span)),
            Self::WithText(_, s, t) => s.to(t.span),
            Self::Pair(_, s, _, b) => s.to(b.span),
            Self::Flag(_, s)
            | Self::Awg(_, s, _)
            | Self::Face(_, _, s)
            | Self::Numbers(s, _)
            | Self::Quantities(s, _) => *s,
            Self::PullUp(s, v, _) => s.to(v.span),
            Self::Throw { common, rest, active } => common.span.to(rest.span).to(active.span),
        }
    }
    /// The word of its clause.
    pub(crate) fn clause(&self) -> Option<&'static str> {
        match self {
            Self::With(w, ..)
            | Self::WithRange(w, ..)
            | Self::WithName(w, ..)
            | Self::WithNames(w, ..)
            | Self::WithText(w, ..)
            | Self::Pair(w, ..)
            | Self::Flag(w, _) => Some(w),
            Self::PullUp(..) => Some("pull_up"),
            Self::Numbers(..) => Some("steinhart"),
            Self::Face(..) => Some("face"),
            _ => None,
        }
    }
}

type Q<'t, E> = P<'t, Piece, E>;

/// `WORD value`.
pub(crate) fn with<'t, E: Ex<'t>>(clause: &'static str) -> Q<'t, E> {
    word(clause).then(value()).map(move |(w, v)| Piece::With(clause, w.span, v)).boxed()
}

pub(crate) fn with_range<'t, E: Ex<'t>>(clause: &'static str) -> Q<'t, E> {
    word(clause).then(range()).map(move |(w, r)| Piece::WithRange(clause, w.span, r)).boxed()
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

/// Any word, pin or path.
pub(crate) fn any_word<'t, E: Ex<'t>>() -> Q<'t, E> {
    token("a name", |s| matches!(s.kind, T::Word | T::Path | T::Glued | T::Exp | T::Int))
        .map(|s| Piece::Word(s.name()))
        .boxed()
}

pub(crate) fn title_piece<'t, E: Ex<'t>>() -> Q<'t, E> {
    title().map(Piece::Title).boxed()
}

pub(crate) fn path_piece<'t, E: Ex<'t>>() -> Q<'t, E> {
    path().map(Piece::Path).boxed()
}

pub(crate) fn value_piece<'t, E: Ex<'t>>() -> Q<'t, E> {
    plain_value().map(Piece::Value).boxed()
}

pub(crate) fn range_piece<'t, E: Ex<'t>>() -> Q<'t, E> {
    range().map(Piece::Range).boxed()
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

/// Whether a wire's size in AWG may begin here.
pub(crate) fn may_be_awg(s: &Sig<'_>) -> bool {
    s.kind == T::Int
        || s.text.get(..3).is_some_and(|t| t.eq_ignore_ascii_case("AWG"))
        || s.text.ends_with(['g', 'G'])
}

/// `AWG 18`, `AWG 2/0`, `18 AWG`, and the glued spellings, which are reported afterwards.
pub(crate) fn awg<'t, E: Ex<'t>>() -> Q<'t, E> {
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
pub(crate) fn colour<'t, E: Ex<'t>>() -> P<'t, Name, E> {
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

/// `pull_up R to 5 V` or `to vref`.
pub(crate) fn pull_up<'t, E: Ex<'t>>() -> Q<'t, E> {
    let to = quantity().map(Ok).or(name().map(Err));
    word("pull_up")
        .then(value())
        .then_ignore(word("to"))
        .then(to)
        .map(|((w, v), to)| Piece::PullUp(w.span, v, to))
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
        .map(|(common, (rest, active))| Piece::Throw { common, rest, active })
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
