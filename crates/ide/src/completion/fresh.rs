//! Names that are new where they are written: those that are used already and declared nowhere, and the next of a row.

use super::{CompletionKind as Kind, List};
use crate::View;
use keyon_circuit::Entity;
use keyon_syntax::tree::ItemKind;

/// How things are usually called, the next number behind it. Not of grounds and splices: their line may end with the name,
/// where Enter is to begin the next line and not to take a completion.
const ROWS: &[(&str, &str)] = &[
    ("fuse", "F"),
    ("breaker", "CB"),
    ("link", "FL"),
    ("diode", "D"),
    ("resistor", "R"),
    ("connector", "C"),
];

/// Names for what a statement with this head declares.
pub(super) fn names(view: &View<'_>, head: &str, list: &mut List) {
    let circuit = &view.elaboration.circuit;
    for name in undeclared(view, head) {
        list.add(Kind::Word, name, Some("used, and declared nowhere yet".into()));
    }
    let free = |name: &str| circuit.lookup(name).is_empty();
    if let Some((_, letter)) = ROWS.iter().find(|(word, _)| *word == head) {
        let next = (1..).map(|n: u32| format!("{letter}{n}")).find(|name| free(name));
        if let Some(name) = next {
            list.add(Kind::Word, name, Some("the next name".into()));
        }
    }
    match head {
        "wire" => {
            let numbers = circuit.wires.iter().filter_map(|wire| wire.name.parse::<u32>().ok());
            let next = numbers.max().map_or(1, |last| last.saturating_add(1));
            list.add(Kind::Word, next.to_string(), Some("the next number".into()));
        }
        "supply" if free("battery") => list.add(Kind::Word, "battery", Some("a usual name".into())),
        "circuit" => {
            let name = view.source().and_then(|source| of_file(&source.key));
            if let Some(name) = name {
                list.add(Kind::Word, name, Some("as the file is called".into()));
            }
        }
        _ => {}
    }
}

/// Names that something of this kind is called by, in the order of the file.
pub(super) fn undeclared<'a>(view: &View<'a>, head: &str) -> Vec<&'a str> {
    let begins = match head {
        "scenario" => return undeclared_scenarios(view),
        "part" => "there is no part",
        "circuit" | "wire" => return Vec::new(),
        _ => "nothing here is named",
    };
    let mut names = Vec::new();
    for problem in &view.elaboration.problems {
        if problem.rule != "unknown-name"
            || problem.loc.file.index() != 0
            || !problem.message.starts_with(begins)
        {
            continue;
        }
        let span = view.elaboration.span(problem.loc);
        let Some(text) = view.text().get(span.range()) else { continue };
        let name = text.split('.').next().unwrap_or_default();
        if name.starts_with(char::is_alphabetic) && !names.contains(&name) {
            names.push(name);
        }
    }
    names
}

/// Scenarios of which something is said and that are not there. While one is being declared that has no name yet, no finding tells
/// of them: any may be it.
fn undeclared_scenarios<'a>(view: &View<'a>) -> Vec<&'a str> {
    let source = view.elaboration.files.first();
    let items = source.map_or(&[][..], |source| &source.parse.file.items);
    let named = items.iter().filter_map(|placed| match &placed.item.kind {
        ItemKind::Expect(expect) => expect.scenario.as_ref(),
        ItemKind::Exercise(exercise) => exercise.scenario.as_ref(),
        ItemKind::Readings(readings) => readings.scenario.as_ref(),
        _ => None,
    });
    let is_there = |name: &str| {
        view.elaboration.circuit.lookup(name).iter().any(|entity| matches!(entity, Entity::Scenario(_)))
    };
    let mut names: Vec<&str> = Vec::new();
    for name in named.map(|name| name.text.as_str()).filter(|name| !name.is_empty() && !is_there(name)) {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    names
}

/// `work_lamp` of `…/Work lamp.keyon`.
fn of_file(key: &str) -> Option<String> {
    let file = key.rsplit(['/', '\\', ':']).next()?.strip_suffix(".keyon")?;
    let name: String =
        file.to_lowercase().chars().map(|c| if c.is_alphanumeric() { c } else { '_' }).collect();
    name.starts_with(char::is_alphabetic).then_some(name)
}
