//! Devices: what they do, what they take, and what they take while they start.

use super::cells::{amps_cell, device_cell};
use crate::{
    answer::Answer,
    grid::{Column, Grid},
};
use keyon_circuit::{
    ids::*,
    model::{Circuit, Device, ElementKind},
};
use keyon_solve::{Amps, Solution};
use std::collections::BTreeMap;

/// Amps below which a contact carries nothing: less is not printed.
const LEAST: f64 = 0.5e-6;

/// Current that a device takes: what flows in at its pins, without what only passes through its contacts; of a switch, which
/// takes nothing, what it passes.
pub fn device_amps(circuit: &Circuit, solution: &Solution, device: DeviceId) -> Amps {
    let loads = has_loads(circuit, device);
    let Some(device) = circuit.devices.get(device.index()) else { return Amps::Known(0.0) };
    let pins = inflow(solution, device);
    if !loads || contacts(circuit, device).next().is_none() {
        return pins;
    }
    match (pins, taken(circuit, solution, device)) {
        // Loads in a row with a contact between them take their current once.
        (Amps::Known(pins), Amps::Known(taken)) => Amps::Known(taken.min(pins)),
        (_, taken) => taken,
    }
}

/// What flows in at the pins of a device.
fn inflow(solution: &Solution, device: &Device) -> Amps {
    let mut sum = 0.0;
    for pin in &device.pins {
        match solution.amps.get(pin.terminal.index()) {
            // A terminal runs from the wire side inwards: what is positive flows in.
            Some(Amps::Known(amps)) => sum += amps.max(0.0),
            Some(Amps::Unlimited) => return Amps::Unlimited,
            None => {}
        }
    }
    Amps::Known(sum)
}

/// What the loads of a device take from the nets that they hang on.
fn taken(circuit: &Circuit, solution: &Solution, device: &Device) -> Amps {
    let mut at: BTreeMap<u32, f64> = BTreeMap::new();
    let net = |p: PointId| solution.nets.get(p.index()).copied().unwrap_or(p.0);
    for &id in &device.elements {
        let Some(element) = circuit.elements.get(id.index()).filter(|e| e.kind.is_load()) else { continue };
        match solution.amps.get(id.index()) {
            Some(Amps::Known(amps)) => {
                *at.entry(net(element.from)).or_default() += amps;
                *at.entry(net(element.to)).or_default() -= amps;
            }
            Some(Amps::Unlimited) => return Amps::Unlimited,
            None => {}
        }
    }
    Amps::Known(at.values().map(|amps| amps.max(0.0)).sum())
}

fn contacts<'c>(circuit: &'c Circuit, device: &'c Device) -> impl Iterator<Item = ElementId> + 'c {
    let is_contact =
        |e: &&ElementId| circuit.elements.get(e.index()).is_some_and(|e| e.kind == ElementKind::Contact);
    device.elements.iter().filter(is_contact).copied()
}

/// The contacts of a device that carry what its own loads do not take, with their amps.
pub(crate) fn carrying_contacts(
    circuit: &Circuit,
    solution: &Solution,
    device: DeviceId,
) -> Vec<(ElementId, Amps)> {
    let taken = device_amps(circuit, solution, device);
    let Some(device) = circuit.devices.get(device.index()) else { return Vec::new() };
    if let (Amps::Known(pins), Amps::Known(taken)) = (inflow(solution, device), taken)
        && pins - taken < LEAST
    {
        return Vec::new();
    }
    let amps = |e: ElementId| solution.amps.get(e.index()).copied().unwrap_or(Amps::Known(0.0));
    let carries = |amps: Amps| amps.known().is_none_or(|amps| amps.abs() >= LEAST);
    contacts(circuit, device).map(|e| (e, amps(e))).filter(|(_, amps)| carries(*amps)).collect()
}

/// The devices that are listed: those with something that a current makes do something.
pub fn has_loads(circuit: &Circuit, device: DeviceId) -> bool {
    circuit.devices.get(device.index()).is_some_and(|device| {
        device.elements.iter().any(|e| circuit.elements.get(e.index()).is_some_and(|e| e.kind.is_load()))
    })
}

/// Devices with a load: state and current; where any of them starts with another one, that too.
pub fn devices_grid(circuit: &Circuit, answer: &Answer<'_>) -> Grid {
    let solution = answer.solution;
    let mut columns = vec![Column::key("device"), Column::figures("amps")];
    let starts = answer.starting.iter().any(|s| !s.elements.is_empty());
    if starts {
        columns.push(Column::figures("starts at"));
    }
    columns.push(Column::words("state"));
    let mut grid = Grid { columns, rows: vec![] };
    let starting = |e: ElementId| answer.starting_amps(e).map_or_else(String::new, amps_cell);
    for (index, (device, state)) in circuit.devices.iter().zip(&solution.devices).enumerate() {
        let id = DeviceId::from(index);
        if !has_loads(circuit, id) {
            continue;
        }
        let several = state.elements.len() > 1;
        let mut row = vec![device.name.to_string(), amps_cell(device_amps(circuit, solution, id))];
        if starts {
            // Of several elements each has its own row.
            let only = state.elements.first().filter(|_| !several);
            row.push(only.map_or_else(String::new, |(e, _)| starting(*e)));
        }
        row.push(device_cell(state));
        grid.rows.push(row);
        for (element, state) in state.elements.iter().filter(|_| several) {
            let name = circuit.elements.get(element.index()).map_or("", |e| e.name.as_str());
            let amps = solution.amps.get(element.index()).copied().unwrap_or(Amps::Known(0.0));
            let mut row = vec![format!("  {name}"), amps_cell(amps)];
            if starts {
                row.push(starting(*element));
            }
            row.push(state.words().to_owned());
            grid.rows.push(row);
        }
        for (contact, amps) in carrying_contacts(circuit, solution, id) {
            let name = circuit.elements.get(contact.index()).map_or("", |e| e.name.as_str());
            let mut row = vec![format!("  {name}"), amps_cell(amps)];
            if starts {
                row.push(String::new());
            }
            row.push("contact".to_owned());
            grid.rows.push(row);
        }
    }
    grid
}
