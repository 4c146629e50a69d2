//! What a drawing says beside its symbols and wires: title, legend, foot, marks of what changes.

#![allow(clippy::unwrap_used)]

use keyon_circuit::{Source, World, elaborate, model::Circuit};
use keyon_draw::size_of;
use keyon_present::{Drawn, View, drawing_svg};
use keyon_solve::{Solution, State, solve};
use std::sync::Arc;

struct NoLibraries;

impl World for NoLibraries {
    fn library(&self, _: &str, _: &str) -> Option<Source> {
        None
    }
}

fn circuit(text: &str) -> Circuit {
    let parse = Arc::new(keyon_syntax::parse(text));
    elaborate(&NoLibraries, &Source { key: "a.keyon".into(), text: text.into(), parse }).circuit
}

fn solved(circuit: &Circuit, scenario: usize) -> Solution {
    solve(circuit, &State::scenario(circuit, scenario.into()))
}

const LAMP: &str = "circuit c \"A lamp with a title that is far longer than the drawing is wide\"
supply b 12 V
ground G1
lamp L 5 W 12 V
switch S
wire 1 b -> S.1
wire 2 S.2 -> L.1
wire 3 L.2 -> G1
scenario off { }
scenario on { S on }
";

/// What is said around a drawing does not make it small on paper.
#[test]
fn words_do_not_set_the_width() {
    let circuit = circuit(LAMP);
    let on = solved(&circuit, 1);
    let svg = drawing_svg(&circuit, View::State(&on), &Drawn::default());
    assert_eq!(size_of(&svg).0, 340.0, "{svg}");
    assert!(svg.contains(">A lamp with a title that is far longer<"), "{svg}");
    assert!(svg.contains(">Contacts and stages as they stand in this state; a<"), "{svg}");
}
