//! What may stand in a statement: a table a kind of statement. Both the grammar's parsers (here) and the quick reading of
//! sound lines (`quick`) are made from the tables, so that the two know the same clauses.

use super::{
    atoms::{Ex, list, path, plain_value, position_list, quantity, range, title, token, word},
    clauses::{
        Q, attribute, condition, flag, live, pull_up, rule_name, shared_by, steinhart, throw, with, with_pin,
        with_point, with_range,
    },
    piece::Piece,
};
use crate::lexer::TokenKind as T;
use chumsky::prelude::*;

/// One thing that may stand in a statement.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Part {
    /// `WORD value`
    Value(&'static str),
    /// `WORD A .. B`
    Range(&'static str),
    /// `WORD point`
    Point(&'static str),
    /// `WORD pin`
    Pin(&'static str),
    /// The word alone.
    Flag(&'static str),
    /// `where "…"` and the like.
    Attribute,
    /// `shared by A, B`
    SharedBy,
    /// `live in CONTROL POSITION`
    Live,
    /// `closed when K energised`, `open in run, start`, …
    Condition,
    /// `30 -> (rest 87a, active 87)`
    Throw,
    /// `steinhart A B C`
    Steinhart,
    /// `positions A, B`
    Positions,
    /// `accuracy 0.5 %, 10 mV`
    Accuracy,
    /// `pull_up R to 5 V`
    PullUp,
    /// A rule's name, with its hyphens.
    RuleName,
    /// Text with its translations.
    Title,
    /// `A -> B`
    Path,
    /// `A .. B` without a word before it.
    LooseRange,
    /// A quantity without a word before it.
    LooseValue,
    /// A word, a pin or a path that nothing else takes.
    Word,
}

use Part::*;

pub(crate) const HEAD: &[Part] = &[Word, Title];
pub(crate) const USE: &[Part] = &[Title, Point("as")];
pub(crate) const ALLOW: &[Part] = &[RuleName, Title];
pub(crate) const SUPPLY: &[Part] =
    &[Value("inner"), Range("range"), Point("negative"), Value("limit"), Live, Title, LooseValue, Word];
pub(crate) const GROUND: &[Part] = &[Attribute, Title, LooseValue, Word];
pub(crate) const SPLICE: &[Part] = &[Attribute, SharedBy, Title, Word];
pub(crate) const INLINE: &[Part] = &[Attribute, Title, Word];
// A word before an arrow is a point, whatever else it may mean.
pub(crate) const FUSE: &[Part] = &[Path, Attribute, Title, LooseRange, LooseValue, Word];
pub(crate) const ELEMENT: &[Part] = &[
    Throw,
    Path,
    Value("pulls_in"),
    Value("drops_out"),
    Value("turns_at"),
    Value("rated"),
    Value("runs"),
    Value("cold"),
    Value("at"),
    Value("beta"),
    Steinhart,
    Flag("table"),
    Value("drop"),
    Pin("wiper"),
    Range("travel"),
    Range("span"),
    Value("nominal"),
    Attribute,
    Condition,
    Title,
    LooseRange,
    LooseValue,
    Word,
];
pub(crate) const TRANSDUCER: &[Part] =
    &[Path, Pin("out"), Range("over"), Flag("ratio"), Range("span"), Value("nominal"), LooseRange, Word];
pub(crate) const SWITCH: &[Part] = &[Path, Attribute, Positions, Condition, Title, Word];
pub(crate) const GRADE: &[Part] = &[Title, Word];
pub(crate) const HOUSING: &[Part] = &[Attribute, Title, Word];
/// Lines of a body that say something of its place and dangers.
pub(crate) const ATTRIBUTES: &[Part] = &[Attribute];
pub(crate) const GANG: &[Part] = &[Value("pwm"), Title, Word];
/// The headers of `expect`, `exercise` and `readings`.
pub(crate) const BLOCK: &[Part] = &[Accuracy, Title, Point("in"), Word];
pub(crate) const ELSEWHERE: &[Part] = &[Title, LooseValue, Word];
/// What follows the header of a device, part or module, beside parts and parameters.
pub(crate) const OWNER: &[Part] = &[Attribute, Title, Word];
/// What follows the role of a cavity.
pub(crate) const CAVITY: &[Part] = &[
    Flag("switched"),
    Flag("digital"),
    Flag("clamp"),
    Point("to"),
    Point("from"),
    Value("on"),
    Value("limit"),
    Value("pwm"),
    Value("inner"),
    Value("draws"),
    Value("pull_down"),
    Value("threshold"),
    Range("range"),
    PullUp,
    SharedBy,
    LooseValue,
    Word,
];

/// The parser of the first of these that fits.
pub(crate) fn any_of<'t, E: Ex<'t>>(parts: &[Part]) -> Q<'t, E> {
    choice(parts.iter().map(|part| parser(*part)).collect::<Vec<_>>()).boxed()
}

fn parser<'t, E: Ex<'t>>(part: Part) -> Q<'t, E> {
    match part {
        Value(clause) => with(clause),
        Range(clause) => with_range(clause),
        Point(clause) => with_point(clause),
        Pin(clause) => with_pin(clause),
        Flag(clause) => flag(clause),
        Attribute => attribute(),
        SharedBy => shared_by(),
        Live => live(),
        Condition => condition(),
        Throw => throw(),
        Steinhart => steinhart(),
        Positions => word("positions")
            .then(position_list())
            .map(|(w, names)| Piece::WithNames("positions", w.span, names))
            .boxed(),
        Accuracy => {
            word("accuracy").then(list(quantity())).map(|(w, all)| Piece::Quantities(w.span, all)).boxed()
        }
        PullUp => pull_up(),
        RuleName => rule_name(),
        Title => title().map(Piece::Title).boxed(),
        Path => path().map(Piece::Path).boxed(),
        LooseRange => range().map(|range| Piece::Range(Box::new(range))).boxed(),
        LooseValue => plain_value().map(Piece::Value).boxed(),
        Word => token("a name", |s| matches!(s.kind, T::Word | T::Path | T::Glued | T::Exp | T::Int))
            .map(|s| Piece::Word(s.name()))
            .boxed(),
    }
}
