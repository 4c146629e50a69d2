//! The smallest parsers: words, names, points, quantities, values, ranges.

use super::run::{Cheap, Full};
use super::sig::{Sig, is_nearly_unit, is_unit, quantity as to_quantity};
use crate::{
    lexer::TokenKind as T,
    step::step,
    tree::{Name, Path, Quantity, Range, Text, Title, Value, ValueKind},
    unit::Unit,
};
use chumsky::{Boxed, error::LabelError, extra::ParserExtra, prelude::*};

/// A statement's tokens.
pub(crate) type In<'t> = &'t [Sig<'t>];

/// What the parsers ask of the error type: the cheap one and the rich one both serve.
pub(crate) trait Ex<'t>:
    ParserExtra<'t, In<'t>, State = (), Context = (), Error: LabelError<'t, In<'t>, &'static str>> + 't
{
    /// Whether errors are read by a person. If not, labels and vain attempts are left out.
    const RICH: bool;
}
impl<'t> Ex<'t> for Cheap {
    const RICH: bool = false;
}
impl<'t> Ex<'t> for Full<'t> {
    const RICH: bool = true;
}

/// The parser with words for what it reads.
pub(crate) fn label<'t, O: 't, E: Ex<'t>>(
    words: &'static str,
    parser: impl Parser<'t, In<'t>, O, E> + 't,
) -> P<'t, O, E> {
    if E::RICH { parser.labelled(words).boxed() } else { parser.boxed() }
}

/// A parser, and a test of the first token that holds wherever the parser can succeed.
pub(crate) type On<'t, O, E> = (fn(&Sig<'t>) -> bool, P<'t, O, E>);

/// The first of these that fits, else the last.
pub(crate) fn first_of<'t, O: 't, E: Ex<'t>>(on: Vec<On<'t, O, E>>, last: P<'t, O, E>) -> P<'t, O, E> {
    if E::RICH {
        let mut all: Vec<P<'t, O, E>> = on.into_iter().map(|(_, parser)| parser).collect();
        all.push(last);
        return choice(all).boxed();
    }
    custom::<_, In<'t>, O, E>(move |input| {
        if let Some(first) = input.peek_ref() {
            for (test, parser) in &on {
                if test(first) {
                    let before = input.save();
                    if let Ok(found) = input.parse(parser) {
                        return Ok(found);
                    }
                    input.rewind(before);
                }
            }
        }
        input.parse(&last)
    })
    .boxed()
}

/// A parser behind a pointer: keeps types, and so compile times, small.
pub(crate) type P<'t, O, E> = Boxed<'t, 't, In<'t>, O, E>;

/// Words that no parameter may be called, since they begin a clause.
pub(crate) const CLAUSE_WORDS: &[&str] = &[
    "pulls_in",
    "drops_out",
    "turns_at",
    "at",
    "beta",
    "steinhart",
    "table",
    "wiper",
    "travel",
    "over",
    "ratio",
    "drop",
    "span",
    "nominal",
    "closed",
    "open",
    "in",
    "when",
    "rest",
    "active",
    "out",
    "rated",
    "on",
    "limit",
    "pwm",
    "clamp",
    "inner",
    "draws",
    "pull_up",
    "pull_down",
    "to",
    "threshold",
    "digital",
    "range",
    "shared",
    "unused",
    "runs",
    "cold",
];

/// A token of which `test` holds, without words for it.
pub(crate) fn some<'t, E: Ex<'t>>(
    test: impl Fn(&Sig<'t>) -> bool + 't,
) -> impl Parser<'t, In<'t>, Sig<'t>, E> + Clone + 't {
    let test = std::rc::Rc::new(test);
    any_ref()
        .filter(move |s: &&Sig<'t>| {
            step();
            test(s)
        })
        .map(|s: &Sig<'t>| *s)
}

/// A token of which `test` holds.
pub(crate) fn token<'t, E: Ex<'t>>(
    label: &'static str,
    test: impl Fn(&Sig<'t>) -> bool + 't,
) -> P<'t, Sig<'t>, E> {
    self::label(label, some(test))
}

/// Exactly this word.
pub(crate) fn word<'t, E: Ex<'t>>(text: &'static str) -> P<'t, Sig<'t>, E> {
    token(text, move |s| s.kind == T::Word && s.text == text)
}

/// One of these words.
pub(crate) fn words<'t, E: Ex<'t>>(texts: &'static [&'static str], label: &'static str) -> P<'t, Sig<'t>, E> {
    token(label, move |s| s.kind == T::Word && texts.contains(&s.text))
}

/// A punctuation mark or the like.
pub(crate) fn mark<'t, E: Ex<'t>>(kind: T, label: &'static str) -> P<'t, Sig<'t>, E> {
    token(label, move |s| s.kind == kind)
}

/// A name: one word.
pub(crate) fn name<'t, E: Ex<'t>>() -> P<'t, Name, E> {
    token("a name", |s| s.kind == T::Word).map(|s| s.name()).boxed()
}

/// A pin, a cavity, a position: a word or a number, by its spelling.
pub(crate) fn pin<'t, E: Ex<'t>>() -> P<'t, Name, E> {
    token("a pin", |s| matches!(s.kind, T::Word | T::Int | T::Glued | T::Exp)).map(|s| s.name()).boxed()
}

/// A point: a word or a path.
pub(crate) fn point<'t, E: Ex<'t>>() -> P<'t, Name, E> {
    token("a point such as `S12` or `pump.1`", |s| matches!(s.kind, T::Word | T::Path))
        .map(|s| s.name())
        .boxed()
}

/// Whatever can name a thing: points, pins, wire numbers and their stretches.
pub(crate) fn subject<'t, E: Ex<'t>>() -> P<'t, Name, E> {
    token("a name", |s| {
        matches!(s.kind, T::Word | T::Path | T::DigitPath | T::Int | T::Dec | T::Glued | T::Exp)
    })
    .map(|s| s.name())
    .boxed()
}

/// Points with commas between.
pub(crate) fn points<'t, E: Ex<'t>>() -> P<'t, Vec<Name>, E> {
    list(point())
}

/// A list with commas, a last one allowed.
pub(crate) fn list<'t, O: 't, E: Ex<'t>>(item: P<'t, O, E>) -> P<'t, Vec<O>, E> {
    item.separated_by(mark(T::Comma, "`,`")).at_least(1).allow_trailing().collect().boxed()
}

/// Positions with commas between.
pub(crate) fn position_list<'t, E: Ex<'t>>() -> P<'t, Vec<Name>, E> {
    list(token("a position", |s| matches!(s.kind, T::Word | T::Int | T::Glued)).map(|s| s.name()).boxed())
}

/// Text in quotes.
pub(crate) fn text<'t, E: Ex<'t>>() -> P<'t, Text, E> {
    token("a text in quotes", |s| matches!(s.kind, T::Text | T::OpenText)).map(|s| s.unquoted()).boxed()
}

/// A title, with its translations.
pub(crate) fn title<'t, E: Ex<'t>>() -> P<'t, Title, E> {
    let other = some(language).map(|s: Sig<'t>| s.name()).then(text());
    text().then(other.repeated().collect()).map(|(text, others)| Title { text, others }).boxed()
}

/// The letters of a language, as they stand before a translation.
pub(crate) fn language(s: &Sig<'_>) -> bool {
    s.kind == T::Word && s.text.len() == 2 && s.text.bytes().all(|b| b.is_ascii_lowercase())
}

fn sign<'t, E: Ex<'t>>() -> P<'t, Option<Sig<'t>>, E> {
    some(|s: &Sig<'t>| matches!(s.kind, T::Minus | T::Plus)).or_not().boxed()
}

fn is_number(s: &Sig<'_>) -> bool {
    matches!(s.kind, T::Int | T::Dec | T::Exp)
}

/// `12V`, and what is nearly that (`2k2`, `470R`, `12v`): reported afterwards.
fn is_glued_quantity(s: &Sig<'_>) -> bool {
    s.kind == T::Glued
        && s.split_glued()
            .is_some_and(|(_, unit)| Unit::from_spelling(unit).is_some() || looks_like_unit(unit))
}

fn looks_like_unit(unit: &str) -> bool {
    crate::unit::nearest_unit(unit).is_some() || letter_for_point(unit)
}

/// `2k2`: the letter of a unit in place of the decimal point.
pub(crate) fn letter_for_point(rest: &str) -> bool {
    let mut chars = rest.chars();
    matches!(chars.next(), Some('k' | 'R' | 'M' | 'V' | 'A'))
        && !chars.as_str().is_empty()
        && chars.all(|c| c.is_ascii_digit())
}

/// A number and its unit. A number alone is read too, and reported where the unit is needed.
pub(crate) fn quantity<'t, E: Ex<'t>>() -> P<'t, Quantity, E> {
    // A word before an arrow is the point where a path begins: `60 battery -> key.B` lacks its unit.
    let nearly = some(is_nearly_unit).then_ignore(some(|s: &Sig<'t>| s.kind == T::Arrow).not());
    let spaced = some(is_number).then(some(is_unit).or(nearly).or_not());
    let glued = some(is_glued_quantity).map(|s| (s, None));
    let read = sign().then(spaced.or(glued)).map(
        |(sign, (number, unit)): (Option<Sig<'t>>, (Sig<'t>, Option<Sig<'t>>))| {
            to_quantity(sign.as_ref(), &number, unit.as_ref())
        },
    );
    label("a number with its unit", read)
}

/// A bare number.
pub(crate) fn number<'t, E: Ex<'t>>() -> P<'t, f64, E> {
    let read = sign()
        .then(some(is_number))
        .map(|(sign, number): (Option<Sig<'t>>, Sig<'t>)| to_quantity(sign.as_ref(), &number, None).number);
    label("a number", read)
}

/// A part's parameter.
fn parameter<'t, E: Ex<'t>>() -> P<'t, Name, E> {
    token("a parameter", |s| s.kind == T::Word && !CLAUSE_WORDS.contains(&s.text)).map(|s| s.name()).boxed()
}

fn tolerance<'t, E: Ex<'t>>() -> P<'t, Option<Quantity>, E> {
    mark(T::PlusMinus, "`+-`").ignore_then(quantity()).or_not().boxed()
}

fn with_tolerance(kind: ValueKind, tolerance: Option<Quantity>) -> Value {
    let span = match &kind {
        ValueKind::Quantity(q) => q.span,
        ValueKind::Parameter(n) => n.span,
    };
    let span = tolerance.as_ref().map_or(span, |t| span.to(t.span));
    Value { kind, tolerance, span }
}

/// A quantity with its tolerance, no parameter.
pub(crate) fn plain_value<'t, E: Ex<'t>>() -> P<'t, Value, E> {
    quantity().then(tolerance()).map(|(q, t)| with_tolerance(ValueKind::Quantity(q), t)).boxed()
}

/// A quantity or a parameter, with its tolerance.
pub(crate) fn value<'t, E: Ex<'t>>() -> P<'t, Value, E> {
    let kind = quantity().map(ValueKind::Quantity).or(parameter().map(ValueKind::Parameter));
    kind.then(tolerance()).map(|(kind, t)| with_tolerance(kind, t)).boxed()
}

/// `A .. B`; the first bound may leave its unit to the second.
pub(crate) fn range<'t, E: Ex<'t>>() -> P<'t, Range, E> {
    let bound = quantity()
        .map(ValueKind::Quantity)
        .or(parameter().map(ValueKind::Parameter))
        .map(|k| with_tolerance(k, None));
    let read = bound.clone().then_ignore(mark(T::Dots, "`..`")).then(bound).map(|(mut low, high)| {
        if let (ValueKind::Quantity(l), ValueKind::Quantity(h)) = (&mut low.kind, &high.kind)
            && l.unit.is_none()
        {
            l.unit = h.unit;
        }
        Range { span: low.span.to(high.span), low, high }
    });
    label("a range such as `11 .. 14.8 V`", read)
}

/// `A -> B` between points or pins.
pub(crate) fn path<'t, E: Ex<'t>>() -> P<'t, Path, E> {
    let end = token("a point", |s| matches!(s.kind, T::Word | T::Path | T::Int | T::Glued | T::Exp))
        .map(|s: Sig<'t>| s.name());
    let read = end.clone().then_ignore(mark(T::Arrow, "`->`")).then(end).map(|(from, to)| Path { from, to });
    label("a path such as `S1 -> S2`", read)
}
