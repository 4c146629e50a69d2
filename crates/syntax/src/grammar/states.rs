//! Rows about states: settings, set-ups, claims, readings, exercises.

use super::{
    atoms::{
        Ex, P, label, list, mark, pin, point, points, quantity, range, subject, text, token, word, words,
    },
    sig::Sig,
};
use crate::{
    Span,
    lexer::TokenKind as T,
    tree::{Ask, Assertion, Fault, FaultKind, Name, Probe, Row, Setting, Setup, SetupKind, Target, Text},
};
use chumsky::prelude::*;

/// One entry of a scenario, or of a `with` list.
#[derive(Clone, Debug)]
pub(crate) enum Entry {
    Setting(Setting),
    Setup(Setup),
    Do(Text),
}

/// One line of an exercise.
#[derive(Clone, Debug)]
pub(crate) enum ExerciseRow {
    In(Name),
    Fault(Fault),
    Symptom(Row),
    Probes(Vec<Name>),
    Ask(Ask),
    Setup(Setup),
}

/// Entries with commas between.
pub(crate) fn entries<'t, E: Ex<'t>>() -> P<'t, Vec<Entry>, E> {
    let does = word("do").ignore_then(text()).map(Entry::Do).boxed();
    // What is called `pull` may have 25 °C; what is pulled has no unit.
    let with_unit = setting().filter(|s| s.quantity.as_ref().is_some_and(|q| q.unit.is_some()));
    let setup = setup().map(Entry::Setup).boxed();
    let entries = (does, with_unit.map(Entry::Setting).boxed(), setup, setting().map(Entry::Setting).boxed());
    list(choice(entries).boxed())
}

fn setting<'t, E: Ex<'t>>() -> P<'t, Setting, E> {
    let value = quantity().map(|q| (None, Some(q)));
    let place = pin().then(quantity().or_not()).map(|(p, q)| (Some(p), q));
    // A position may be a digit: a number is a quantity only with its unit.
    let with_unit = value.filter(|(_, q): &(Option<Name>, Option<crate::tree::Quantity>)| {
        q.as_ref().is_some_and(|q| q.unit.is_some())
    });
    subject()
        .then(label("a position or a value", choice((with_unit.boxed(), place.boxed()))))
        .map(|(subject, (position, quantity))| {
            let end = quantity
                .as_ref()
                .map(|q| q.span)
                .or(position.as_ref().map(|p| p.span))
                .unwrap_or(subject.span);
            Setting { span: subject.span.to(end), subject, position, quantity }
        })
        .boxed()
}

/// `unplug X`, `pull F7`, `jumper A to B`, `load A to B 21 W 12 V`.
pub(crate) fn setup<'t, E: Ex<'t>>() -> P<'t, Setup, E> {
    let to = || word("to");
    choice((
        word("unplug")
            .then(point())
            .map(|(w, n)| Setup { span: w.span.to(n.span), kind: SetupKind::Unplug(n) })
            .boxed(),
        word("pull")
            .then(subject())
            .map(|(w, n)| Setup { span: w.span.to(n.span), kind: SetupKind::Pull(n) })
            .boxed(),
        word("jumper")
            .then(point())
            .then_ignore(to())
            .then(point())
            .map(|((w, a), b)| Setup { span: w.span.to(b.span), kind: SetupKind::Jumper(a, b) })
            .boxed(),
        word("load")
            .then(point())
            .then_ignore(to())
            .then(point())
            .then(quantity().repeated().at_least(1).collect::<Vec<_>>())
            .map(|(((w, from), to), values)| {
                let end = values.last().map_or(to.span, |q| q.span);
                Setup { span: w.span.to(end), kind: SetupKind::Load { from, to, values } }
            })
            .boxed(),
    ))
    .boxed()
}

/// Words of state that stand alone.
pub(crate) const STATES: &[&str] = &[
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

fn state<'t, E: Ex<'t>>() -> P<'t, Name, E> {
    let one = words(STATES, "a state such as `operates`, `rests`, `fed`, `grounded`");
    let way = words(&["forward", "reverse"], "`forward` or `reverse`");
    let operates =
        word("operates").then(way.or_not()).map(|(w, way): (Sig<'t>, Option<Sig<'t>>)| match way {
            Some(way) => Name { text: format!("operates {}", way.text).into(), span: w.span.to(way.span) },
            None => w.name(),
        });
    let via = words(&["fed", "grounded"], "`fed`").then_ignore(word("via")).then(word("load")).map(
        |(w, l): (Sig<'t>, Sig<'t>)| Name {
            text: format!("{} via load", w.text).into(),
            span: w.span.to(l.span),
        },
    );
    choice((operates.boxed(), via.boxed(), one.map(|s| s.name()).boxed())).boxed()
}

fn assertion<'t, E: Ex<'t>>() -> P<'t, Assertion, E> {
    label(
        "what it reads or does: a value, `below 0.4 V`, `operates`, `fed`",
        choice((
            word("below").ignore_then(quantity()).map(Assertion::Below).boxed(),
            word("above").ignore_then(quantity()).map(Assertion::Above).boxed(),
            word("about")
                .ignore_then(quantity())
                .then_ignore(mark(T::PlusMinus, "`+-` and how far it may be off"))
                .then(quantity())
                .map(|(x, y)| Assertion::About(x, y))
                .boxed(),
            range().map(Assertion::Range).boxed(),
            quantity().map(Assertion::Is).boxed(),
            state().map(Assertion::State).boxed(),
            // The name of a grade.
            token("a state", |s| {
                // Behind these a value is missing: they name no grade.
                s.kind == T::Word && !matches!(s.text, "with" | "below" | "above" | "about")
            })
            .then_ignore(end().or(word("with").ignored()).rewind())
            .map(|s| Assertion::State(s.name()))
            .boxed(),
        )),
    )
}

/// What is measured and what it is said to be. A subject may be called `lamp` or `clamp`: what does not go on like a
/// lamp's or a clamp's row is read again as a plain one.
fn reading<'t, E: Ex<'t>>() -> P<'t, (Probe, Assertion), E> {
    let two = |w: &'static str| word(w).ignore_then(subject()).then_ignore(word("to")).then(subject());
    let lamp = || {
        words(&["bright", "dim", "dark"], "`bright`, `dim` or `dark`")
            .map(|s: Sig<'t>| Assertion::State(s.name()))
            .boxed()
    };
    // A thing may be called `clamp`: a value or a state directly behind it, and nothing more, is its own.
    let with_unit = quantity().filter(|q| q.unit.is_some()).map(Assertion::Is);
    let own = choice((
        word("below").ignore_then(quantity()).map(Assertion::Below).boxed(),
        word("above").ignore_then(quantity()).map(Assertion::Above).boxed(),
        range().map(Assertion::Range).boxed(),
        with_unit.boxed(),
        state().map(Assertion::State).boxed(),
    ));
    let clamp = word("clamp")
        .map(|s| Probe::One(s.name()))
        .then(own)
        .then_ignore(end().or(word("with").ignored()).rewind());
    choice((
        clamp.boxed(),
        two("ohms").map(|(a, b)| Probe::Ohms(a, b)).then(assertion()).boxed(),
        word("clamp").ignore_then(subject()).map(Probe::Clamp).then(assertion()).boxed(),
        two("lamp").map(|(a, b)| Probe::Lamp(a, Some(b))).then(lamp()).boxed(),
        word("lamp").ignore_then(subject()).map(|a| Probe::Lamp(a, None)).then(lamp()).boxed(),
        subject()
            .then_ignore(word("to"))
            .then(subject())
            .map(|(a, b)| Probe::Across(a, b))
            .then(assertion())
            .boxed(),
        subject().map(Probe::One).then(assertion()).boxed(),
    ))
    .boxed()
}

/// A claim, a reading, a symptom.
pub(crate) fn row<'t, E: Ex<'t>>() -> P<'t, Row, E> {
    reading()
        .then(word("with").ignore_then(entries()).or_not())
        .map_with(|((probe, assertion), with), _| {
            let mut row = Row {
                probe,
                assertion: Some(assertion),
                with_settings: Vec::new(),
                with_setups: Vec::new(),
                span: Span::default(),
            };
            for entry in with.into_iter().flatten() {
                match entry {
                    Entry::Setting(s) => row.with_settings.push(s),
                    Entry::Setup(s) => row.with_setups.push(s),
                    Entry::Do(_) => {}
                }
            }
            row
        })
        .boxed()
}

fn target<'t, E: Ex<'t>>() -> P<'t, Target, E> {
    let at = mark(T::At, "`@`")
        .ignore_then(token("a count", |s| s.kind == T::Int))
        .map(|s: Sig<'t>| s.text.parse::<u32>().unwrap_or(1));
    let ends = point()
        .then_ignore(mark(T::Arrow, "`->`"))
        .then(point())
        .then(at.or_not())
        .map(|((a, b), n)| Target::Ends(a, b, n));
    ends.boxed().or(subject().map(Target::Name)).boxed()
}

/// A fault, verb first.
pub(crate) fn fault<'t, E: Ex<'t>>() -> P<'t, FaultKind, E> {
    label(
        "a fault such as `open 431`, `short S12 to ground`, `stuck left_cmd off`",
        choice((
            word("open").ignore_then(target()).map(FaultKind::Open).boxed(),
            word("fuse")
                .ignore_then(subject())
                .then_ignore(word("open"))
                .map(|n| FaultKind::Open(Target::Name(n)))
                .boxed(),
            word("short")
                .ignore_then(target())
                .then(word("to").ignore_then(subject()).or_not())
                .map(|(what, to)| FaultKind::Short { what, to })
                .boxed(),
            word("stuck")
                .ignore_then(subject())
                .then(pin())
                .map(|(what, position)| FaultKind::Stuck { what, position })
                .boxed(),
            word("resistance")
                .ignore_then(quantity())
                .then_ignore(word("in"))
                .then(target())
                .map(|(ohms, place)| FaultKind::Resistance { ohms, place })
                .boxed(),
            word("drift")
                .ignore_then(subject())
                .then(quantity())
                .map(|(what, by)| FaultKind::Drift { what, by })
                .boxed(),
        )),
    )
}

/// A line of an exercise.
pub(crate) fn exercise_row<'t, E: Ex<'t>>() -> P<'t, ExerciseRow, E> {
    let fault = word("fault")
        .ignore_then(fault())
        .map(|kind| ExerciseRow::Fault(Fault { kind, span: Span::default() }));
    let free = word("ask").then(text()).then(points().or_not()).map(|((w, text), points)| {
        let span = w.span.to(text.span);
        ExerciseRow::Ask(Ask { kind: None, text: Some(text), points: points.unwrap_or_default(), span })
    });
    let words = token("a point", |s| matches!(s.kind, T::Word | T::Path | T::DigitPath | T::Int | T::Glued));
    let points_asked = words
        .map(|s: Sig<'t>| s.name())
        .separated_by(mark(T::Comma, "`,`").or_not())
        .allow_trailing()
        .collect::<Vec<Name>>();
    let asked = word("ask").then(token("a kind of question", |s| s.kind == T::Word)).then(points_asked).map(
        |((w, kind), points)| {
            let kind: Sig<'t> = kind;
            let span = points.last().map_or(w.span.to(kind.span), |p| w.span.to(p.span));
            ExerciseRow::Ask(Ask { kind: Some(kind.name()), text: None, points, span })
        },
    );
    label(
        "`fault`, `symptom`, `probes` or `ask`",
        choice((
            word("in").ignore_then(point()).map(ExerciseRow::In).boxed(),
            fault.boxed(),
            word("symptom").ignore_then(row()).map(ExerciseRow::Symptom).boxed(),
            word("probes").ignore_then(points()).map(ExerciseRow::Probes).boxed(),
            free.boxed(),
            asked.boxed(),
            setup().map(ExerciseRow::Setup).boxed(),
        )),
    )
}
