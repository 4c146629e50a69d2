//! What a meter would read if sound wiring lost nothing: the figure of who traces the circuit and does not calculate. What
//! a fault adds and how long a pulse lasts stay as they are: they are what is asked about.

use super::reading::volts_at;
use keyon_circuit::{ids::*, model::*};
use keyon_solve::{NodeState, Path, Solution, State, solve};

/// Volts within which a point without losses stands at its potential; a contact or a diode loses more.
const SAME: f64 = 0.05;

/// A state on wiring that loses nothing.
pub(super) struct Ideal<'a> {
    circuit: &'a Circuit,
    solution: Solution,
}

impl<'a> Ideal<'a> {
    /// `solution` is the state on its real wiring.
    pub(super) fn new(circuit: &'a Circuit, solution: &Solution) -> Self {
        let mut state: State = solution.state.clone();
        // What opened on real wiring is open; nothing else opens here.
        state.options.keep_fuses = true;
        state.changes.extend(solution.blown.iter().map(|&(fuse, _)| Change::Open(fuse)));
        let touched = |id: ElementId| {
            state.changes.iter().any(|change| match change {
                Change::Open(e) | Change::Replace(e, _) | Change::Stuck(e, _) | Change::Drift(e, _) => {
                    *e == id
                }
                Change::Add { .. } => false,
            })
        };
        let joints: Vec<Change> = circuit
            .elements
            .iter()
            .enumerate()
            .filter(|&(index, element)| {
                let wiring = matches!(element.kind, ElementKind::Wire | ElementKind::Ground);
                wiring && matches!(element.law, Law::Resistance(_)) && !touched(index.into())
            })
            .map(|(index, _)| Change::Replace(index.into(), Law::Joint))
            .collect();
        state.changes.extend(joints);
        Self { circuit, solution: solve(circuit, &state) }
    }

    /// The figure for a point of this state with its way to a source; nothing where something divides, since there one has
    /// to calculate.
    pub(super) fn volts(&self, point: PointId, node: NodeState, feed: Option<&Path>) -> Option<f64> {
        let read = volts_at(&self.solution, point);
        let near = |potential: Option<(f64, f64)>| {
            let (nominal, terminal) = potential?;
            let read = read?;
            // Its source's own inner resistance is not reckoned with either.
            Some(if (read - terminal).abs() <= SAME { nominal } else { read })
        };
        match node {
            NodeState::Fed => near(self.supply(feed)).or(read),
            NodeState::Referenced => near(self.reference(read?).map(|volts| (volts, volts))),
            NodeState::Open => Some(0.0),
            NodeState::Grounded | NodeState::GroundedViaLoad => {
                Some(read.filter(|v| v.abs() > SAME).unwrap_or(0.0))
            }
            NodeState::FedViaLoad => {
                let (nominal, terminal) = self.supply(feed)?;
                Some(nominal).filter(|_| read.is_some_and(|read| (read - terminal).abs() < 0.5))
            }
            NodeState::Between | NodeState::Clash | NodeState::Chatters => None,
        }
    }

    /// The supply that feeds a point: its volts against the common ground, and those at its terminal.
    fn supply(&self, feed: Option<&Path>) -> Option<(f64, f64)> {
        let terminal = *feed?.points.last()?;
        let index = self.circuit.supplies.iter().position(|supply| supply.point == terminal)?;
        Some((self.nominal(index, self.circuit.supplies.len())?, volts_at(&self.solution, terminal)?))
    }

    /// A supply's volts above the common ground: those of the supplies that it stands on are added, of which there can be
    /// no more than `left`.
    fn nominal(&self, index: usize, left: usize) -> Option<f64> {
        let supply = self.circuit.supplies.get(index)?;
        let own = self.solution.state.supplies.get(index).copied().unwrap_or(supply.volts.nominal);
        if supply.negative == COMMON {
            return Some(own);
        }
        let below = self.circuit.supplies.iter().position(|s| s.point == supply.negative)?;
        Some(own + self.nominal(below, left.checked_sub(1)?)?)
    }

    /// The reference that stands nearest to a reading, volts.
    fn reference(&self, read: f64) -> Option<f64> {
        let cavities = self.circuit.modules.iter().flat_map(|m| &m.connectors).flat_map(|c| &c.cavities);
        let volts = cavities.filter_map(|cavity| match &cavity.role {
            Role::Reference { volts, .. } => Some(volts.nominal),
            _ => None,
        });
        volts.min_by(|a, b| (a - read).abs().total_cmp(&(b - read).abs()))
    }
}
