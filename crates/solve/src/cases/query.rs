//! What is asked of each state, and what counts as the same answer.

use crate::Solution;
use keyon_circuit::{
    ids::*,
    model::{Circuit, Owner},
};
use std::fmt::Write as _;

/// What the cases are to tell apart.
#[derive(Clone, Debug, Default)]
pub(crate) struct Query {
    /// By their state: the word, or the grade's name.
    pub(crate) devices: Vec<DeviceId>,
    /// By their node state.
    pub(crate) points: Vec<PointId>,
    /// Points also by their volts, to the millivolt.
    pub(crate) volts: bool,
    /// By whether they conduct, and loads by their state.
    pub(crate) elements: Vec<ElementId>,
    /// By their amps, to nine digits.
    pub(crate) currents: Vec<ElementId>,
    /// Fuses, by whether they blow: all is decided on which their current hangs.
    pub(crate) fuses: Vec<ElementId>,
}

impl Query {
    /// The answer in one state, as text that is equal where the answers are equal.
    pub(crate) fn key(&self, circuit: &Circuit, solution: &Solution) -> String {
        let mut key = String::new();
        for &d in &self.devices {
            if let Some(state) = solution.devices.get(d.index()) {
                let _ = write!(key, "{};", crate::table::device_words(state));
            }
        }
        for &p in &self.points {
            if let Some(state) = solution.node_states.get(p.index()) {
                let _ = write!(key, "{}", *state as u8);
            }
            if self.volts {
                match solution.volts.get(p.index()).copied().flatten() {
                    // Adding zero turns -0 into 0.
                    Some(v) => _ = write!(key, "@{:.3}", (v * 1e3).round() / 1e3 + 0.0),
                    None => key.push_str("@-"),
                }
            }
            key.push(';');
        }
        for &e in &self.elements {
            let conducts = solution.conducts.get(e.index()).copied().unwrap_or(false);
            let _ = write!(key, "{}", u8::from(conducts));
            if let Some(state) = element_state(circuit, solution, e) {
                let _ = write!(key, "={}", state as u8);
            }
            key.push(';');
        }
        for &e in &self.currents {
            match solution.amps.get(e.index()).and_then(|a| a.known()) {
                // What is below a nanoampere is the arithmetic's own noise.
                Some(amps) if amps.abs() < 1e-9 => key.push_str("0A;"),
                Some(amps) => _ = write!(key, "{amps:.8e}A;"),
                None => key.push_str("-A;"),
            }
        }
        for e in &self.fuses {
            let blows = solution.blown.iter().any(|(fuse, _)| fuse == e);
            key.push_str(if blows { "x;" } else { ";" });
        }
        key
    }
}

/// What a load does, from its device.
pub(crate) fn element_state(
    circuit: &Circuit,
    solution: &Solution,
    element: ElementId,
) -> Option<crate::ElementState> {
    let Owner::Device(device) = circuit.elements.get(element.index())?.owner else { return None };
    let states = &solution.devices.get(device.index())?.elements;
    states.iter().find(|(e, _)| *e == element).map(|(_, state)| *state)
}
