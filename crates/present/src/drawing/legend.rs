//! What stands below a drawing: the states that occur, and what to know of it.

use super::{View, states};
use keyon_circuit::model::Circuit;
use keyon_draw::{At, Class, Layout, Mark, Shape, Words, width_of};

const SIZE: f64 = 9.0;

/// The marks and the height that they need. Strokes of a state stand as a mark of the point that carries it.
pub(super) fn legend(circuit: &Circuit, view: View<'_>, layout: &Layout) -> (Vec<Mark>, f64) {
    let mut marks = Vec::new();
    let mut at: At = (20.0, layout.size.1 - 4.0);
    let right = layout.size.0.max(560.0) - 20.0;
    if let View::State(solution) | View::Difference(_, solution) = view {
        for state in states::ALL {
            let mut points = layout.points().filter(|p| solution.node_states.get(p.index()) == Some(&state));
            let Some(point) = points.next() else { continue };
            let wide = 44.0 + width_of(state.words(), SIZE) + 18.0;
            if at.0 + wide > right && at.0 > 20.0 {
                at = (20.0, at.1 + 14.0);
            }
            let line = vec![(at.0, at.1 - 3.0), (at.0 + 36.0, at.1 - 3.0)];
            if matches!(view, View::State(_)) {
                marks.push(Mark { class: Class::Lead(point), shape: Shape::Line(line) });
                words(&mut marks, (at.0 + 42.0, at.1), state.words());
                at.0 += wide;
            }
        }
        at = (20.0, at.1 + if at.0 > 20.0 { 15.0 } else { 0.0 });
    }
    let foot = match view {
        View::State(_) => {
            "Contacts and stages as they stand in this state; a cross: interrupted. Volts against the common ground, by a meter (10 MΩ)."
        }
        View::Difference(..) => {
            "Contacts and stages as they stand after. Grey: the same state. Heavy: other volts. In a state's stroke: another state."
        }
        _ => "",
    };
    let last = format!("Computed for teaching and planning; the maker's data wins. Keyon, {}", circuit.name);
    for line in [foot, last.as_str()].into_iter().filter(|line| !line.is_empty()) {
        words(&mut marks, at, line);
        at.1 += 12.0;
    }
    at.1 -= 12.0;
    (marks, at.1 - layout.size.1 + 16.0)
}

fn words(marks: &mut Vec<Mark>, at: At, text: &str) {
    let words = Words { at, text: text.to_owned(), size: SIZE, bold: false, middle: false, upright: false };
    marks.push(Mark { class: Class::Text, shape: Shape::Text(words) });
}
