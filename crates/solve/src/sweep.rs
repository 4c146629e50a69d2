//! One quantity taken through its span, everything else standing still.

use crate::{Cancel, Cancelled, NodeState, Solution, State, solve};
use keyon_circuit::{ids::*, model::Circuit};
use std::sync::Arc;

/// What is taken through its span.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Axis {
    /// What a sensor senses.
    Stimulus(StimulusId),
    /// A supply's volts; index into `supplies`.
    Supply(usize),
}

/// What is read at each step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Watch {
    /// A point, as the meter reads it against the common ground.
    Point(PointId),
    /// A module's input against its own ground: module, connector, cavity.
    Input(ModuleId, usize, usize),
}

/// A reading at one step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Read {
    #[allow(missing_docs)]
    pub state: NodeState,
    /// `None` where there is nothing to draw: it floats, clashes or chatters.
    pub volts: Option<f64>,
}

/// One value of the axis.
#[derive(Clone, Debug)]
pub struct Step {
    /// In the axis's own unit: degrees Celsius, 0 … 1, pascals, ohms, volts.
    pub value: f64,
    /// One a watch.
    pub reads: Vec<Read>,
    /// The whole state, for what else changes on the way.
    pub solution: Arc<Solution>,
}

/// A span in steps.
#[derive(Clone, Debug)]
pub struct Sweep {
    #[allow(missing_docs)]
    pub axis: Axis,
    #[allow(missing_docs)]
    pub watches: Vec<Watch>,
    #[allow(missing_docs)]
    pub steps: Vec<Step>,
    /// The state that was swept, as it stands.
    pub now: Step,
}

impl Axis {
    /// Lowest and highest: a sensor's span, a supply's `range`; `None` for a supply without one.
    pub fn span(self, circuit: &Circuit) -> Option<(f64, f64)> {
        match self {
            Self::Stimulus(id) => circuit.stimuli.get(id.index()).map(|s| s.span),
            Self::Supply(index) => circuit.supplies.get(index)?.range,
        }
    }

    /// Where it stands in a state.
    pub fn value(self, state: &State) -> Option<f64> {
        match self {
            Self::Stimulus(id) => state.stimuli.get(id.index()).copied(),
            Self::Supply(index) => state.supplies.get(index).copied(),
        }
    }

    fn set(self, state: &mut State, value: f64) {
        let slot = match self {
            Self::Stimulus(id) => state.stimuli.get_mut(id.index()),
            Self::Supply(index) => state.supplies.get_mut(index),
        };
        if let Some(slot) = slot {
            *slot = value;
        }
    }
}

/// `count` equal steps from one value to another, both ends included: one value more than steps.
pub fn steps(from: f64, to: f64, count: usize) -> Vec<f64> {
    let count = count.max(1);
    // The last is the end itself, whatever rounding makes of the way there.
    let at = |step: usize| if step == count { to } else { from + (to - from) * step as f64 / count as f64 };
    (0..=count).map(at).collect()
}

/// Solves a state at each of these values of the axis.
///
/// # Errors
/// When `cancel` asks for it.
pub fn sweep(
    circuit: &Circuit,
    base: &State,
    axis: Axis,
    values: &[f64],
    watches: &[Watch],
    cancel: &dyn Cancel,
) -> Result<Sweep, Cancelled> {
    let mut steps = Vec::with_capacity(values.len());
    for &value in values {
        if cancel.cancelled() {
            return Err(Cancelled);
        }
        let mut state = base.clone();
        axis.set(&mut state, value);
        steps.push(step(circuit, &state, value, watches));
    }
    let now = step(circuit, base, axis.value(base).unwrap_or(0.0), watches);
    Ok(Sweep { axis, watches: watches.to_vec(), steps, now })
}

fn step(circuit: &Circuit, state: &State, value: f64, watches: &[Watch]) -> Step {
    let solution = Arc::new(solve(circuit, state));
    let reads = watches.iter().map(|watch| read(circuit, &solution, *watch)).collect();
    Step { value, reads, solution }
}

fn read(circuit: &Circuit, solution: &Solution, watch: Watch) -> Read {
    let state_of = |p: PointId| solution.node_states.get(p.index()).copied().unwrap_or(NodeState::Open);
    match watch {
        Watch::Point(p) => {
            let state = state_of(p);
            let volts = solution.volts.get(p.index()).copied().flatten();
            Read { state, volts: volts.filter(|_| state != NodeState::Open) }
        }
        Watch::Input(m, c, k) => {
            let state = circuit.cavity(m, c, k).map_or(NodeState::Open, |cavity| state_of(cavity.inside));
            Read { state, volts: solution.input_volts(circuit, m, c, k) }
        }
    }
}
