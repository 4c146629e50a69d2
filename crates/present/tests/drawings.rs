//! What a drawing says beside its symbols and wires: title, legend, foot, marks of what changes.

#![allow(clippy::unwrap_used)]

mod common;

use common::circuit;
use keyon_circuit::{Entity, model::Circuit};
use keyon_draw::size_of;
use keyon_present::{Drawn, View, beside_svg, drawing_svg, face_svg};
use keyon_solve::{Solution, State, solve};

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

/// A blade that rests on neither of two throws stands between them, and is seen to have stood there.
#[test]
fn a_blade_rests_between_two_throws() {
    let circuit = circuit(
        &WINCH
            .replace("positions one, two", "positions off, one, two")
            .replace("scenario after { sel two }", "scenario after { sel one }"),
    );
    let (off, one) = (solved(&circuit, 0), solved(&circuit, 1));
    let blades = |before: &Solution, after: &Solution| {
        let svg = drawing_svg(&circuit, View::Difference(before, after), &Drawn::default());
        let count = |pen: &str| svg.lines().filter(|l| l.starts_with("<path") && l.contains(pen)).count();
        // One of each in the legend.
        (count("stroke-width=\"3\"/>") - 1, count("stroke-dasharray=\"2 2\"") - 1)
    };
    assert_eq!(blades(&off, &one), (1, 1));
    assert_eq!(blades(&one, &off), (1, 1));
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

/// States side by side show each thing at the same place, whatever their volts need.
#[test]
fn states_beside_each_other_share_a_layout() {
    let circuit = circuit(LAMP);
    let (off, on) = (solved(&circuit, 0), solved(&circuit, 1));
    let states = [("off".to_owned(), &off), ("on".to_owned(), &on)];
    let svg = beside_svg(&circuit, &states, &Drawn::default());
    let drawings: Vec<&str> = svg.split("<svg ").skip(2).collect();
    assert_eq!(drawings.len(), 2);
    let names = |svg: &str| -> Vec<String> {
        let bold = svg.lines().filter(|l| l.contains("font-size=\"10\"") && l.contains("<text"));
        bold.map(str::to_owned).collect()
    };
    assert_eq!(names(drawings[0]), names(drawings[1]));
    assert!(drawings[1].contains("12.00"), "{svg}");
}

/// A face says in letters what its colours say, which half it shows, what has no wire, and what is read in a state.
#[test]
fn a_face_says_more_than_colours() {
    let circuit = circuit(
        "circuit c
supply b 12 V
ground G1
lamp L 5 W 12 V
connector X \"Plug\" face 1 x 3 { 1, 2, 3 }
wire 1 b -> X.1 -> L.1 1.0 mm2 WH 1 m
wire 2 L.2 -> X.2 -> G1 1.0 mm2 BK/BU 1 m
scenario s { }
",
    );
    let plug = circuit.lookup("X").into_iter().find(|e| matches!(e, Entity::Inline(_))).unwrap();
    let svg = face_svg(&circuit, plug, None).unwrap();
    for words in [">WH<", ">BK/BU<", ">X Plug, side a<", ">X Plug, side b<"] {
        assert!(svg.contains(words), "{words}: {svg}");
    }
    assert_eq!(svg.matches("class=\"empty\"").count(), 2, "cavity 3 of each half: {svg}");
    assert!(!svg.contains(" V<"), "{svg}");
    let solution = solved(&circuit, 0);
    let svg = face_svg(&circuit, plug, Some((&solution, "lit"))).unwrap();
    assert!(svg.contains(">X Plug, side a: lit<"), "{svg}");
    // Two cavities of two halves.
    assert_eq!(svg.matches(" V<").count(), 4, "{svg}");
}

/// A supply has the volts of the state beside its name, those of both where two states are compared.
#[test]
fn supplies_have_the_volts_of_the_state() {
    let text = LAMP.replace("scenario on { S on }", "scenario on { S on, b 10.5 V }");
    let circuit = circuit(&text);
    let [off, on] = [0, 1].map(|scenario| solved(&circuit, scenario));
    let drawn = |view| drawing_svg(&circuit, view, &Drawn::default());
    assert!(drawn(View::State(&on)).contains(">b  10.5 V<"));
    assert!(drawn(View::State(&off)).contains(">b  12 V<"));
    assert!(drawn(View::Difference(&off, &on)).contains(">b  12 → 10.5 V<"));
    assert!(keyon_present::Standing::new(&circuit).svg(&circuit, &on).contains(">b  10.5 V<"));
}
