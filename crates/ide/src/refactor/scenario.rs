//! A scenario next to the one that is shown: the same, with one control elsewhere.

use super::{Refactor, free};
use crate::{
    View,
    format::newline,
    place::{end_of_path, name_at},
    shown,
};
use keyon_circuit::ids::ControlId;
use keyon_syntax::{
    Span,
    tree::{ItemKind, PlacedItem, Scenario},
};

/// Positions that are offered for one control.
const MOST: usize = 6;

pub(super) fn beside(view: &View<'_>, offset: u32) -> Vec<Refactor> {
    let Some(id) = control_at(view, offset) else { return Vec::new() };
    let circuit = &view.elaboration.circuit;
    let Some(control) = circuit.controls.get(id.index()) else { return Vec::new() };
    let (state, _) = shown::state(view);
    let now = state.positions.get(id.index()).map_or(0, |p| usize::from(*p));
    let held = shown::shown(view.elaboration, view.held);
    let model = held.as_deref().and_then(|name| written(view, name));
    let others = control.positions.iter().enumerate().filter(|(at, _)| *at != now).take(MOST);
    others.filter_map(|(at, position)| edit(view, id, &control.name, (at, position), model)).collect()
}

/// The control that the name at an offset moves.
fn control_at(view: &View<'_>, offset: u32) -> Option<ControlId> {
    let found = name_at(view, offset)?;
    let (last, _) = end_of_path(view, found);
    // Of `arm.2` the pin moves nothing, but the switch does.
    let circuit = &view.elaboration.circuit;
    circuit.control_of(last.entity).or_else(|| circuit.control_of(found.0.entity))
}

/// A scenario of this file, as it is written.
fn written<'a>(view: &View<'a>, name: &str) -> Option<(&'a PlacedItem, &'a Scenario)> {
    view.source()?.parse.file.items.iter().find_map(|placed| match &placed.item.kind {
        ItemKind::Scenario(scenario) if scenario.name.text == name => Some((placed, &**scenario)),
        _ => None,
    })
}

fn edit(
    view: &View<'_>,
    id: ControlId,
    control: &str,
    (at, position): (usize, &str),
    model: Option<(&PlacedItem, &Scenario)>,
) -> Option<Refactor> {
    let mut entries: Vec<&str> = Vec::new();
    let setting = format!("{control} {position}");
    let mut placed_in = None;
    if let Some((placed, scenario)) = model {
        let slice = |span: Span| view.text().get(span.moved(placed.start).range());
        for setting in &scenario.settings {
            if control_at(view, setting.subject.span.moved(placed.start).end.saturating_sub(1)) == Some(id) {
                placed_in = Some(entries.len());
                continue;
            }
            entries.extend(slice(setting.span));
        }
        entries.extend(scenario.setups.iter().filter_map(|setup| slice(setup.span)));
    }
    // What rests is not said.
    if at > 0 {
        let last =
            model.map_or(0, |(_, scenario)| scenario.settings.len() - usize::from(placed_in.is_some()));
        entries.insert(placed_in.unwrap_or(last), &setting);
    }
    let first = format!("{}_{position}", control.replace('.', "_"));
    let numbered = (2..1000).map(|n| format!("{first}_{n}"));
    let name = free(view, std::iter::once(first.clone()).chain(numbered))?;
    let newline = newline(view.text());
    let items = &view.source()?.parse.file.items;
    let is_scenario = |placed: &&PlacedItem| matches!(placed.item.kind, ItemKind::Scenario(_));
    let at = match items.iter().rev().find(is_scenario) {
        Some(last) => super::line_end(view, last),
        None => view.text().trim_end().len() as u32,
    };
    let gap = if items.iter().any(|placed| is_scenario(&placed)) { "" } else { newline };
    let body = if entries.is_empty() { "{ }".to_owned() } else { format!("{{ {} }}", entries.join(", ")) };
    let text = format!("{newline}{gap}scenario {name} {body}");
    let title = format!("declare a scenario from what is shown, with {control} {position}");
    Some(Refactor { title, extracts: false, edits: vec![(Span { start: at, end: at }, text)] })
}
