//! What stands below a drawing: the strokes that occur or that are to be drawn, the signs, and what to know of it.

use super::{Drawn, View, states};
use keyon_circuit::{ids::ElementId, model::*};
use keyon_draw::{At, Class, Layout, Mark, Pen, Shape, Sign, Words, signs, width_of, wrap};
use keyon_solve::{NodeState, Solution};

const SIZE: f64 = 9.0;
/// Entries after those of the states: loads that operate, and that operate weakly.
const OPERATES: usize = states::ALL.len();
const WEAK: usize = OPERATES + 1;
/// Of a comparison: what is the same in both states, and what only reads otherwise.
const SAME: usize = WEAK + 1;
const OTHER: usize = WEAK + 2;

/// The marks and the height that they need.
pub(super) fn legend(circuit: &Circuit, view: View<'_>, drawn: &Drawn, layout: &Layout) -> (Vec<Mark>, f64) {
    let (left, right) = layout.edges();
    let mut rows = Rows { marks: Vec::new(), at: (left, layout.size.1 - 4.0), left, right, height: 15.0 };
    match view {
        View::State(solution) | View::Difference(_, solution) => {
            let occurs = |state: NodeState| {
                layout.points().any(|p| match view {
                    View::Difference(before, after) => states::changed_state(before, after, p) == Some(state),
                    _ => solution.node_states.get(p.index()) == Some(&state),
                })
            };
            if let View::Difference(..) = view {
                rows.stroke(SAME, "the same");
                rows.stroke(OTHER, "other volts");
            }
            states::ALL.iter().enumerate().filter(|(_, state)| occurs(**state)).for_each(|(i, state)| {
                let now = if matches!(view, View::Difference(..)) { "now " } else { "" };
                rows.stroke(i, &format!("{now}{}", state.words()));
            });
            for (index, words) in [(OPERATES, "operates"), (WEAK, "weak")] {
                if drawn_loads(circuit, layout).any(|e| works(circuit, solution, e) == Some(index)) {
                    rows.disc(index, words);
                }
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
            "Contacts, stages and loads as they stand after. Volts before → after, where a meter tells them apart (0.5 % and 10 mV)."
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

/// The pen of an entry, and what fills it: in the states' colours, or in black.
pub(super) fn sample(index: usize, black: bool) -> (Pen, &'static str) {
    let pen = match states::ALL.get(index) {
        Some(&state) if black => Pen { ink: "#111111".to_owned(), ..states::pen(state) },
        Some(&state) => states::pen(state),
        None if index == SAME => states::same(),
        None if index == OTHER => states::other_volts(),
        None => Pen::new("#111111", 2.2, ""),
    };
    (pen, if index == WEAK { states::WEAK } else { states::OPERATES })
}

fn drawn_loads<'a>(circuit: &'a Circuit, layout: &'a Layout) -> impl Iterator<Item = ElementId> + 'a {
    layout
        .things
        .iter()
        .filter_map(|(thing, _)| match thing {
            keyon_draw::Thing::Device(d) => circuit.devices.get(d.index()),
            _ => None,
        })
        .flat_map(|device| device.elements.iter().copied())
}

/// The entry of a load that works.
fn works(circuit: &Circuit, solution: &Solution, load: ElementId) -> Option<usize> {
    let Owner::Device(device) = circuit.elements.get(load.index())?.owner else { return None };
    let states = &solution.devices.get(device.index())?.elements;
    let state = states.iter().find(|(e, _)| *e == load)?.1;
    if state.operates() { Some(OPERATES) } else { (state == keyon_solve::ElementState::Weak).then_some(WEAK) }
}

/// What fills a load that works.
pub(super) fn filling(circuit: &Circuit, solution: &Solution, load: ElementId) -> Option<&'static str> {
    works(circuit, solution, load).map(|index| sample(index, false).1)
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
