//! Very many states of one circuit, traced at once.
//!
//! A state is a bit and 64 of them are a word. From the circuit a boolean program is made, once: nodes, what joins them
//! in which positions of which controls (`graph`), what each potential reaches (`reach`, by elimination: `closure`), what
//! that makes of each node (`states`). Modules, relays and diodes are columns of bits like everything else, brought to
//! rest over all states together (`settle`) by what potentials alone decide (`loads`, `diodes`, with the drops of the
//! wiring bounded in `bounds`). Where currents would have to be known the state is marked as *in doubt*, and is to be
//! solved by itself; never is it guessed.
//!
//! The program runs over blocks of some thousand states (`block`), so that its memory is that of one block however many
//! states there are, and over decision diagrams (`diagram`), where a value stands for all states.

mod block;
mod bounds;
mod closure;
mod compile;
mod cone;
mod dag;
mod diodes;
mod graph;
mod loads;
pub(crate) mod program;
mod reach;
mod settle;
mod space;
mod states;
mod takes;
mod words;

pub(crate) use compile::Work;
pub(crate) use words::{DOUBT, Function, device};

use crate::{Cancel, Cancelled, NodeState, State};
use block::{Lanes, Words};
use compile::{Compiled, Wanted, compile};
use graph::Input;
use keyon_circuit::{ids::*, model::Circuit};
use settle::Settled;
use space::Space;

/// Traces many states of a circuit at once.
pub struct Tracer {
    compiled: Compiled,
    space: Space,
    points: usize,
}

/// Some states that were traced: one after the other in the order of [`Tracer`], whose first control counts fastest.
pub struct Traced<'t> {
    /// The number of the first state.
    pub first: u64,
    /// How many states there are.
    pub count: usize,
    tracer: &'t Tracer,
    settled: &'t Settled<Words>,
}

/// Node states in the order of an answer's columns.
const COLUMNS: [NodeState; 7] = [
    NodeState::Clash,
    NodeState::Grounded,
    NodeState::Fed,
    NodeState::Referenced,
    NodeState::Between,
    NodeState::FedViaLoad,
    NodeState::GroundedViaLoad,
];

impl Tracer {
    /// Prepares to trace all positions of `controls`, everything else as `base` has it. `None` where the circuit is
    /// meshed beyond what pays, or the states are too many to be counted.
    pub fn new(circuit: &Circuit, base: &State, controls: &[ControlId]) -> Option<Self> {
        let points = (0..circuit.points.len()).map(PointId::from).collect();
        let wanted = Wanted { points, loads: Vec::new() };
        let (masks, open) = masks(circuit, base, controls);
        let compiled = compile(circuit, base, &masks, &wanted)?;
        Some(Self { compiled, space: Space::new(&open)?, points: circuit.points.len() })
    }

    /// How many states there are.
    pub fn states(&self) -> u64 {
        self.space.states()
    }

    /// Positions of the controls in a state, by its number.
    pub fn positions(&self, state: u64) -> Vec<(ControlId, u8)> {
        self.space.positions(state).collect()
    }

    /// Steps of the boolean programs that a block of states takes at the least: what the work grows with.
    pub fn steps(&self) -> usize {
        let c = &self.compiled;
        c.alive.1.len() + c.diodes.1.len() + c.coils.1.len() + c.answer.len()
    }

    /// Traces all states, block by block, and shows each block.
    ///
    /// # Errors
    /// When `cancel` asks for it.
    pub fn trace(&self, cancel: &dyn Cancel, see: &mut dyn FnMut(&Traced<'_>)) -> Result<(), Cancelled> {
        let mut run = Blocks::new(&self.compiled, &self.space);
        for block in 0..self.space.blocks() {
            if cancel.cancelled() {
                return Err(Cancelled);
            }
            cancel.progress(block, self.space.blocks());
            run.block(block, cancel)?;
            let first = block * self.space.lanes() as u64;
            see(&Traced { first, count: self.space.lanes(), tracer: self, settled: &run.settled });
        }
        Ok(())
    }
}

impl Traced<'_> {
    /// The state of a point in the state `at` of the block; [`None`] where tracing alone does not decide it.
    pub fn state(&self, point: PointId, at: usize) -> Option<NodeState> {
        if self.settled.doubt.get(at) || at >= self.count || point.index() >= self.tracer.points {
            return None;
        }
        let columns = self.tracer.compiled.columns.points.get(point.index())?;
        let has = |column: &u32| self.settled.column(&self.tracer.compiled, *column).get(at);
        Some(columns.iter().position(has).map_or(NodeState::Open, |i| COLUMNS[i]))
    }

    /// In how many states of the block a point has this node state, doubtful ones left out.
    pub fn count(&self, point: PointId, state: NodeState) -> u64 {
        let compiled = &self.tracer.compiled;
        let Some(columns) = compiled.columns.points.get(point.index()) else { return 0 };
        let mut words = Words;
        let mut chosen = match COLUMNS.iter().position(|s| *s == state) {
            Some(i) => self.settled.column(compiled, columns[i]).clone(),
            None => Lanes::none(),
        };
        if state == NodeState::Open {
            use program::{Algebra, Op};
            let mut any = Lanes::none();
            for &column in columns {
                let mut more = Lanes::none();
                words.apply(Op::Or, &any, self.settled.column(compiled, column), &mut more);
                any = more;
            }
            words.apply(Op::Without, &words.constant(true), &any, &mut chosen);
        }
        chosen.count_without(&self.settled.doubt, self.count)
    }

    /// In how many states of the block tracing alone does not decide everything.
    pub fn doubtful(&self) -> u64 {
        self.settled.doubt.count(self.count)
    }
}

/// Runs programs block by block.
struct Blocks<'c> {
    compiled: &'c Compiled,
    space: &'c Space,
    settled: Settled<Words>,
}

impl<'c> Blocks<'c> {
    fn new(compiled: &'c Compiled, space: &'c Space) -> Self {
        let mut settled = Settled::new(&Words, compiled);
        for (at, input) in compiled.inputs.iter().enumerate() {
            if let Input::At { control, positions } = input
                && let Some(lanes) = space.within(*control, *positions)
            {
                settled.given[at] = lanes;
            }
        }
        Self { compiled, space, settled }
    }

    fn block(&mut self, block: u64, cancel: &dyn Cancel) -> Result<(), Cancelled> {
        for (at, input) in self.compiled.inputs.iter().enumerate() {
            if let Input::At { control, positions } = input {
                self.space.throughout(block, *control, *positions, &mut self.settled.given[at]);
            }
        }
        self.settled.settle(&mut Words, self.compiled, cancel)?;
        self.settled.answer(&mut Words, self.compiled);
        Ok(())
    }
}

/// Positions of all controls, those of `controls` open; and the latter with a bit a position.
fn masks(circuit: &Circuit, base: &State, controls: &[ControlId]) -> (Vec<u64>, Vec<(ControlId, u64)>) {
    let all = crate::cases::all_positions(circuit);
    let mut masks: Vec<u64> = (0..circuit.controls.len())
        .map(|c| 1 << base.positions.get(c).copied().unwrap_or(0).min(63))
        .collect();
    let mut open = Vec::new();
    for &control in controls {
        if let (Some(mask), Some(&every)) = (masks.get_mut(control.index()), all.get(control.index())) {
            *mask = every;
            open.push((control, every));
        }
    }
    (masks, open)
}
