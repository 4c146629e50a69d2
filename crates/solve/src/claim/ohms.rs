//! Ohms between two points of a circuit without power.

use super::{Got, Refusal};
use crate::{Amps, NodeState, Solution, solve};
use keyon_circuit::{ids::*, model::*, value::Num};
use keyon_syntax::unit::Dimension;

/// An ohmmeter's own voltage: too little to make a diode conduct.
const TEST_VOLTS: f64 = 0.1;
/// Below this a net counts as without power.
const QUIET: f64 = 1e-3;

/// Resistance between two points: all sources open, modules dead, lamps and heaters cold. Infinite without continuity.
pub(super) fn resistance(
    circuit: &Circuit,
    solution: &Solution,
    a: PointId,
    b: PointId,
) -> Result<Got, Refusal> {
    for p in [a, b] {
        let state = solution.node_states.get(p.index()).copied().unwrap_or(NodeState::Open);
        let live = match state {
            NodeState::Open | NodeState::GroundedViaLoad => false,
            NodeState::Grounded => {
                solution.volts.get(p.index()).copied().flatten().is_none_or(|v| v.abs() > QUIET)
            }
            _ => true,
        };
        if live {
            return Err(Refusal::Live(p));
        }
    }
    let mut state = solution.state.clone();
    state.options.inrush = true;
    state.options.keep_fuses = true;
    for (i, element) in circuit.elements.iter().enumerate() {
        if element.kind.is_source() || element.kind == ElementKind::Transducer || element.alive.is_some() {
            state.changes.push(Change::Open(i.into()));
        }
    }
    // Fuses that blew before the power was taken off stay open.
    state.changes.extend(solution.blown.iter().map(|&(e, _)| Change::Open(e)));
    // With a limit that is never reached, so that a short reads nothing instead of being a clash.
    let limit = Some(Num::exact(2.0 * TEST_VOLTS / SERIES));
    let law = Law::Source { volts: Num::exact(TEST_VOLTS), inner: Num::exact(SERIES), limit, range: None };
    let adds = state.changes.iter().filter(|change| matches!(change, Change::Add { .. })).count();
    state.changes.push(Change::Add { from: b, to: a, law });
    let test = solve(circuit, &state);
    // What was added follows the circuit's own elements.
    let amps = test.amps.get(circuit.elements.len() + adds).and_then(|amps| amps.known()).unwrap_or(0.0);
    if amps < TEST_VOLTS / 1e12 {
        return Ok(Got::number(f64::INFINITY, Dimension::Resistance));
    }
    let across = TEST_VOLTS - amps * SERIES;
    for (i, element) in circuit.elements.iter().enumerate() {
        let hot = matches!(element.law, Law::Rated { cold: None, .. });
        let carries = matches!(test.amps.get(i), Some(Amps::Known(x)) if x.abs() > amps * 1e-6);
        if hot && carries {
            return Err(Refusal::Cold(i.into()));
        }
    }
    Ok(Got::number((across / amps).max(0.0), Dimension::Resistance))
}

/// Ohms in series with the test voltage, so that the current follows from the voltage that is left.
const SERIES: f64 = 1.0;
