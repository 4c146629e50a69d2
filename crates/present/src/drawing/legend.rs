//! What stands below a drawing: the strokes that occur or that are to be drawn, the signs, and what to know of it.

use super::{Drawn, View, entries, states, visible::Visible};
use keyon_circuit::model::*;
use keyon_draw::{At, Class, Layout, Mark, Shape, Sign, Words, signs, width_of, wrap};
use keyon_solve::NodeState;
use std::collections::BTreeSet;

const SIZE: f64 = 9.0;

/// The marks and the height that they need.
pub(super) fn legend(circuit: &Circuit, view: View<'_>, drawn: &Drawn, layout: &Layout) -> (Vec<Mark>, f64) {
    let (left, right) = layout.edges();
    let mut rows = Rows { marks: Vec::new(), at: (left, layout.size.1 - 4.0), left, right, height: 15.0 };
    match view {
        View::State(solution) | View::Difference(_, solution) => {
            let seen = Visible::of(layout, &|link| super::is_broken(circuit, solution, link));
            rows.strokes(view, &seen);
            rows.loads(circuit, view, &seen);
            if seen.contacts.iter().any(|&contact| entries::has_moved(view, contact)) {
                rows.contact("has moved; dashed: where it stood");
            }
            rows.end();
        }
        View::Plain if drawn.letters => {
            for (index, state) in states::ALL.iter().enumerate().filter(|(_, s)| is_marked(circuit, **s)) {
                rows.stroke(index, state.words());
            }
            let leave = "open: leave it as it is";
            rows.room(width_of(leave, SIZE));
            rows.words(leave, 0.0);
            rows.end();
        }
        _ => {}
    }
    let signs = signs(circuit, layout);
    if !signs.is_empty() {
        rows.height = 21.0;
        rows.at.1 += 4.0;
        signs.iter().for_each(|Sign { marks, words }| rows.sign(marks, words));
        rows.end();
    }
    let foot = match view {
        View::State(_) => {
            "Contacts and stages as they stand in this state; a cross: interrupted. Volts against the common ground, by a meter (10 MΩ)."
        }
        View::Difference(..) => {
            "Contacts, stages and loads as they stand after. Volts before → after, where a meter tells them apart (0.5 % and 10 mV). Light: the same state, and no more than a reading may be off (0.5 % and 60 mV)."
        }
        _ => "",
    };
    let last = format!("Computed for teaching and planning; the maker's data wins. Keyon, {}", circuit.name);
    let lines = [foot, if drawn.bare { "" } else { &last }];
    for line in lines.into_iter().flat_map(|text| wrap(text, SIZE, right - left)) {
        words(&mut rows.marks, rows.at, &line);
        rows.at.1 += 12.0;
    }
    (rows.marks, rows.at.1 - 12.0 - layout.size.1 + 16.0)
}

/// Whether learners are to tell this state apart when they mark wires.
pub(crate) fn is_marked(circuit: &Circuit, state: NodeState) -> bool {
    match state {
        NodeState::Open | NodeState::Clash | NodeState::Chatters => false,
        NodeState::Referenced => {
            let cavities = circuit.modules.iter().flat_map(|m| &m.connectors).flat_map(|c| &c.cavities);
            cavities.into_iter().any(|cavity| matches!(cavity.role, Role::Reference { .. }))
        }
        _ => true,
    }
}

/// Entries side by side, in as many rows as they need.
struct Rows {
    marks: Vec<Mark>,
    at: At,
    left: f64,
    right: f64,
    /// Of a row.
    height: f64,
}

impl Rows {
    fn room(&mut self, wide: f64) {
        if self.at.0 + wide > self.right && self.at.0 > self.left {
            self.at = (self.left, self.at.1 + self.height);
        }
    }

    /// The strokes of wires and leads that can be seen: what stands back first.
    fn strokes(&mut self, view: View<'_>, seen: &Visible) {
        let drawn: BTreeSet<usize> = seen.points.iter().filter_map(|&p| entries::of_point(view, p)).collect();
        let compared = matches!(view, View::Difference(..));
        for (index, words) in [(entries::SAME, "the same"), (entries::OTHER, "other volts")] {
            if drawn.contains(&index) {
                self.stroke(index, words);
            }
        }
        for (index, state) in states::ALL.iter().enumerate().filter(|(index, _)| drawn.contains(index)) {
            let now = if compared { "now " } else { "" };
            self.stroke(index, &format!("{now}{}", state.words()));
        }
    }

    /// What outlines and fillings of loads say.
    fn loads(&mut self, circuit: &Circuit, view: View<'_>, seen: &Visible) {
        let drawn = seen.loads.iter().filter_map(|&load| entries::of_load(circuit, view, load));
        let drawn: BTreeSet<usize> = drawn.collect();
        let named = entries::of_loads(matches!(view, View::Difference(..)));
        named
            .iter()
            .filter(|(index, _)| drawn.contains(index))
            .for_each(|(index, words)| self.disc(*index, words));
    }

    /// A contact that has moved.
    fn contact(&mut self, text: &str) {
        self.room(28.0 + width_of(text, SIZE));
        let (x, y) = (self.at.0, self.at.1 - 3.0);
        for (index, end) in [(entries::STOOD, (x + 18.0, y - 8.0)), (entries::STANDS, (x + 20.0, y))] {
            self.marks.push(Mark { class: Class::Sample(index), shape: Shape::Line(vec![(x, y), end]) });
        }
        self.words(text, 26.0);
    }

    fn stroke(&mut self, index: usize, text: &str) {
        self.room(44.0 + width_of(text, SIZE));
        let line = vec![(self.at.0, self.at.1 - 3.0), (self.at.0 + 36.0, self.at.1 - 3.0)];
        self.marks.push(Mark { class: Class::Sample(index), shape: Shape::Line(line) });
        self.words(text, 42.0);
    }

    fn disc(&mut self, index: usize, text: &str) {
        self.room(16.0 + width_of(text, SIZE));
        let shape = Shape::Circle((self.at.0 + 5.0, self.at.1 - 3.0), 5.0, false);
        self.marks.push(Mark { class: Class::Sample(index), shape });
        self.words(text, 16.0);
    }

    fn sign(&mut self, marks: &[Mark], text: &str) {
        self.room(24.0 + width_of(text, SIZE));
        let mut scene = keyon_draw::Scene::default();
        scene.add((self.at.0 + 10.0, self.at.1 - 3.0), marks);
        self.marks.extend(scene.marks);
        self.words(text, 24.0);
    }

    fn words(&mut self, text: &str, aside: f64) {
        words(&mut self.marks, (self.at.0 + aside, self.at.1), text);
        self.at.0 += aside + width_of(text, SIZE) + 18.0;
    }

    /// Ends a row that was begun.
    fn end(&mut self) {
        self.at = (self.left, self.at.1 + if self.at.0 > self.left { self.height } else { 0.0 });
    }
}

fn words(marks: &mut Vec<Mark>, at: At, text: &str) {
    let words = Words { at, text: text.to_owned(), size: SIZE, bold: false, middle: false, upright: false };
    marks.push(Mark { class: Class::Text, shape: Shape::Text(words) });
}
