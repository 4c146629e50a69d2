//! One item: picks the parser by the first word.

use super::{
    bodies, elements,
    node::Node,
    run::{Runner, ways},
    sig::Sig,
    sources,
    states::{Entry, ExerciseRow, STATES},
};
use crate::{
    SyntaxError,
    tree::{
        About, ControlItem, Exercise, Expect, FuseKind, ItemKind, Name, Readings, Row, Scenario, Setup,
        Variant,
    },
};

/// Reads one item. `None` where nothing could be made of it; the flag says that something was unreadable.
pub(crate) fn item<'t>(
    runner: &Runner<'t>,
    node: &Node<'t>,
    errors: &mut Vec<SyntaxError>,
) -> (ItemKind, bool) {
    let first_error = errors.len();
    let (kind, damaged) = match read(runner, node, errors) {
        Some(read) => read,
        None => (ItemKind::Junk, true),
    };
    (kind, damaged | node.damaged | errors.iter().skip(first_error).any(|e| e.fix.is_none()))
}

fn read<'t>(runner: &Runner<'t>, node: &Node<'t>, errors: &mut Vec<SyntaxError>) -> Option<(ItemKind, bool)> {
    let sigs = node.sigs;
    Some(match node.keyword() {
        "circuit" => sources::circuit(runner.pieces(ways!(head), sigs, errors)),
        "view" => return sources::view(runner.pieces(ways!(head), sigs, errors)),
        "use" => return sources::use_(runner.pieces(ways!(use_), sigs, errors)),
        "unused" => {
            let mut p = runner.pieces(ways!(spare), sigs, errors);
            let names = p.with_names("unused");
            (ItemKind::Spare(names.unwrap_or_default()), p.finish("unused", &[]))
        }
        "supply" => sources::supply(runner.pieces(ways!(supply), sigs, errors)),
        "ground" => sources::ground(runner.pieces(ways!(ground), sigs, errors)),
        "splice" => sources::splice(runner.pieces(ways!(splice), sigs, errors)),
        "connector" => {
            let mut cavities = Vec::new();
            let mut hurt = false;
            for row in node.rows() {
                let (names, damaged) = runner.read(ways!(cavities), row.sigs, errors);
                hurt |= damaged;
                for (first, last) in names.into_iter().flatten() {
                    spread(first, last, &mut cavities, errors);
                }
            }
            let (kind, damaged) =
                sources::inline(runner.pieces(ways!(inline), sigs, errors), cavities, node.rows().len());
            (kind, damaged | hurt)
        }
        "wire" => sources::wire(runner.pieces(ways!(wire), sigs, errors)),
        keyword @ ("fuse" | "breaker" | "link") => {
            let kind = match keyword {
                "fuse" => FuseKind::Fuse,
                "breaker" => FuseKind::Breaker,
                _ => FuseKind::Link,
            };
            sources::fuse(runner.pieces(ways!(fuse), sigs, errors), kind, keyword)
        }
        "resistor" | "lamp" | "heater" | "coil" | "winding" | "motor" | "thermistor" | "variable"
        | "diode" => {
            let table = bodies::table_rows(runner, node, errors);
            elements::top_element(runner.pieces(ways!(top), sigs, errors), sigs.first()?.name(), table)
        }
        "switch" => elements::switch(runner.pieces(ways!(switch), sigs, errors)),
        "device" => bodies::device(runner, node, errors),
        "part" => bodies::part(runner, node, errors),
        "module" => bodies::module(runner, node, errors),
        "scenario" => scenario(runner, node, errors),
        "expect" => expect(runner, node, errors),
        "exercise" => exercise(runner, node, errors),
        "readings" => readings(runner, node, errors),
        "elsewhere" => sources::elsewhere(runner.pieces(ways!(elsewhere), sigs, errors)),
        "about" => {
            let mut rows = Vec::new();
            let mut hurt = false;
            for row in node.rows() {
                let (read, damaged) = runner.read(ways!(about_row), row.sigs, errors);
                hurt |= damaged;
                rows.extend(read);
            }
            (ItemKind::About(About { rows }), hurt)
        }
        "control" => {
            let mut p = runner.pieces(ways!(switch), sigs, errors);
            let name = sources::named(&mut p, "control").unwrap_or_else(|| sources::nameless(p.head));
            let title = p.title();
            let positions = p.with_names("positions");
            let positions = p
                .need(positions, "the positions", "for example `control mode positions eco, full`")
                .unwrap_or_default();
            (
                ItemKind::Control(Box::new(ControlItem { name, title, positions })),
                p.finish("control", &["positions"]),
            )
        }
        "variant" => {
            let mut p = runner.pieces(ways!(head), sigs, errors);
            let name = sources::named(&mut p, "variant").unwrap_or_else(|| sources::nameless(p.head));
            let title = p.title();
            (ItemKind::Variant(Variant { name, title }), p.finish("variant", &[]))
        }
        _ => return None,
    })
}

/// `1 .. 8` as eight names. Leading zeros stay: `01 .. 12`.
fn spread(first: Name, last: Option<Name>, out: &mut Vec<Name>, errors: &mut Vec<SyntaxError>) {
    let Some(last) = last else {
        out.push(first);
        return;
    };
    let span = first.span.to(last.span);
    match (first.text.parse::<u32>(), last.text.parse::<u32>()) {
        (Ok(a), Ok(b)) if a <= b && b - a < 1000 => {
            let width = if first.text.starts_with('0') { first.text.len() } else { 0 };
            out.extend((a..=b).map(|n| Name { text: format!("{n:0width$}").into(), span }));
        }
        _ => errors.push(SyntaxError {
            span,
            message: format!("`{} .. {}` is no run of cavities", first.text, last.text),
            help: Some("write the lower number first, such as `1 .. 8`, at most 1000 cavities".into()),
            fix: None,
        }),
    }
}

fn scenario<'t>(runner: &Runner<'t>, node: &Node<'t>, errors: &mut Vec<SyntaxError>) -> (ItemKind, bool) {
    let mut p = runner.pieces(ways!(head), node.sigs, errors);
    let name = sources::named(&mut p, "scenario").unwrap_or_else(|| sources::nameless(p.head));
    let title = p.title();
    if node.body.is_none() {
        p.missing("what the scenario sets", "for example `scenario spraying { key run, left_cmd on }`");
    }
    let mut damaged = p.finish("scenario", &[]);
    let mut out = Scenario { name, title, settings: Vec::new(), setups: Vec::new(), actions: Vec::new() };
    for row in node.rows() {
        damaged |= row.damaged;
        let (entries, hurt) = runner.read(ways!(entries), row.sigs, errors);
        damaged |= hurt;
        for entry in entries.into_iter().flatten() {
            match entry {
                Entry::Setting(s) => out.settings.push(s),
                Entry::Setup(s) => out.setups.push(s),
                Entry::Do(text) => out.actions.push(text),
            }
        }
    }
    (ItemKind::Scenario(Box::new(out)), damaged)
}

/// Whether a row is a set-up: only with what must follow it, since a point may be called `load`.
fn is_setup(sigs: &[Sig<'_>]) -> bool {
    use crate::lexer::TokenKind as T;
    let name =
        |at: usize| sigs.get(at).is_some_and(|s| matches!(s.kind, T::Word | T::Path | T::Int | T::Glued));
    match sigs.first().map_or("", |s| s.text) {
        "unplug" | "pull" => {
            let state = |s: &Sig<'_>| s.text == "operates" || STATES.contains(&s.text);
            name(1) && sigs.len() == 2 && !sigs.get(1).is_some_and(state)
        }
        "jumper" | "load" => name(1) && sigs.get(2).is_some_and(|s| s.text == "to"),
        _ => false,
    }
}

/// Rows of claims or readings, and set-ups among them.
fn rows<'t>(
    runner: &Runner<'t>,
    node: &Node<'t>,
    errors: &mut Vec<SyntaxError>,
) -> (Vec<Row>, Vec<Setup>, bool) {
    let (mut out, mut setups, mut damaged) = (Vec::new(), Vec::new(), false);
    for row in node.rows() {
        damaged |= row.damaged;
        if row.sigs.is_empty() || (row.keyword() == "allow" && row.sigs.len() == 1) {
            continue;
        }
        if is_setup(row.sigs) {
            let (entries, hurt) = runner.read(ways!(entries), row.sigs, errors);
            damaged |= hurt;
            setups.extend(
                entries
                    .into_iter()
                    .flatten()
                    .filter_map(|e| if let Entry::Setup(s) = e { Some(s) } else { None }),
            );
            continue;
        }
        let (read, hurt) = runner.read(ways!(row), row.sigs, errors);
        damaged |= hurt;
        if let (Some(mut read), false) = (read, hurt) {
            read.span = row.span;
            out.push(read);
        }
    }
    (out, setups, damaged)
}

fn expect<'t>(runner: &Runner<'t>, node: &Node<'t>, errors: &mut Vec<SyntaxError>) -> (ItemKind, bool) {
    let mut p = runner.pieces(ways!(block), node.sigs, errors);
    let scenario = p.with_name("in");
    let scenario = p.need(scenario, "the scenario", "for example `expect in spraying { … }`");
    if node.body.is_none() {
        p.missing("the claims", "for example `expect in spraying { left_valve operates }`");
    }
    let damaged = p.finish("expect", &["in"]);
    let (claims, setups, hurt) = rows(runner, node, errors);
    (ItemKind::Expect(Expect { scenario, setups, claims }), damaged | hurt)
}

fn readings<'t>(runner: &Runner<'t>, node: &Node<'t>, errors: &mut Vec<SyntaxError>) -> (ItemKind, bool) {
    let mut p = runner.pieces(ways!(block), node.sigs, errors);
    let name = p.word();
    let title = p.title();
    let scenario = p.with_name("in");
    let scenario = p.need(scenario, "the scenario", "for example `readings card_12 in spraying { … }`");
    let accuracy = p.quantities().unwrap_or_default();
    if node.body.is_none() {
        p.missing("the readings", "for example `readings card_12 in spraying { battery 12.3 V }`");
    }
    let damaged = p.finish("readings", &["in", "accuracy"]);
    let (rows, setups, hurt) = rows(runner, node, errors);
    (ItemKind::Readings(Box::new(Readings { name, title, scenario, accuracy, rows, setups })), damaged | hurt)
}

fn exercise<'t>(runner: &Runner<'t>, node: &Node<'t>, errors: &mut Vec<SyntaxError>) -> (ItemKind, bool) {
    let mut p = runner.pieces(ways!(block), node.sigs, errors);
    let name = sources::named(&mut p, "exercise").unwrap_or_else(|| sources::nameless(p.head));
    let title = p.title();
    let scenario = p.with_name("in");
    if node.body.is_none() {
        p.missing(
            "the exercise's fault and questions",
            "for example `exercise dead_left in spraying { fault open 431 }`",
        );
    }
    let mut damaged = p.finish("exercise", &["in"]);
    let mut out = Exercise {
        name,
        title,
        scenario,
        faults: Vec::new(),
        symptoms: Vec::new(),
        probes: Vec::new(),
        asks: Vec::new(),
        setups: Vec::new(),
    };
    for row in node.rows() {
        damaged |= row.damaged;
        if row.sigs.is_empty() || row.keyword() == "allow" {
            continue;
        }
        let (read, hurt) = runner.read(ways!(exercise_row), row.sigs, errors);
        damaged |= hurt;
        match read {
            Some(ExerciseRow::In(name)) => out.scenario = Some(name),
            Some(ExerciseRow::Fault(mut fault)) => {
                fault.span = row.span;
                out.faults.push(fault);
            }
            Some(ExerciseRow::Symptom(mut symptom)) => {
                symptom.span = row.span;
                out.symptoms.push(symptom);
            }
            Some(ExerciseRow::Probes(points)) => out.probes.extend(points),
            Some(ExerciseRow::Ask(ask)) => out.asks.push(ask),
            Some(ExerciseRow::Setup(setup)) => out.setups.push(setup),
            None => {}
        }
    }
    (ItemKind::Exercise(Box::new(out)), damaged)
}
