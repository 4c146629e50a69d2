//! One parser a kind of statement, each a keyword and then pieces in any order.

use super::{
    atoms::{
        Ex, P, first_of, label, list, mark, name, pin, plain_value, point, points, position_list, quantity,
        subject, text, token, value, word, words,
    },
    piece::*,
    sig::Sig,
    states::{Entry, ExerciseRow, entries, exercise_row, row},
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
fn pieces<'t, E: Ex<'t>>(piece: P<'t, Piece, E>) -> S<'t, E> {
    keyword().ignore_then(piece.repeated().collect()).boxed()
}

fn keyword<'t, E: Ex<'t>>() -> P<'t, Sig<'t>, E> {
    any().boxed()
}

impl<'t, E: Ex<'t>> Grammar<'t, E> {
    pub(crate) fn new() -> Self {
        let path_or_value = || choice((path_piece(), range_piece(), value_piece())).boxed();
        let law = || {
            choice((
                choice((
                    with("pulls_in"),
                    with("drops_out"),
                    with("turns_at"),
                    with("rated"),
                    with("runs"),
                    with("cold"),
                ))
                .boxed(),
                choice((
                    with("at"),
                    with("beta"),
                    steinhart(),
                    flag("table"),
                    with("drop"),
                    with_pin("wiper"),
                ))
                .boxed(),
                choice((with_range("travel"), with_range("span"), with("nominal"), attribute())).boxed(),
            ))
            .boxed()
        };
        let setup_piece = || {
            choice((
                word("accuracy").then(list(quantity())).map(|(w, q)| accuracy(w, q)).boxed(),
                title_piece(),
                with_point("in"),
            ))
            .boxed()
        };
        Self {
            head: pieces(choice((any_word(), title_piece())).boxed()),
            use_: pieces(choice((title_piece(), with_point("as"))).boxed()),
            spare: keyword().ignore_then(points()).map(|n| names_piece("unused", n)).boxed(),
            allow: pieces(choice((rule_name(), title_piece())).boxed()),
            supply: pieces(
                choice((
                    choice((with("inner"), with_range("range"), with_point("negative"), with("limit")))
                        .boxed(),
                    live(),
                    title_piece(),
                    value_piece(),
                    any_word(),
                ))
                .boxed(),
            ),
            ground: pieces(choice((attribute(), title_piece(), value_piece(), any_word())).boxed()),
            splice: pieces(choice((attribute(), shared_by(), title_piece(), any_word())).boxed()),
            inline: pieces(choice((attribute(), title_piece(), any_word())).boxed()),
            cavities: list(pin().then(mark(T::Dots, "`..`").ignore_then(pin()).or_not()).boxed()),
            wire: wire(),
            fuse: pieces(choice((attribute(), title_piece(), path_or_value(), any_word())).boxed()),
            element: pieces(
                choice((law(), condition(), throw(), title_piece(), path_or_value(), any_word())).boxed(),
            ),
            transducer: pieces(
                choice((
                    choice((
                        with_pin("out"),
                        with_range("over"),
                        flag("ratio"),
                        with_range("span"),
                        with("nominal"),
                    ))
                    .boxed(),
                    path_piece(),
                    range_piece(),
                    any_word(),
                ))
                .boxed(),
            ),
            switch: pieces(
                choice((
                    attribute(),
                    word("positions")
                        .then(position_list())
                        .map(|(w, n)| Piece::WithNames("positions", w.span, n))
                        .boxed(),
                    condition(),
                    title_piece(),
                    path_piece(),
                    any_word(),
                ))
                .boxed(),
            ),
            owner: owner(),
            pins: keyword()
                .ignore_then(list(pin().then(word("unused").or_not().map(|u| u.is_some())).boxed()))
                .boxed(),
            positions: keyword().ignore_then(position_list()).boxed(),
            grade: pieces(choice((title_piece(), any_word())).boxed()),
            names: list(subject()),
            table_row: list(quantity().then_ignore(mark(T::Comma, "`,`").or_not()).then(quantity()).boxed()),
            housing: pieces(choice((attribute(), title_piece(), any_word())).boxed()),
            attributes: attribute().repeated().at_least(1).collect().boxed(),
            cavity: cavity(),
            gang: pieces(choice((with("pwm"), title_piece(), any_word())).boxed()),
            gang_row: pin().separated_by(mark(T::Comma, "`,`").or_not()).at_least(1).collect().boxed(),
            block: pieces(choice((setup_piece(), any_word())).boxed()),
            entries: entries(),
            row: row(),
            exercise_row: exercise_row(),
            elsewhere: pieces(choice((title_piece(), value_piece(), any_word())).boxed()),
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

fn accuracy(word: Sig<'_>, quantities: Vec<crate::tree::Quantity>) -> Piece {
    Piece::Quantities(word.span, quantities)
}

fn steinhart<'t, E: Ex<'t>>() -> P<'t, Piece, E> {
    let number = super::atoms::number;
    word("steinhart")
        .then(number())
        .then(number())
        .then(number())
        .map(|(((w, a), b), c)| Piece::Numbers(w.span, [a, b, c]))
        .boxed()
}

/// `live in CONTROL POSITION`.
fn live<'t, E: Ex<'t>>() -> P<'t, Piece, E> {
    word("live")
        .then_ignore(word("in"))
        .then(point())
        .then(pin())
        .map(|((w, control), position)| Piece::Pair("live", w.span, control, position))
        .boxed()
}

/// `no-feed-path`: words and hyphens.
fn rule_name<'t, E: Ex<'t>>() -> P<'t, Piece, E> {
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

/// A wire: `[label [title]] point`, then stretches. A first word is the label unless an arrow follows it.
fn wire<'t, E: Ex<'t>>() -> S<'t, E> {
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
        .then(title_piece().or_not())
        .then(from().or_not())
        .map(|((label, title), from)| [Some(label), title, from].into_iter().flatten().collect::<Vec<_>>());
    let head = bare.or(labelled);
    let to = arrow().then(point()).map(|(a, n)| Piece::WithName("->", a.span, n)).boxed();
    let at = word("at").then(quantity()).map(|(w, q)| {
        let span = q.span;
        Piece::With(
            "at",
            w.span,
            crate::tree::Value { kind: crate::tree::ValueKind::Quantity(q), tolerance: None, span },
        )
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
        .ignore_then(point())
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
    let piece = choice((attribute(), title_piece(), any_word())).map(HeadPiece::Piece).boxed();
    keyword().ignore_then(choice((call, params, uses, piece)).repeated().collect()).boxed()
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
                .map(|((w, a), b)| Piece::Pair("switches", w.span, a, b))
                .boxed(),
            with("reference"),
            flag("return"),
            flag("senses"),
            word("bus").then(name()).map(|(w, n)| Piece::WithName("bus", w.span, n)).boxed(),
        )),
    );
    let option = choice((
        choice((flag("switched"), flag("digital"), flag("clamp"), with_point("to"), with_point("from")))
            .boxed(),
        choice((
            with("on"),
            with("limit"),
            with("pwm"),
            with("inner"),
            with("draws"),
            with("pull_down"),
            with("threshold"),
        ))
        .boxed(),
        choice((with_range("range"), pull_up(), shared_by(), value_piece())).boxed(),
    ))
    .boxed();
    let cavity = pin().map(|n| Piece::WithName("cavity", n.span, n));
    let named = name().map(|n| Piece::WithName("name", n.span, n)).then(role.or_not()).map(|(n, r)| {
        let mut out = vec![n];
        out.extend(r);
        out
    });
    let unused = flag("unused").then_ignore(end().rewind()).map(|f| vec![f]);
    cavity
        .then(unused.or(named).or_not())
        .then(choice((option, any_word())).repeated().collect::<Vec<_>>())
        .map(|((cavity, head), mut rest)| {
            let mut all = vec![cavity];
            all.extend(head.into_iter().flatten());
            all.append(&mut rest);
            all
        })
        .boxed()
}
