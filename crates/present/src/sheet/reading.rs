//! Readings as sheets say them, and the rows of an exercise that state some.

use crate::figure;
use keyon_circuit::{ids::*, model::*};
use keyon_solve::Solution;

/// In the place of a figure, where nothing settles.
pub(super) const UNSETTLED: &str = "no settled value";

/// The name of a point.
pub(super) fn name(circuit: &Circuit, point: PointId) -> &str {
    circuit.points.get(point.index()).map_or("", |p| p.name.as_str())
}

/// What a meter reads at a point, volts.
pub(super) fn volts_at(solution: &Solution, point: PointId) -> Option<f64> {
    solution.volts.get(point.index()).copied().flatten()
}

/// A reading with its unit.
pub(super) fn said(volts: Option<f64>) -> String {
    volts.map_or_else(|| UNSETTLED.to_owned(), |v| format!("{} V", figure::volts(v)))
}

/// A row of an exercise as a person says it: `left_valve rests`.
pub(super) fn row_words(circuit: &Circuit, row: &Row) -> String {
    let what = match row.probe {
        Probe::Point(p) => name(circuit, p).to_owned(),
        Probe::Device(d) => circuit.devices.get(d.index()).map_or_else(String::new, |d| {
            d.title.as_ref().map_or_else(|| d.name.to_string(), |t| format!("{t} ({})", d.name))
        }),
        Probe::Element(e) | Probe::Clamp(e) => {
            circuit.elements.get(e.index()).map_or_else(String::new, |e| e.name.to_string())
        }
        Probe::Input(m, c, k) => circuit.cavity(m, c, k).map_or_else(String::new, |c| c.name.to_string()),
        Probe::Across(a, b) | Probe::Ohms(a, b) | Probe::Lamp(a, b) => {
            format!("{} to {}", name(circuit, a), name(circuit, b))
        }
    };
    format!("{what} {}", assertion_words(&row.assertion))
}

fn assertion_words(assertion: &Assertion) -> String {
    let q = |v: f64, d| figure::quantity(v, d);
    match assertion {
        Assertion::Below(v, d) => format!("reads below {}", q(*v, *d)),
        Assertion::Above(v, d) => format!("reads above {}", q(*v, *d)),
        Assertion::Between(a, b, d) => format!("reads {} to {}", q(*a, *d), q(*b, *d)),
        Assertion::Is(v, d) => format!("reads {}", q(*v, *d)),
        Assertion::State(words) => words.to_string(),
    }
}
