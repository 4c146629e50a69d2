//! Hover on what is only written, not wired: parts, parameters, scenarios, sensors' settings, keywords.

use super::{Hover, Page, capital, now};
use crate::{
    View,
    completion::words,
    display::{amps, trimmed},
    table,
};
use keyon_circuit::ids::{ScenarioId, StimulusId};
use keyon_present::figure;
use keyon_syntax::{Span, unit::Dimension};

pub(super) fn stimulus(view: &View<'_>, page: &mut Page, id: StimulusId) {
    let Some(stimulus) = view.elaboration.circuit.stimuli.get(id.index()) else { return };
    let show = |value: f64| figure::of_stimulus(value, stimulus);
    page.say(&format!(
        "Nominal {}, from {} to {}",
        show(stimulus.nominal),
        show(stimulus.span.0),
        show(stimulus.span.1)
    ));
    let (solution, name) = now(view);
    if let Some(value) = solution.state.stimuli.get(id.index()) {
        page.say(&format!("{}: **{}**", capital(&name), show(*value)));
    }
}

pub(super) fn scenario(view: &View<'_>, page: &mut Page, id: ScenarioId) {
    let circuit = &view.elaboration.circuit;
    let Some(scenario) = circuit.scenarios.get(id.index()) else { return };
    let settings = &scenario.settings;
    let mut set = Vec::new();
    for (control, position, duty) in &settings.controls {
        let Some(control) = circuit.controls.get(control.index()) else { continue };
        let position = control.positions.get(*position).map_or("", |position| position.as_str());
        let duty = duty.map(|duty| format!(" {} %", trimmed(duty * 100.0, 1))).unwrap_or_default();
        set.push(format!("{} {position}{duty}", control.name));
    }
    for (stimulus, value) in &settings.stimuli {
        let Some(stimulus) = circuit.stimuli.get(stimulus.index()) else { continue };
        set.push(format!("{} {}", stimulus.name, figure::of_stimulus(*value, stimulus)));
    }
    for (supply, value) in &settings.supplies {
        let Some(supply) = circuit.supplies.get(*supply) else { continue };
        set.push(format!("{} {} V", supply.name, trimmed(*value, 3)));
    }
    if !settings.changes.is_empty() {
        set.push("with something unplugged, pulled or bridged".into());
    }
    page.say(&if set.is_empty() {
        "Everything at rest".to_owned()
    } else {
        format!("Sets {}", set.join(", "))
    });
    page.list(scenario.actions.iter().map(|action| format!("do: {action}")));
    let solution = view.solve(&keyon_solve::State::scenario(circuit, id));
    let mut lines = Vec::new();
    for (device, state) in circuit.devices.iter().zip(&solution.devices) {
        if table::has_loads(circuit, device) && state.state != keyon_solve::ElementState::Rests {
            let words = state.grade.as_ref().map_or(state.state.words(), |grade| grade.as_str());
            lines.push(format!("{} {words}", device.name));
        }
    }
    for fuse in &circuit.fuses {
        let current = solution.amps.get(fuse.element.index()).and_then(|amps| amps.known());
        let blown = solution.blown.iter().any(|(id, _)| *id == fuse.element);
        match current {
            _ if blown => lines.push(format!("{} blows", fuse.name)),
            Some(current) if current.abs() >= 0.5e-3 => {
                lines.push(format!("{} carries {}", fuse.name, amps(current.abs())));
            }
            _ => {}
        }
    }
    if lines.is_empty() {
        lines.push("nothing operates".into());
    }
    page.list(lines);
}

pub(super) fn part(view: &View<'_>, page: &mut Page, part: usize) {
    let Some(part) = view.elaboration.parts.get(part) else { return };
    if part.built_in {
        page.say("Comes with Keyon");
    }
    let params: Vec<_> = part
        .params
        .iter()
        .map(|param| {
            let dimension = param.dimension.map_or("?", |dimension| dimension_word(dimension));
            match param.default.zip(param.dimension) {
                Some((default, dimension)) => {
                    format!(
                        "{}: {} = {}",
                        param.name,
                        dimension_word(dimension),
                        figure::quantity(default.nominal, dimension)
                    )
                }
                None => format!("{}: {dimension}", param.name),
            }
        })
        .collect();
    if !params.is_empty() {
        page.say(&format!("Parameters: {}", params.join(", ")));
    }
    if !part.pins.is_empty() {
        page.say(&format!("Pins: {}", part.pins.join(", ")));
    }
    if !part.cavities.is_empty() {
        let rows = part.cavities.iter().map(|(connector, cavity, name)| {
            format!("{connector}.{cavity} {}", name.as_ref().map_or("unused", |name| name.as_str()))
        });
        page.list(rows);
    }
}

pub(super) fn param(view: &View<'_>, page: &mut Page, part: usize, param: usize) {
    let Some(param) = view.elaboration.parts.get(part).and_then(|part| part.params.get(param)) else {
        return;
    };
    if let Some(dimension) = param.dimension {
        page.say(&format!("A {}", dimension_word(dimension)));
        match param.default {
            Some(default) => {
                page.say(&format!("Without an argument: {}", figure::quantity(default.nominal, dimension)))
            }
            None => page.say("Has to be given"),
        }
    }
}

/// The name of a dimension as the language writes it.
pub(super) fn dimension_word(dimension: Dimension) -> &'static str {
    match dimension {
        Dimension::Resistance => "resistance",
        Dimension::Current => "current",
        Dimension::Voltage => "voltage",
        Dimension::Power => "power",
        Dimension::Length => "length",
        Dimension::Temperature => "temperature",
        Dimension::Ratio => "ratio",
        Dimension::Frequency => "frequency",
        Dimension::Pressure => "pressure",
        Dimension::Area => "area",
    }
}

/// A word of the language.
pub(super) fn keyword(view: &View<'_>, offset: u32) -> Option<Hover> {
    let (span, word) = word_at(view.text(), offset)?;
    let help = words::help(word)?;
    Some(Hover { span, markdown: format!("**{word}** \u{b7} {help}") })
}

/// The word of letters, digits and `_` at an offset, outside of texts and comments.
fn word_at(text: &str, offset: u32) -> Option<(Span, &str)> {
    let offset = offset as usize;
    let before = text.get(..offset)?;
    let line = before.rfind(['\n', '\r']).map_or(0, |at| at + 1);
    let mut quoted = false;
    for c in text.get(line..offset)?.chars() {
        match c {
            '"' => quoted = !quoted,
            '#' if !quoted => return None,
            _ => {}
        }
    }
    let inside = |c: char| c.is_alphanumeric() || c == '_';
    let start = offset - before.chars().rev().take_while(|c| inside(*c)).map(char::len_utf8).sum::<usize>();
    let end =
        offset + text.get(offset..)?.chars().take_while(|c| inside(*c)).map(char::len_utf8).sum::<usize>();
    (!quoted && start < end).then(|| (Span::new(start, end), text.get(start..end).unwrap_or_default()))
}
