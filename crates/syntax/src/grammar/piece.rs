//! What a statement is made of. The grammar reads a statement into pieces in the order they were written; the builders
//! (`sources.rs` and its neighbours) sort the pieces into the tree, so that clauses may stand in any order.

use crate::{
    Span,
    tree::{Name, Path, Quantity, Range, Text, Title, Value},
};

/// One piece. What is large and rare is boxed, so that the others move fast.
#[derive(Clone, Debug)]
pub(crate) enum Piece {
    /// A word, a pin or a path that no clause takes: a name, a parameter, a colour.
    Word(Name),
    Title(Title),
    Path(Path),
    /// A quantity, with its tolerance.
    Value(Value),
    Range(Box<Range>),
    /// `inner 15 mohm`: the clause's word and its value.
    With(&'static str, Span, Value),
    WithRange(&'static str, Span, Box<Range>),
    WithName(&'static str, Span, Name),
    WithNames(&'static str, Span, Vec<Name>),
    WithText(&'static str, Span, Text),
    /// Two names: `live in key run`, `switches { X, Y }`, `jumper A to B`, `energised`.
    Pair(&'static str, Span, Box<(Name, Name)>),
    Flag(&'static str, Span),
    /// `AWG 18`; whether it was written without the blank.
    Awg(i32, Span, bool),
    Face(u32, u32, Span),
    /// `steinhart A B C`.
    Numbers(Span, [f64; 3]),
    /// `accuracy 0.5 %, 10 mV`.
    Quantities(Span, Vec<Quantity>),
    /// `common -> (rest PIN, active PIN)`.
    Throw(Box<Throw>),
    /// `pull_up R to 5 V`.
    PullUp(Span, Box<(Value, Result<Quantity, Name>)>),
}

/// The three pins of a changeover.
#[derive(Clone, Debug)]
pub(crate) struct Throw {
    pub(crate) common: Name,
    pub(crate) rest: Name,
    pub(crate) active: Name,
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
            Self::Pair(_, s, both) => s.to(both.1.span),
            Self::Flag(_, s)
            | Self::Awg(_, s, _)
            | Self::Face(_, _, s)
            | Self::Numbers(s, _)
            | Self::Quantities(s, _) => *s,
            Self::PullUp(s, pull) => s.to(pull.0.span),
            Self::Throw(t) => t.common.span.to(t.rest.span).to(t.active.span),
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
