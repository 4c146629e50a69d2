//! The readings that tell a fault: where a meter shows something else than in the sound circuit.

use super::reading::{name, said, volts_at};
use crate::grid::{Column, Grid};
use keyon_circuit::{ids::*, model::*};
use keyon_solve::{
    Solution,
    fault::{fits, same_readings, test_points, test_points_of},
};

/// As many as a key needs.
const MOST: usize = 4;

/// Readings of the faulty circuit beside those of the sound one: across what is broken, and at the points that may be
/// probed, the largest difference first. `None` where no reading differs.
pub(super) fn grid(
    circuit: &Circuit,
    exercise: &Exercise,
    sound: &Solution,
    faulty: &Solution,
) -> Option<Grid> {
    let mut rows: Vec<Vec<String>> = Vec::new();
    for element in broken(exercise) {
        let Some(element) = circuit.elements.get(element.index()) else { continue };
        let drop = |s: &Solution| Some(volts_at(s, element.from)? - volts_at(s, element.to)?);
        if let (Some(reads), Some(was)) = (drop(faulty), drop(sound))
            && !fits(reads, was, keyon_solve::fault::Accuracy::default())
        {
            let what = format!(
                "across {}: {} to {}",
                element.name,
                name(circuit, element.from),
                name(circuit, element.to)
            );
            rows.push(vec![what, said(Some(reads)), said(Some(was))]);
        }
    }
    let mut points: Vec<PointId> =
        exercise.probe_entities.iter().flat_map(|&e| test_points_of(circuit, e)).collect();
    if points.is_empty() {
        points = test_points(circuit);
    }
    points.sort_unstable();
    points.dedup();
    points.retain(|&point| !same_readings(sound, faulty, point) && !circuit.is_restricted_at(point));
    let apart = |point: &PointId| match (volts_at(sound, *point), volts_at(faulty, *point)) {
        (Some(a), Some(b)) => (a - b).abs(),
        _ => f64::INFINITY,
    };
    points.sort_by(|a, b| apart(b).total_cmp(&apart(a)).then(a.cmp(b)));
    rows.extend(points.iter().take(MOST).map(|&point| {
        vec![name(circuit, point).to_owned(), said(volts_at(faulty, point)), said(volts_at(sound, point))]
    }));
    let columns = vec![Column::key("proved by"), Column::figures("reads"), Column::figures("sound")];
    (!rows.is_empty()).then_some(Grid { columns, rows })
}

/// What the faults are in: elements that stay in the circuit.
fn broken(exercise: &Exercise) -> impl Iterator<Item = ElementId> + '_ {
    exercise.faults.iter().flat_map(|(changes, ..)| changes).filter_map(|change| match change {
        Change::Open(e) | Change::Replace(e, _) | Change::Stuck(e, _) | Change::Drift(e, _) => Some(*e),
        Change::Add { .. } => None,
    })
}
