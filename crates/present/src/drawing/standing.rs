//! A drawing that stands still: in a page somebody switches from state to state, and nothing but what changes may move.

use super::{Drawn, View, Words, label, wire_words, written};
use crate::figure;
use keyon_circuit::model::Circuit;
use keyon_draw::{Layout, Link, Said, lay_out_with_room};
use keyon_solve::Solution;
use std::collections::BTreeMap;

/// A circuit laid out once, with room for the volts of every state.
#[derive(Clone, Debug)]
pub struct Standing {
    layout: Layout,
}

impl Standing {
    /// Lays the circuit out.
    pub fn new(circuit: &Circuit) -> Self {
        let ends = circuit.supplies.iter().flat_map(|supply| {
            let (low, high) = supply.range.unwrap_or((supply.volts.nominal, supply.volts.nominal));
            [low, high, supply.volts.nominal]
        });
        let open = std::iter::once(super::FLOATS.to_owned());
        let widest = ends.map(figure::volts).chain(open).max_by_key(String::len).unwrap_or_default();
        let room = |link: &Link, _: usize, lower: bool| {
            let (wire, stretch) = link.wire?;
            let words = if lower { wire_words(circuit, wire, stretch, Words::Number) } else { String::new() };
            let parts: Vec<&str> = if lower { vec![&words, &widest] } else { vec![&widest] };
            Some(Said::from(parts.join("  ")).room())
        };
        Self { layout: lay_out_with_room(circuit, &|_| true, &room) }
    }

    /// A state as SVG, its wires to be tapped; `circuit` is the one that was laid out.
    pub fn svg(&self, circuit: &Circuit, solution: &Solution) -> String {
        let mut layout = self.layout.clone();
        let view = View::State(solution);
        let drawn = Drawn { tappable: true, ..Drawn::default() };
        let none = BTreeMap::new();
        layout.say(&|link, end, lower| label(circuit, view, &drawn, &none, link, end, lower));
        written(circuit, view, &drawn, layout)
    }
}
