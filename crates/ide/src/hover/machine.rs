//! Hover on devices, modules, their connectors and what moves them.

use super::{Page, capital, now, point, sensor};
use crate::{View, carries::limit, display::amps, table};
use keyon_circuit::{
    entity::role_words,
    ids::{ControlId, DeviceId, InlineId, ModuleId},
    model::{Attributes, Cavity, Circuit, ControlKind, Role},
};
use keyon_present::cautions;
use keyon_solve::{Cancelled, DeviceState, Solution};

pub(super) fn device(view: &View<'_>, page: &mut Page, id: DeviceId) -> Result<(), Cancelled> {
    let circuit = &view.elaboration.circuit;
    let Some(device) = circuit.devices.get(id.index()) else { return Ok(()) };
    attributes(page, &device.attributes);
    let (solution, name) = now(view);
    if sensor::is_sensor(circuit, device) {
        return sensor::card(view, page, id, &name);
    }
    let loads = table::has_loads(circuit, device);
    if let Some(state) = solution.devices.get(id.index()).filter(|_| loads) {
        page.say(&format!("{}: **{}**", capital(&name), does(circuit, &solution, id, state)));
    }
    if let Some(control) = device.control {
        stands(view, page, control, &solution, &name);
    }
    if loads && let Some(table) = table::of_device(view, id, limit(circuit))? {
        page.say(&table);
    }
    if let Some(control) = device.control.filter(|_| !loads)
        && let Some(table) = table::of_controls(view, &[control], limit(circuit))?
    {
        page.say(&table);
    }
    if device.attributes.moves {
        page.say("\u{26a0} It may move: chock it, lower it, keep clear before operating or probing.");
    }
    page.list(device.attributes.hazards.iter().map(|hazard| format!("\u{26a0} {hazard}")));
    Ok(())
}

/// A device's state with its grade, duty, currents.
fn does(circuit: &Circuit, solution: &Solution, id: DeviceId, state: &DeviceState) -> String {
    let mut text = state.grade.as_ref().map_or_else(|| state.state.words().to_owned(), ToString::to_string);
    if state.duty < 1.0 {
        text.push_str(&format!(" at {:.0} %", state.duty * 100.0));
    }
    if state.holds {
        text.push_str(" (would also stay energised: holds)");
    }
    let mut parts = Vec::new();
    let alone = state.elements.len() == 1;
    for (element, what) in &state.elements {
        let Some(current) = solution.amps.get(element.index()) else { continue };
        let current = current.known().map_or_else(|| "unlimited".into(), amps);
        let name = circuit.elements.get(element.index()).map_or("", |element| element.name.as_str());
        let short = name.strip_prefix(circuit.devices.get(id.index()).map_or("", |d| d.name.as_str()));
        let short = short.and_then(|name| name.strip_prefix('.')).unwrap_or(name);
        parts.push(if alone { current } else { format!("{short} {} {current}", what.words()) });
    }
    if !parts.is_empty() {
        text.push_str(", ");
        text.push_str(&parts.join(", "));
    }
    text
}

pub(super) fn module(view: &View<'_>, page: &mut Page, id: ModuleId) -> Result<(), Cancelled> {
    let circuit = &view.elaboration.circuit;
    let Some(module) = circuit.modules.get(id.index()) else { return Ok(()) };
    attributes(page, &module.attributes);
    let (solution, name) = now(view);
    let alive = solution.lives(id);
    page.say(&format!(
        "{}: **{}**",
        capital(&name),
        if alive {
            "alive"
        } else {
            "dead: a feed or a ground is missing, so drivers are open and references off"
        }
    ));
    for connector in &module.connectors {
        page.say(&pinout(circuit, &solution, &connector.name, &connector.cavities));
    }
    let controls: Vec<_> = controls_of(circuit, id);
    if let Some(table) = table::of_controls(view, &controls, limit(circuit))? {
        page.say(&table);
    }
    Ok(())
}

pub(super) fn connector(view: &View<'_>, page: &mut Page, id: ModuleId, connector: usize) {
    let circuit = &view.elaboration.circuit;
    let Some(connector) = circuit.modules.get(id.index()).and_then(|m| m.connectors.get(connector)) else {
        return;
    };
    attributes(page, &connector.attributes);
    let (solution, name) = now(view);
    page.say(&format!("{}, black lead on the supply's negative:", capital(&name)));
    page.say(&pinout(circuit, &solution, &connector.name, &connector.cavities));
}

/// The cavities with what a meter reads at each.
fn pinout(circuit: &Circuit, solution: &Solution, connector: &str, cavities: &[Cavity]) -> String {
    let mut text = format!("| {connector} | name | role | wire | reads |\n|---|---|---|---|---|\n");
    for cavity in cavities {
        let wires = cautions::landings(circuit, cavity.outside).join("; ");
        let reads =
            if cavity.landings.is_empty() { String::new() } else { point::reads(solution, cavity.outside) };
        let role = role_words(&cavity.role);
        text.push_str(&format!("| {} | {} | {role} | {wires} | {reads} |\n", cavity.number, cavity.name));
    }
    text
}

pub(super) fn cavity(
    view: &View<'_>,
    page: &mut Page,
    id: ModuleId,
    connector: usize,
    cavity: usize,
) -> Result<(), Cancelled> {
    let circuit = &view.elaboration.circuit;
    let Some(row) = circuit.cavity(id, connector, cavity) else { return Ok(()) };
    let now = now(view);
    let (solution, name) = &now;
    if let Some(control) = row.control {
        stands(view, page, control, solution, name);
    }
    if let Role::Senses { digital } = row.role {
        let volts = solution.input_volts(circuit, id, connector, cavity);
        let shows = match (volts, digital, row.threshold) {
            (Some(volts), true, Some(threshold)) => {
                let level = if volts >= threshold { "high" } else { "low" };
                format!("{level} ({})", crate::display::volts(volts))
            }
            (Some(volts), ..) => crate::display::volts(volts),
            (None, ..) => "nothing defined: it floats".into(),
        };
        page.say(&format!("{}, the module reads **{shows}** (against its own ground)", capital(name)));
    }
    point::page_in(view, page, row.outside, &now)?;
    if let Some(control) = row.control
        && let Some(table) = table::of_controls(view, &[control], limit(circuit))?
    {
        page.say(&table);
    }
    Ok(())
}

pub(super) fn inline(view: &View<'_>, page: &mut Page, id: InlineId) {
    let circuit = &view.elaboration.circuit;
    let Some(inline) = circuit.inlines.get(id.index()) else { return };
    attributes(page, &inline.attributes);
    let (solution, name) = now(view);
    let mut text = String::from("| cavity | side a | side b | reads |\n|---|---|---|---|\n");
    for cavity in &inline.cavities {
        let side = |point| cautions::landings(circuit, point).join("; ");
        text.push_str(&format!(
            "| {} | {} | {} | {} |\n",
            cavity.name,
            side(cavity.a),
            side(cavity.b),
            point::reads(&solution, cavity.a)
        ));
    }
    page.say(&format!("{}:", capital(&name)));
    page.say(&text);
}

pub(super) fn control(view: &View<'_>, page: &mut Page, id: ControlId) -> Result<(), Cancelled> {
    let (solution, name) = now(view);
    stands(view, page, id, &solution, &name);
    if let Some(table) = table::of_controls(view, &[id], limit(&view.elaboration.circuit))? {
        page.say(&table);
    }
    Ok(())
}

pub(super) fn position(view: &View<'_>, page: &mut Page, id: ControlId, position: usize) {
    let circuit = &view.elaboration.circuit;
    let Some(control) = circuit.controls.get(id.index()) else { return };
    if position == 0 {
        page.say("The rest position: where it stands in a scenario that does not name it.");
    }
    page.say(&format!("Positions: {}", control.positions.join(", ")));
}

/// Where a control stands now, and what it can do.
fn stands(view: &View<'_>, page: &mut Page, id: ControlId, solution: &Solution, name: &str) {
    let circuit = &view.elaboration.circuit;
    let Some(control) = circuit.controls.get(id.index()) else { return };
    let at = solution.state.positions.get(id.index()).and_then(|&p| control.positions.get(usize::from(p)));
    let mover = match control.kind {
        ControlKind::Device(_) => "a person or the machine moves it",
        ControlKind::Stage(..) | ControlKind::Gang(..) | ControlKind::Return(..) => "the module commands it",
        ControlKind::Free => "given from outside",
    };
    let mut text = format!(
        "{}: **{}**. Control with positions {} ({mover})",
        capital(name),
        at.map_or("", |at| at.as_str()),
        control.positions.join(", ")
    );
    if let Some(hertz) = control.pwm {
        text.push_str(&format!(", pulsed at {} Hz", crate::display::trimmed(hertz, 2)));
    }
    page.say(&text);
}

/// The controls of a module, in the circuit's order.
fn controls_of(circuit: &Circuit, id: ModuleId) -> Vec<ControlId> {
    let own = |kind: ControlKind| match kind {
        ControlKind::Stage(module, ..) | ControlKind::Gang(module, _) | ControlKind::Return(module, ..) => {
            module == id
        }
        ControlKind::Device(_) | ControlKind::Free => false,
    };
    (0..circuit.controls.len())
        .filter(|&at| circuit.controls.get(at).is_some_and(|control| own(control.kind)))
        .map(ControlId::from)
        .collect()
}

/// Where it is and how to get there.
fn attributes(page: &mut Page, attributes: &Attributes) {
    let mut words: Vec<String> = Vec::new();
    words.extend(attributes.place.clone());
    words.extend(attributes.access.as_ref().map(|access| format!("access: {access}")));
    if attributes.sealed {
        words.push("sealed".into());
    }
    if attributes.restricted {
        words.push("restricted: for trained, licensed people only".into());
    }
    page.say(&words.join(", "));
}
