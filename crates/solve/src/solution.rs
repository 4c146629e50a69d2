//! What one state gives.

use crate::{
    State, Ways, assemble,
    plan::{self, Plan},
    settle,
};
use keyon_circuit::{
    ids::*,
    model::{COMMON, Change, Circuit},
};

/// The state of a node, from tracing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum NodeState {
    /// Continuity to a supply with no load between.
    Fed,
    /// Continuity to ground with no load between.
    Grounded,
    /// Continuity to a module's reference (or pull-up voltage).
    Referenced,
    /// Reaches only supplies or references, through loads: reads full voltage, carries nothing.
    FedViaLoad,
    /// Reaches only ground, through loads.
    GroundedViaLoad,
    /// Loads on both sides.
    Between,
    /// Reaches nothing.
    Open,
    /// Continuity to two different potentials with no load between.
    Clash,
    /// Differs over the cycle of a relay that cannot settle.
    Chatters,
}

impl NodeState {
    /// As people and JSON read it.
    pub fn words(self) -> &'static str {
        match self {
            Self::Fed => "fed",
            Self::Grounded => "grounded",
            Self::Referenced => "referenced",
            Self::FedViaLoad => "fed via load",
            Self::GroundedViaLoad => "grounded via load",
            Self::Between => "between",
            Self::Open => "open",
            Self::Clash => "clash",
            Self::Chatters => "chatters",
        }
    }
}

/// A current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Amps {
    /// Positive from the element's `from` to its `to`.
    Known(f64),
    /// Part of a clash.
    Unlimited,
}

impl Amps {
    /// The figure, if there is one.
    pub fn known(self) -> Option<f64> {
        match self {
            Self::Known(amps) => Some(amps),
            Self::Unlimited => None,
        }
    }
}

/// What a load does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum ElementState {
    Rests,
    Weak,
    Operates,
    OperatesForward,
    OperatesReverse,
    Chatters,
}

impl ElementState {
    /// As people and JSON read it.
    pub fn words(self) -> &'static str {
        match self {
            Self::Rests => "rests",
            Self::Weak => "weak",
            Self::Operates => "operates",
            Self::OperatesForward => "operates forward",
            Self::OperatesReverse => "operates reverse",
            Self::Chatters => "chatters",
        }
    }
    /// In whichever direction.
    pub fn operates(self) -> bool {
        matches!(self, Self::Operates | Self::OperatesForward | Self::OperatesReverse)
    }
}

/// What a device does.
#[derive(Clone, Debug, PartialEq)]
pub struct DeviceState {
    /// Of its strongest element; devices without one that can operate (switches, resistors, sensors) rest.
    pub state: ElementState,
    /// The name of the grade that fits exactly, if the device has grades.
    pub grade: Option<smol_str::SmolStr>,
    /// Duty of the pulse that drives it; 1 where it is not pulsed.
    pub duty: f64,
    /// Whether staying energised would also be consistent (a relay that holds).
    pub holds: bool,
    /// Each lamp, heater, coil and winding with its state.
    pub elements: Vec<(ElementId, ElementState)>,
}

/// How a point hangs on a supply, a reference or ground: the elements in order, the point's end first.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Path {
    /// Each element, and whether it is walked from its `from` to its `to`.
    pub steps: Vec<(ElementId, bool)>,
    /// The points on the way, the starting point first: one more than steps.
    pub points: Vec<PointId>,
}

/// In proportion to what was added, what is left of a sum that is really zero: some last digits.
const LAST_DIGITS: f64 = 16.0 * f64::EPSILON;

/// A sum of volts or amps; one that the last digits of its parts alone make up is zero.
pub(crate) fn sum(parts: impl Iterator<Item = f64>) -> f64 {
    let (sum, size) = parts.fold((0.0, 0.0), |(sum, size), part: f64| (sum + part, size + part.abs()));
    if sum.abs() <= LAST_DIGITS * size { 0.0 } else { sum }
}

/// Volts of one point over another; zero where they differ by the last digits alone.
pub fn difference(of: f64, over: f64) -> f64 {
    sum([of, -over].into_iter())
}

/// One state, solved. Vectors are indexed by point, element, device, module; `amps` and `conducts` go on with the
/// elements that changes added ([`Solution::added`]).
#[derive(Clone, Debug)]
pub struct Solution {
    /// The state that was solved.
    pub state: State,
    /// The net of each point: points over closed ideal joints share one. Numbered by their lowest point.
    pub nets: Vec<u32>,
    /// Tracing: of the on phase where stages are pulsed.
    pub node_states: Vec<NodeState>,
    /// Volts against the common ground as the meter reads them (meter on this net alone; duty-weighted mean).
    /// `None` in a clash or where nothing settles. An open net reads 0.
    pub volts: Vec<Option<f64>>,
    /// The same without a meter; `None` also where the net floats.
    pub unloaded: Vec<Option<f64>>,
    /// Currents without a meter (mean over the pulse).
    pub amps: Vec<Amps>,
    #[allow(missing_docs)]
    pub devices: Vec<DeviceState>,
    /// Whether each module is alive.
    pub alive: Vec<bool>,
    /// Fuses that opened, in order, with the amps that opened them (`None`: unlimited).
    pub blown: Vec<(ElementId, Option<f64>)>,
    /// Coils of relays that cannot settle: one cycle.
    pub chatters: Vec<ElementId>,
    /// Coils that rest here and would also stay energised.
    pub holds: Vec<ElementId>,
    /// Windings that turn, and so take what they `run` with.
    pub turning: Vec<ElementId>,
    /// Whether each element conducts (diodes by their solved state, blown fuses not).
    pub conducts: Vec<bool>,
    /// Every net of more than one potential: points of it and of what clashes.
    pub clashes: Vec<PointId>,
    /// The most amps that a source gives into a clash, as wiring and the sources' own resistance limit them; `None` without a
    /// clash, and where nothing limits them.
    pub clash_amps: Option<f64>,
}

/// Solves one state. Total: every circuit and state gives an answer.
pub fn solve(circuit: &Circuit, state: &State) -> Solution {
    let plan = Plan::new(circuit, state);
    assemble::assemble(&plan, settle::settle(&plan))
}

impl Solution {
    /// The way from a point to a supply or a reference: the shortest of the best kind (no load, else through loads).
    /// It ends at the terminal; the source itself is not a step of it. For many points keep a [`Ways`](crate::Ways).
    pub fn path_to_source(&self, circuit: &Circuit, point: PointId) -> Option<Path> {
        Ways::new(circuit, self).to_source(point)
    }

    /// The way from a point to ground.
    pub fn path_to_ground(&self, circuit: &Circuit, point: PointId) -> Option<Path> {
        Ways::new(circuit, self).to_ground(point)
    }

    /// Whether a module is alive; one that is not known is.
    pub fn lives(&self, module: ModuleId) -> bool {
        self.alive.get(module.index()).copied().unwrap_or(true)
    }

    /// What a module's input reads: volts against the module's own ground, without a meter. `None` where it floats.
    pub fn input_volts(
        &self,
        circuit: &Circuit,
        module: ModuleId,
        connector: usize,
        cavity: usize,
    ) -> Option<f64> {
        let module = circuit.modules.get(module.index())?;
        let inside = |(c, k): (usize, usize)| Some(module.connectors.get(c)?.cavities.get(k)?.inside);
        let ground = match module.grounds.first() {
            Some(&at) => inside(at)?,
            None => COMMON,
        };
        let volts = |point: PointId| self.unloaded.get(point.index()).copied().flatten();
        Some(difference(volts(inside((connector, cavity))?)?, volts(ground)?))
    }

    /// The change that added an element which is not the circuit's own: in `amps`, `conducts` and paths such elements
    /// follow the circuit's, in the order of `state.changes`.
    pub fn added(&self, circuit: &Circuit, element: ElementId) -> Option<Change> {
        plan::added(circuit, &self.state, element)
    }
}
