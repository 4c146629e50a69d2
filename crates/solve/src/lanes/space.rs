//! The states of some controls, counted: the first control counts fastest. Each has as many positions as it has, so
//! there is no state that no position of a control can reach.

use super::block::{LANES, Lanes, WORDS};
use keyon_circuit::ids::ControlId;

/// A control that varies.
#[derive(Clone, Debug)]
struct Digit {
    control: ControlId,
    /// The open positions, in order.
    positions: Vec<u8>,
}

/// See the module's page.
#[derive(Clone, Debug)]
pub(crate) struct Space {
    digits: Vec<Digit>,
    /// How many of the digits count within a block.
    low: usize,
    /// States of a block.
    lanes: usize,
    /// Blocks in all.
    blocks: u64,
}

impl Space {
    /// Of these controls, each with a bit for each open position. `None` where the states are too many to count in 64 bits.
    pub(crate) fn new(controls: &[(ControlId, u64)]) -> Option<Self> {
        let digits: Vec<Digit> = controls
            .iter()
            .map(|&(control, mask)| Digit {
                control,
                positions: (0..64).filter(|p| mask >> p & 1 == 1).collect(),
            })
            .collect();
        let (mut low, mut lanes, mut blocks) = (0, 1usize, 1u64);
        for (at, digit) in digits.iter().enumerate() {
            if low == at && lanes * digit.positions.len() <= LANES {
                lanes *= digit.positions.len();
                low += 1;
            } else {
                blocks = blocks.checked_mul(digit.positions.len() as u64)?;
            }
        }
        blocks.checked_mul(lanes as u64)?;
        Some(Self { digits, low, lanes, blocks })
    }

    pub(crate) fn states(&self) -> u64 {
        self.blocks * self.lanes as u64
    }

    pub(crate) fn lanes(&self) -> usize {
        self.lanes
    }

    /// How many controls count within a block.
    pub(crate) fn low(&self) -> usize {
        self.low
    }

    pub(crate) fn blocks(&self) -> u64 {
        self.blocks
    }

    /// The positions in a state.
    pub(crate) fn positions(&self, state: u64) -> impl Iterator<Item = (ControlId, u8)> + '_ {
        let mut rest = state;
        self.digits.iter().map(move |digit| {
            let count = digit.positions.len() as u64;
            let at = (rest % count) as usize;
            rest /= count;
            (digit.control, digit.positions.get(at).copied().unwrap_or(0))
        })
    }

    /// Where, in any block, this control stands in one of these positions; `None` if that is the same for a whole block.
    pub(crate) fn within(&self, control: ControlId, wanted: u64) -> Option<Lanes> {
        let mut run = 1;
        for digit in self.digits.iter().take(self.low) {
            if digit.control == control {
                let positions: Vec<bool> = digit.positions.iter().map(|p| wanted >> p & 1 == 1).collect();
                return Some(Lanes::pattern(run, &positions, self.lanes));
            }
            run *= digit.positions.len();
        }
        None
    }

    /// Fills `into` with whether this control stands in one of these positions all over a block.
    pub(crate) fn throughout(&self, block: u64, control: ControlId, wanted: u64, into: &mut Lanes) {
        let mut rest = block;
        for digit in self.digits.iter().skip(self.low) {
            let count = digit.positions.len() as u64;
            let at = digit.positions.get((rest % count) as usize).copied().unwrap_or(0);
            rest /= count;
            if digit.control == control {
                *into.0 = [if wanted >> at & 1 == 1 { u64::MAX } else { 0 }; WORDS];
                return;
            }
        }
    }
}
