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

const WINCH: &str = "circuit c
supply b 12 V inner 20 mohm
ground G1
splice S
fuse F b -> S 40 A
lamp first 5 W 12 V
lamp second 5 W 12 V
lamp always 5 W 12 V
device sel {
  pins c, 1, 2
  positions one, two
  contact c -> 1 closed in one
  contact c -> 2 closed in two
}
wire 1 S -> sel.c
wire 2 sel.1 -> first.1
wire 3 sel.2 -> second.1
wire 4 S -> always.1
wire 5 first.2 -> G1
wire 6 second.2 -> G1
wire 7 always.2 -> G1
motor winch 0.7 ohm
switch go
wire 8 S -> go.1
wire 9 go.2 -> winch.1
wire 10 winch.2 -> G1
scenario before { }
scenario after { sel two }
scenario heavy { go on }
";

/// Grey paper tells what has begun, stopped and gone on, and which contacts have moved.
#[test]
fn a_comparison_is_told_without_colour() {
    let circuit = circuit(WINCH);
    let (before, after) = (solved(&circuit, 0), solved(&circuit, 1));
    let svg = drawing_svg(&circuit, View::Difference(&before, &after), &Drawn::default());
    for words in ["operates now", "has stopped", "works in both", "has moved; dashed: where it stood"] {
        assert!(svg.contains(words), "{words}: {svg}");
    }
    let outlines = |fill: &str, stroke: &str| {
        svg.lines().filter(|l| l.starts_with("<circle") && l.contains(fill) && l.contains(stroke)).count()
    };
    // Each once in the drawing and once in the legend.
    assert_eq!(outlines("#ffd24d", "stroke-width=\"2.2\"/>"), 2, "{svg}");
    assert_eq!(outlines("#ffffff", "stroke-width=\"2.2\" stroke-dasharray=\"3 2.5\"/>"), 2, "{svg}");
    assert_eq!(outlines("#dcdcdc", "stroke-width=\"1.3\"/>"), 2, "{svg}");
    // The blade as it stands, and as it stood.
    assert_eq!(svg.matches("stroke-width=\"3\"/>").count(), 2, "{svg}");
    assert_eq!(svg.matches("stroke-dasharray=\"2 2\"").count(), 2, "{svg}");
    let alone = drawing_svg(&circuit, View::State(&after), &Drawn::default());
    assert!(!alone.contains("has moved") && !alone.contains("#dcdcdc"), "{alone}");
}

/// A battery that sags behind a motor is no change of all that hangs on it.
#[test]
fn what_a_reading_may_be_off_stands_back() {
    let circuit = circuit(&WINCH.replace("0.7 ohm", "3 ohm"));
    let (before, after) = (solved(&circuit, 0), solved(&circuit, 2));
    let svg = drawing_svg(&circuit, View::Difference(&before, &after), &Drawn::default());
    assert!(svg.contains("11.98 → 11.9"), "{svg}");
    assert!(!svg.contains("other volts") && svg.contains(">the same<"), "{svg}");
    let circuit = self::circuit(WINCH);
    let (before, after) = (solved(&circuit, 0), solved(&circuit, 2));
    let svg = drawing_svg(&circuit, View::Difference(&before, &after), &Drawn::default());
    assert!(svg.contains(">other volts<"), "{svg}");
}

/// A legend has the strokes that can be seen: also those inside a body, and none besides.
#[test]
fn a_legend_lists_what_is_drawn() {
    let circuit = circuit(
        "circuit c
supply b 12 V
ground G1
device ladder {
  pins 1, 2, 3
  resistor 1 -> 3 100 ohm
  resistor 3 -> 2 200 ohm
}
unused ladder.3
wire 1 b -> ladder.1
wire 2 ladder.2 -> G1
scenario s { }
",
    );
    let solution = solved(&circuit, 0);
    let svg = drawing_svg(&circuit, View::State(&solution), &Drawn::default());
    for words in [">fed<", ">grounded<", ">between<"] {
        assert!(svg.contains(words), "{words}: {svg}");
    }
    assert!(!svg.contains(">open<"), "{svg}");
}
