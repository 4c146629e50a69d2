//! What each item has made: the points, elements and so on of an item stand next to each other, in the order of items.

use super::Slot;
use crate::model::Circuit;
use std::ops::Range;

/// How many there are of each, before an item is connected.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Counts {
    points: u32,
    elements: u32,
    wires: u32,
    controls: u32,
    stimuli: u32,
    branches: u32,
}

impl Counts {
    fn of(circuit: &Circuit) -> Self {
        Self {
            points: circuit.points.len() as u32,
            elements: circuit.elements.len() as u32,
            wires: circuit.wires.len() as u32,
            controls: circuit.controls.len() as u32,
            stimuli: circuit.stimuli.len() as u32,
            branches: circuit.branches.len() as u32,
        }
    }
}

/// Where what each item has made begins.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Marks {
    /// The items that were read, ascending; `None` for all.
    pub(super) only: Option<Vec<u32>>,
    /// One an item of the file.
    pub(super) slots: Vec<Slot>,
    /// Points before each item was declared, and at the end.
    declared: Vec<u32>,
    /// Of everything before each item was connected, and at the end.
    connected: Vec<Counts>,
}

/// What one item has made: indices into the vectors of the circuit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Made {
    pub(super) slot: Slot,
    /// Points of the declaration.
    pub(super) declared: Range<usize>,
    /// Points that came with its elements.
    pub(super) points: Range<usize>,
    pub(super) elements: Range<usize>,
    pub(super) wires: Range<usize>,
    pub(super) controls: Range<usize>,
    pub(super) stimuli: Range<usize>,
    pub(super) branches: Range<usize>,
}

impl Marks {
    /// The next item is about to be declared, or the last one has been.
    pub(super) fn declares(&mut self, circuit: &Circuit) {
        self.declared.push(circuit.points.len() as u32);
    }

    /// The next item is about to be connected, or the last one has been.
    pub(super) fn connects(&mut self, circuit: &Circuit) {
        self.connected.push(Counts::of(circuit));
    }

    /// What an item has made; `None` where it was not read.
    pub(super) fn of(&self, item: u32) -> Option<Made> {
        let at = match &self.only {
            None => item as usize,
            Some(only) => only.binary_search(&item).ok()?,
        };
        let range = |from: u32, to: u32| from as usize..to as usize;
        let (from, to) = (self.connected.get(at)?, self.connected.get(at + 1)?);
        Some(Made {
            slot: self.slots.get(item as usize).copied()?,
            declared: range(*self.declared.get(at)?, *self.declared.get(at + 1)?),
            points: range(from.points, to.points),
            elements: range(from.elements, to.elements),
            wires: range(from.wires, to.wires),
            controls: range(from.controls, to.controls),
            stimuli: range(from.stimuli, to.stimuli),
            branches: range(from.branches, to.branches),
        })
    }
}
