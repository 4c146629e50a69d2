//! The moment of switching on: lamps and heaters cold, motors stalled.

use crate::{Amps, Solution, solve};
use keyon_circuit::{
    ids::*,
    model::{Change, Circuit, Law},
};

/// Less than this is nothing that starts.
const FLOWS: f64 = 1e-6;

/// What a device takes while it starts, everything else running as it does.
#[derive(Clone, Debug, PartialEq)]
pub struct Starting {
    #[allow(missing_docs)]
    pub device: DeviceId,
    /// Its elements that take something else then, with their amps.
    pub elements: Vec<(ElementId, Amps)>,
}

/// The devices that carry current in a solved state and take another one while they start: lamps and heaters whose
/// `cold` resistance is known, motors that say what they draw turning (`runs`) and so are known stalled. One at a time:
/// two of them seldom start together. Fuses are kept whole, for what lasts this short a time hardly melts one.
pub fn starting(circuit: &Circuit, solution: &Solution) -> Vec<Starting> {
    let mut found = Vec::new();
    for (index, device) in circuit.devices.iter().enumerate() {
        let mut changes = Vec::new();
        for &id in &device.elements {
            let flows = match solution.amps.get(id.index()) {
                Some(Amps::Known(amps)) => amps.abs() > FLOWS,
                // In a clash there is nothing to tell apart.
                _ => false,
            };
            // What a fault or a set-up made of it has no moment of starting.
            let is_own =
                !solution.state.changes.iter().any(|c| matches!(c, Change::Replace(e, _) if *e == id));
            let law = circuit.elements.get(id.index()).map(|e| &e.law).filter(|_| flows && is_own);
            if let Some(law) = law.and_then(at_start) {
                changes.push((id, law));
            }
        }
        if changes.is_empty() {
            continue;
        }
        let mut state = solution.state.clone();
        state.options.keep_fuses = true;
        // What has blown stays so.
        state.changes.extend(solution.blown.iter().map(|&(fuse, _)| Change::Open(fuse)));
        state.changes.extend(changes.iter().map(|(id, law)| Change::Replace(*id, law.clone())));
        let at_start = solve(circuit, &state);
        let elements = changes.iter().filter_map(|(id, _)| Some((*id, *at_start.amps.get(id.index())?)));
        found.push(Starting { device: DeviceId::from(index), elements: elements.collect() });
    }
    found
}

/// An element's law while it starts, if that is another than later.
fn at_start(law: &Law) -> Option<Law> {
    match law {
        Law::Rated { cold: Some(cold), .. } => Some(Law::Resistance(*cold)),
        Law::Winding { ohms, turns_at, rated, runs: Some(_) } => {
            Some(Law::Winding { ohms: *ohms, turns_at: *turns_at, rated: *rated, runs: None })
        }
        _ => None,
    }
}
