//! Rows of scenarios, expectations, readings, exercises.

use super::{CompletionKind as Kind, List, context::Context, names, words};
use crate::{View, expecting, table::can_operate};
use keyon_circuit::{
    Entity,
    model::{ASK_KINDS, ElementKind},
};

/// A setting: `key run`, `temp 25 degC`, or a set-up.
pub(super) fn setting(view: &View<'_>, context: &Context<'_>, before: &[&str], list: &mut List) {
    match before {
        [] if context.qualifier.is_none() => {
            names::settings(view, list);
            list.words(Kind::Keyword, &["unplug", "pull", "jumper", "load", "do"]);
        }
        ["unplug"] => names::plugs(view, list),
        ["pull"] => names::fuses(view, list),
        ["jumper" | "load"] | ["jumper" | "load", _, "to"] => names::points(view, context.qualifier, list),
        ["jumper" | "load", _] => list.words(Kind::Keyword, &["to"]),
        [] => names::below(&view.elaboration.circuit, context.qualifier.unwrap_or_default(), true, list),
        [control] => {
            names::positions(view, control, list);
        }
        _ => {}
    }
}

/// A row of `expect` or `readings`.
pub(super) fn row(view: &View<'_>, context: &Context<'_>, list: &mut List) {
    if let Some(with) = context.before.iter().rposition(|word| *word == "with") {
        let rest = context.before.get(with + 1..).unwrap_or_default();
        let last = rest.rsplit(|word| *word == ",").next().unwrap_or_default();
        return setting(view, context, last, list);
    }
    match context.before.as_slice() {
        [] => {
            subjects(view, context, list);
            if context.qualifier.is_none() {
                list.words(Kind::Keyword, &["ohms", "clamp", "lamp"]);
            }
        }
        ["clamp"] => {
            names::wires(view, list);
            names::fuses(view, list);
        }
        // A device may be called by a word that means something here.
        [name] if !view.elaboration.circuit.lookup(name).is_empty() => said(view, context, name, list),
        ["ohms" | "lamp"] | [.., "to"] => names::points(view, context.qualifier, list),
        ["ohms", _] => list.words(Kind::Keyword, &["to"]),
        [name, side @ ("about" | "below" | "above")] => reads(view, context, name, side, list),
        [.., "+-" | ".."] => {}
        [name] | [_, "to", name] => said(view, context, name, list),
        // Of a test lamp is seen how it burns, of a clamp what it reads.
        ["lamp", name] if !words::STATES.contains(name) => {
            list.words(Kind::Word, &["bright", "dim", "dark"]);
            list.words(Kind::Keyword, &["to"]);
        }
        ["lamp", _, "to", _] => list.words(Kind::Word, &["bright", "dim", "dark"]),
        ["ohms", _, "to", _] => list.words(Kind::Word, &["below", "above", "about"]),
        ["clamp", name] if !words::STATES.contains(name) => {
            list.words(Kind::Word, &["below", "above", "about"]);
        }
        _ => list.words(Kind::Keyword, &["with"]),
    }
}

/// What can be said of a point or a thing: what is so now, then of a device what it does, of a point what it reads.
fn said(view: &View<'_>, context: &Context<'_>, name: &str, list: &mut List) {
    let circuit = &view.elaboration.circuit;
    let entity = circuit.lookup(name).first().copied();
    let expects = context.bodies.last().filter(|words| words.first() == Some(&"expect"));
    if let (Some(entity), Some(scenario), [_]) =
        (entity, expects.and_then(|words| words.get(2)), context.before.as_slice())
    {
        for claim in expecting::claims(view, entity, scenario) {
            list.add(Kind::Word, claim, Some(format!("what is so in {scenario} now")));
        }
    }
    match entity {
        Some(Entity::Device(device)) => {
            let elements = circuit.devices.get(device.index()).into_iter().flat_map(|d| &d.elements);
            let kinds: Vec<_> =
                elements.filter_map(|e| circuit.elements.get(e.index())).map(|e| e.kind).collect();
            let device = circuit.devices.get(device.index());
            if device.is_some_and(|device| can_operate(circuit, device)) {
                list.words(Kind::Word, &["operates", "rests", "weak"]);
            }
            if kinds.contains(&ElementKind::Winding) {
                list.words(Kind::Word, &["operates forward", "operates reverse"]);
            }
            if kinds.contains(&ElementKind::Coil) && kinds.contains(&ElementKind::Contact) {
                list.words(Kind::Word, &["holds", "chatters"]);
            }
            let grades = device.into_iter().flat_map(|d| &d.grades);
            for (grade, _) in grades {
                list.add(Kind::Word, grade.as_str(), Some("grade".into()));
            }
            list.words(Kind::Word, &["below", "above", "about"]);
        }
        Some(Entity::Fuse(_)) => {
            list.words(Kind::Word, &["good", "blown", "below", "above", "about"]);
        }
        Some(entity) if circuit.point_of(entity).is_some() => {
            list.words(Kind::Word, &["below", "above", "about"]);
            list.words(Kind::Word, words::NODES);
            list.words(Kind::Word, &["high", "low"]);
        }
        _ => {
            list.words(Kind::Word, &["below", "above", "about"]);
            list.words(Kind::Word, words::STATES);
        }
    }
    list.words(Kind::Keyword, &["to", "with"]);
}

/// Behind `about` what is read there now; behind `above` and `below` a round figure beyond which it is.
fn reads(view: &View<'_>, context: &Context<'_>, name: &str, side: &str, list: &mut List) {
    let scenario = context.bodies.last().filter(|words| words.first() == Some(&"expect"));
    let entity = view.elaboration.circuit.lookup(name).first().copied();
    let Some((entity, scenario)) = entity.zip(scenario.and_then(|words| words.get(2))) else { return };
    for claim in expecting::claims(view, entity, scenario) {
        let Some(value) = claim.strip_prefix("about ") else { continue };
        let (now, unit) = match value.split(' ').collect::<Vec<_>>().as_slice() {
            [number, unit, ..] => (number.parse::<f64>().unwrap_or_default(), (*unit).to_owned()),
            _ => continue,
        };
        let said = match side {
            "about" => value.to_owned(),
            "above" if now > 0.1 => format!("{} {unit}", (now * 9.5 + 1e-6).floor() / 10.0),
            "below" => format!("{} {unit}", ((now * 10.5 + 1e-6).floor() + 1.0) / 10.0),
            _ => continue,
        };
        list.add(Kind::Word, said, Some(format!("in {scenario} it is {now} {unit} now")));
    }
}

/// What can be measured or seen.
fn subjects(view: &View<'_>, context: &Context<'_>, list: &mut List) {
    if let Some(qualifier) = context.qualifier {
        return names::below(&view.elaboration.circuit, qualifier, true, list);
    }
    names::devices(view, list);
    names::fuses(view, list);
    let circuit = &view.elaboration.circuit;
    for cavity in circuit.modules.iter().flat_map(|m| &m.connectors).flat_map(|c| &c.cavities) {
        if let keyon_circuit::model::Role::Senses { .. } = cavity.role {
            list.add(Kind::Control, cavity.name.as_str(), Some("input".into()));
        }
    }
    names::points(view, None, list);
    names::wires(view, list);
}

/// A line of an exercise.
pub(super) fn exercise(view: &View<'_>, context: &Context<'_>, list: &mut List) {
    match context.before.as_slice() {
        [] => list
            .words(Kind::Keyword, &["fault", "symptom", "probes", "ask", "in", "unplug", "pull", "jumper"]),
        ["in"] => names::scenarios(view, list),
        ["fault"] => list.words(Kind::Keyword, &["open", "short", "stuck", "resistance", "drift"]),
        ["fault", "stuck"] => names::settings(view, list),
        ["fault", "stuck", control] => {
            names::positions(view, control, list);
        }
        ["fault", "short", _] => list.words(Kind::Keyword, &["to"]),
        ["fault", "short", _, "to"] => {
            list.words(Kind::Word, &["ground"]);
            names::points(view, context.qualifier, list);
        }
        ["fault", "open" | "short"] | ["fault", "resistance", .., "in"] => {
            names::wires(view, list);
            subjects(view, context, list);
        }
        ["fault", "drift"] => {
            for stimulus in &view.elaboration.circuit.stimuli {
                list.add(Kind::Control, stimulus.name.as_str(), Some("sensor".into()));
            }
        }
        ["ask"] => list.words(Kind::Word, &ASK_KINDS),
        ["symptom"] => subjects(view, context, list),
        ["symptom", _] => list.words(Kind::Word, words::STATES),
        ["probes" | "ask", ..] => subjects(view, context, list),
        ["unplug" | "pull" | "jumper", ..] => setting(view, context, &context.before, list),
        _ => {}
    }
}
