//! One parser a kind of statement, each a keyword and then pieces in any order.

use super::{
    atoms::{
        Ex, In, P, label, list, mark, name, pin, plain_value, point, points, position_list, quantity,
        subject, text, token, value, word, words,
    },
    clauses::{flag, with, with_points},
    named::Named,
    part::{self, Part, any_of},
    piece::Piece,
    sig::Sig,
    states::{Entry, ExerciseRow, entries, exercise_row, row},
    wire::wire,
};
use crate::{
    lexer::TokenKind as T,
    tree::{Argument, Name, Param, Row},
};
use chumsky::prelude::*;

/// What `PART(args)`, `uses` and parameters read as.
#[derive(Clone, Debug)]
pub(crate) enum HeadPiece {
    Piece(Piece),
    Call { part: Name, arguments: Vec<Argument>, span: crate::Span },
    Params(Vec<Param>),
}

type S<'t, E> = P<'t, Vec<Piece>, E>;

/// All statement parsers; built once for a text and error type.
#[derive(Clone)]
pub(crate) struct Grammar<'t, E: Ex<'t>> {
    pub(crate) head: S<'t, E>,
    pub(crate) use_: S<'t, E>,
    pub(crate) spare: S<'t, E>,
    pub(crate) allow: S<'t, E>,
    pub(crate) supply: S<'t, E>,
    pub(crate) ground: S<'t, E>,
    pub(crate) splice: S<'t, E>,
    pub(crate) inline: S<'t, E>,
    pub(crate) cavities: P<'t, Vec<(Name, Option<Name>)>, E>,
    pub(crate) wire: S<'t, E>,
    pub(crate) fuse: S<'t, E>,
    pub(crate) top: S<'t, E>,
    pub(crate) element: S<'t, E>,
    pub(crate) transducer: S<'t, E>,
    pub(crate) switch: S<'t, E>,
    pub(crate) owner: P<'t, Vec<HeadPiece>, E>,
    pub(crate) pins: P<'t, Vec<(Name, bool)>, E>,
    pub(crate) positions: P<'t, Vec<Name>, E>,
    pub(crate) grade: S<'t, E>,
    pub(crate) names: P<'t, Vec<Name>, E>,
    pub(crate) table_row: P<'t, Vec<(crate::tree::Quantity, crate::tree::Quantity)>, E>,
    pub(crate) housing: S<'t, E>,
    pub(crate) attributes: S<'t, E>,
    pub(crate) cavity: S<'t, E>,
    pub(crate) gang: S<'t, E>,
    pub(crate) gang_row: P<'t, Vec<Name>, E>,
    pub(crate) block: S<'t, E>,
    pub(crate) entries: P<'t, Vec<Entry>, E>,
    pub(crate) row: P<'t, Row, E>,
    pub(crate) exercise_row: P<'t, ExerciseRow, E>,
    pub(crate) elsewhere: S<'t, E>,
    pub(crate) about_row: P<'t, (Name, Vec<crate::tree::Text>), E>,
}

/// The keyword, then pieces.
fn pieces<'t, E: Ex<'t>>(parts: &[Part]) -> S<'t, E> {
    keyword().ignore_then(any_of(parts).repeated().collect()).boxed()
}

/// The keyword, a name, then pieces. No word is reserved: what stands where the name belongs is the name, unless the
/// line cannot be read like that and can be without one.
fn named<'t, E: Ex<'t>>(parts: &[Part], named: Named) -> S<'t, E> {
    let piece = || any_of(parts).repeated().collect::<Vec<_>>().boxed();
    let head = head(named)
        .then(piece())
        .map(|(name, mut rest)| {
            rest.insert(0, name);
            rest
        })
        .boxed();
    keyword().ignore_then(first_whole(head, piece())).boxed()
}

/// The first of the two that reads the whole line, else what the first can read, else the second.
fn first_whole<'t, O: 't, E: Ex<'t>>(first: P<'t, O, E>, second: P<'t, O, E>) -> P<'t, O, E> {
    if E::RICH {
        return first.or(second).boxed();
    }
    let whole = |parser: &P<'t, O, E>| parser.clone().then_ignore(end()).boxed();
    choice((whole(&first), whole(&second), first, second)).boxed()
}

/// The name at the head of a statement.
fn head<'t, E: Ex<'t>>(named: Named) -> P<'t, Piece, E> {
    let is_word = token("a name", |s| s.kind == T::Word);
    // Fails as a name would that is not there.
    let is_none = token("a name", |_| false);
    custom::<_, In<'t>, Piece, E>(move |input| {
        let before = input.save();
        let mut next = || input.next();
        let ahead = [next(), next(), next()];
        input.rewind(before);
        let found = named.is_name(ahead.each_ref().map(Option::as_ref));
        let sig = input.parse(if found { &is_word } else { &is_none })?;
        Ok(Piece::Word(sig.name()))
    })
    .boxed()
}

pub(crate) fn keyword<'t, E: Ex<'t>>() -> P<'t, Sig<'t>, E> {
    any().boxed()
}

impl<'t, E: Ex<'t>> Grammar<'t, E> {
    pub(crate) fn new() -> Self {
        Self {
            head: named(part::HEAD, Named::Header),
            use_: pieces(part::USE),
            spare: keyword().ignore_then(points()).map(|n| names_piece("unused", n)).boxed(),
            allow: pieces(part::ALLOW),
            supply: named(part::SUPPLY, Named::Header),
            ground: named(part::GROUND, Named::Header),
            splice: named(part::SPLICE, Named::Header),
            inline: named(part::INLINE, Named::Header),
            cavities: list(pin().then(mark(T::Dots, "`..`").ignore_then(pin()).or_not()).boxed()),
            wire: wire(),
            fuse: named(part::FUSE, Named::Header),
            top: named(part::ELEMENT, Named::Header),
            element: named(part::ELEMENT, Named::Edge),
            transducer: named(part::TRANSDUCER, Named::Edge),
            switch: named(part::SWITCH, Named::Header),
            owner: owner(),
            pins: keyword()
                .ignore_then(list(pin().then(word("unused").or_not().map(|u| u.is_some())).boxed()))
                .boxed(),
            positions: keyword().ignore_then(position_list()).boxed(),
            grade: named(part::GRADE, Named::Header),
            names: list(subject()),
            table_row: list(quantity().then_ignore(mark(T::Comma, "`,`").or_not()).then(quantity()).boxed()),
            housing: named(part::HOUSING, Named::Header),
            attributes: any_of(part::ATTRIBUTES).repeated().at_least(1).collect().boxed(),
            cavity: cavity(),
            gang: named(part::GANG, Named::Header),
            gang_row: pin().separated_by(mark(T::Comma, "`,`").or_not()).at_least(1).collect().boxed(),
            block: named(part::BLOCK, Named::Block),
            entries: entries(),
            row: row(),
            exercise_row: exercise_row(),
            elsewhere: pieces(part::ELSEWHERE),
            about_row: name()
                .then(list(
                    text()
                        .or(token("a word or a number", |s| {
                            matches!(s.kind, T::Word | T::Int | T::Dec | T::Glued | T::Path)
                        })
                        .map(|s: Sig<'t>| crate::tree::Text { text: s.text.to_owned(), span: s.span }))
                        .boxed(),
                ))
                .boxed(),
        }
    }
}

fn names_piece(clause: &'static str, names: Vec<Name>) -> Vec<Piece> {
    let span = names.first().map_or_else(Default::default, |n| n.span);
    vec![Piece::WithNames(clause, span, names)]
}

/// The header of a device, part or module.
fn owner<'t, E: Ex<'t>>() -> P<'t, Vec<HeadPiece>, E> {
    let argument = name()
        .then_ignore(mark(T::Equals, "`=`"))
        .then(value())
        .map(|(n, value)| Argument { name: Some(n), value });
    let argument = argument.or(value().map(|value| Argument { name: None, value })).boxed();
    let comma = || mark(T::Comma, "`,`");
    let open = || mark(T::OpenParen, "`(`");
    let close = || mark(T::CloseParen, "`)`");
    let arguments = argument.separated_by(comma()).allow_trailing().collect::<Vec<_>>();
    let arguments = open().ignore_then(arguments).then(close()).boxed();
    let call = mark(T::Colon, "`:` and a part")
        .ignore_then(label("a part; `keyon explain trade` lists those that come with Keyon", point()))
        .then(arguments.or_not())
        .map(|(part, arguments)| {
            let span = arguments
                .as_ref()
                .map_or(part.span, |(_, close): &(Vec<Argument>, Sig<'t>)| part.span.to(close.span));
            HeadPiece::Call { part, arguments: arguments.map(|(a, _)| a).unwrap_or_default(), span }
        })
        .boxed();
    let param = name()
        .then_ignore(mark(T::Colon, "`:` and a dimension such as `resistance`"))
        .then(label("a dimension such as `resistance`", name()))
        .then(mark(T::Equals, "`=`").ignore_then(plain_value()).or_not())
        .map(|((name, dimension), default)| Param { name, dimension, default });
    let params =
        param.separated_by(comma()).allow_trailing().collect::<Vec<_>>().delimited_by(open(), close());
    let params = params.map(HeadPiece::Params).boxed();
    let uses = with_points("uses").map(HeadPiece::Piece).boxed();
    let piece = any_of(part::OWNER).map(HeadPiece::Piece).boxed();
    let piece = choice((call, params, uses, piece)).boxed();
    let rest = || piece.clone().repeated().collect::<Vec<_>>().boxed();
    let head = head(Named::Header)
        .then(rest())
        .map(|(name, mut rest)| {
            rest.insert(0, HeadPiece::Piece(name));
            rest
        })
        .boxed();
    keyword().ignore_then(first_whole(head, rest())).boxed()
}

/// A row of a module's connector.
fn cavity<'t, E: Ex<'t>>() -> S<'t, E> {
    let role = label(
        "a role such as `feed`, `ground`, `drives low`, `senses`",
        choice((
            flag("feed"),
            flag("ground"),
            flag("unused"),
            word("drives")
                .then(words(&["low", "high", "half"], "`low`, `high` or `half`"))
                .map(|(w, way): (Sig<'t>, Sig<'t>)| Piece::WithName("drives", w.span, way.name()))
                .boxed(),
            word("switches")
                .then_ignore(mark(T::OpenBrace, "`{`"))
                .then(name())
                .then_ignore(mark(T::Comma, "`,`").or_not())
                .then(name())
                .then_ignore(mark(T::Comma, "`,`").or_not())
                .then_ignore(mark(T::CloseBrace, "`}`"))
                .map(|((w, a), b)| Piece::Pair("switches", w.span, Box::new((a, b))))
                .boxed(),
            with("reference"),
            flag("return"),
            flag("senses"),
            word("bus").then(name()).map(|(w, n)| Piece::WithName("bus", w.span, n)).boxed(),
        )),
    );
    let cavity = pin().map(|n| Piece::WithName("cavity", n.span, n));
    let named = name().map(|n| Piece::WithName("name", n.span, n)).then(role.or_not()).map(|(n, r)| {
        let mut out = vec![n];
        out.extend(r);
        out
    });
    let unused = flag("unused").then_ignore(end().rewind()).map(|f| vec![f]);
    cavity
        .then(unused.or(named).or_not())
        .then(any_of(part::CAVITY).repeated().collect::<Vec<_>>())
        .map(|((cavity, head), mut rest)| {
            let mut all = vec![cavity];
            all.extend(head.into_iter().flatten());
            all.append(&mut rest);
            all
        })
        .boxed()
}
