//! Paths in words: "battery · F1 · key · F7 · S12 · 431".

use crate::shown::element_is_shown;
use keyon_circuit::{
    ids::*,
    model::{Circuit, ControlKind, ElementKind, Owner, PointKind, When},
};
use keyon_solve::Path;
use smol_str::SmolStr;

/// Between the words of a path.
pub const DOT: &str = " · ";

/// From the supply to the point, as a technician names what lies on the way. `path` leads from the point to a source.
pub fn feed_words(circuit: &Circuit, path: &Path) -> String {
    let mut words = walk_words(circuit, path);
    words.reverse();
    words.join(DOT)
}

/// From the point to ground. `path` leads that way.
pub fn ground_words(circuit: &Circuit, path: &Path) -> String {
    walk_words(circuit, path).join(DOT)
}

/// Either, in the direction in which it was walked.
fn walk_words(circuit: &Circuit, path: &Path) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    let mut push = |word: String| {
        if !word.is_empty() && words.last() != Some(&word) {
            words.push(word);
        }
    };
    for (index, &point) in path.points.iter().enumerate() {
        // The point that was asked about needs no mention, unless it is all there is.
        if index > 0 || path.steps.is_empty() {
            push(point_word(circuit, point));
        }
        if let Some(&(element, _)) = path.steps.get(index) {
            push(element_word(circuit, element));
        }
    }
    words
}

/// A point on a path, if it is worth a word.
fn point_word(circuit: &Circuit, point: PointId) -> String {
    let Some(point) = circuit.points.get(point.index()) else { return String::new() };
    match point.kind {
        PointKind::Common => "ground".to_owned(),
        PointKind::Supply(_) | PointKind::Ground(_) | PointKind::Splice(_) | PointKind::Cavity(..) => {
            point.name.to_string()
        }
        PointKind::InlineSide(inline, cavity, _) => {
            circuit.name_of(keyon_circuit::Entity::InlineCavity(inline, cavity)).to_string()
        }
        _ => String::new(),
    }
}

/// An element on a path in a word: a contact by its device, a stage by its control, joints not at all.
pub fn element_word(circuit: &Circuit, element: ElementId) -> String {
    let Some(item) = circuit.elements.get(element.index()) else { return String::new() };
    match item.kind {
        ElementKind::Terminal
        | ElementKind::Tie
        | ElementKind::Inline
        | ElementKind::Ground
        | ElementKind::Supply => String::new(),
        ElementKind::Return => String::new(),
        ElementKind::Stage => match item.when {
            When::In { control, .. } => circuit
                .controls
                .get(control.index())
                .map_or_else(|| item.name.to_string(), |c| c.name.to_string()),
            _ => owner_name(circuit, element),
        },
        ElementKind::Reference | ElementKind::Rail | ElementKind::PullUp | ElementKind::PullDown => {
            item.name.to_string()
        }
        ElementKind::Wire | ElementKind::Fuse(_) | ElementKind::Elsewhere | ElementKind::Draw => {
            item.name.to_string()
        }
        _ => owner_name(circuit, element),
    }
}

/// The device of an element, or `device.element` where it has several loads.
fn owner_name(circuit: &Circuit, element: ElementId) -> String {
    let Some(item) = circuit.elements.get(element.index()) else { return String::new() };
    let Owner::Device(device) = item.owner else { return item.name.to_string() };
    let Some(device) = circuit.devices.get(device.index()) else { return item.name.to_string() };
    let is_load = |e: &&ElementId| circuit.elements.get(e.index()).is_some_and(|e| e.kind.is_load());
    if !item.kind.is_load() || device.elements.iter().filter(is_load).count() < 2 {
        device.name.to_string()
    } else {
        item.name.to_string()
    }
}

/// The names on a path for programs: shown points and shown elements by turns, without joints that nobody named.
pub fn path_names(circuit: &Circuit, path: &Path) -> Vec<SmolStr> {
    let mut names: Vec<SmolStr> = Vec::new();
    for (index, point) in path.points.iter().enumerate() {
        if let Some(point) = circuit.points.get(point.index()) {
            let inner = matches!(
                point.kind,
                PointKind::PinInside(..) | PointKind::CavityInside(..) | PointKind::Internal
            );
            if !inner {
                names.push(point.name.clone());
            }
        }
        if let Some(&(element, _)) = path.steps.get(index)
            && element_is_shown(circuit, element)
            && let Some(element) = circuit.elements.get(element.index())
        {
            // A ground joint and an in-line cavity have the name of their point: once is enough.
            if names.last() != Some(&element.name) {
                names.push(element.name.clone());
            }
        }
    }
    names.dedup();
    names
}

/// Where a control stands, in words: `left_cmd on 40 %`.
pub fn control_words(circuit: &Circuit, control: ControlId, position: usize, duty: f64) -> String {
    let Some(control) = circuit.controls.get(control.index()) else { return String::new() };
    let position = control.positions.get(position).map_or("?", SmolStr::as_str);
    let pulsed = control.pwm.is_some() && duty < 1.0;
    if pulsed {
        format!("{} {position} {}", control.name, crate::figure::percent(duty))
    } else {
        format!("{} {position}", control.name)
    }
}

/// Whether the module moves a control, not a person.
pub fn is_module_control(kind: ControlKind) -> bool {
    matches!(kind, ControlKind::Stage(..) | ControlKind::Gang(..) | ControlKind::Return(..))
}
