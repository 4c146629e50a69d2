//! Devices: what they do, what they take, and what they take while they start.

use super::cells::{amps_cell, device_cell};
use crate::{
    answer::Answer,
    grid::{Column, Grid},
};
use keyon_circuit::{ids::*, model::Circuit};
use keyon_solve::{Amps, Solution};

/// Current into a device: what flows in at its pins.
pub fn device_amps(circuit: &Circuit, solution: &Solution, device: DeviceId) -> Amps {
    let Some(device) = circuit.devices.get(device.index()) else { return Amps::Known(0.0) };
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
    }
    grid
}
