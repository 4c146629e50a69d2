//! The readings that tell a fault: those that part it from every other single fault that would look the same.

use super::reading::{name, said, volts_at};
use crate::grid::{Column, Grid};
use keyon_check::facts::exercises::{Suspect, suspects};
use keyon_circuit::{ids::*, model::*};
use keyon_solve::{
    Cancel, Cancelled, Solution, State,
    fault::{fits, same_readings, single_faults, test_points, test_points_of},
    solve,
};

/// As many as a key needs.
const MOST: usize = 4;
/// Faults that a row names one by one.
const NAMED: usize = 3;

/// What proves a fault.
pub(super) struct Proof {
    /// Readings of the faulty circuit beside those of the sound one. `None` where no reading tells anything.
    pub(super) grid: Option<Grid>,
    /// Faults that read the same wherever one may probe: as good an answer.
    pub(super) as_good: Vec<String>,
}

/// Looks for the fewest readings at the points that may be probed which leave only the exercise's own fault; after them the
/// reading across what is broken, where both of its ends may be probed.
pub(super) fn proof(
    circuit: &Circuit,
    exercise: &Exercise,
    (base, faulty): (&State, &State),
    cancel: &dyn Cancel,
) -> Result<Proof, Cancelled> {
    let mut points: Vec<PointId> =
        exercise.probe_entities.iter().flat_map(|&e| test_points_of(circuit, e)).collect();
    if points.is_empty() {
        points = test_points(circuit);
    }
    points.sort_unstable();
    points.dedup();
    points.retain(|&point| !circuit.is_restricted_at(point));
    let (sound, reads) = (solve(circuit, base), solve(circuit, faulty));
    let without_meter = |state: &State| {
        let mut state = state.clone();
        state.options.meter = f64::INFINITY;
        solve(circuit, &state)
    };
    let (ideal, seen) = (without_meter(base), without_meter(faulty));
    let faults = single_faults(circuit);
    let all = suspects(circuit, &faults, (&ideal.state, &ideal), &exercise.symptoms, &points, cancel)?;
    let own: Vec<&str> = exercise.faults.iter().map(|(_, words, _)| words.as_str()).collect();
    let mut left: Vec<&Suspect> =
        all.iter().filter(|s| s.fault.as_ref().is_none_or(|f| !own.contains(&f.as_str()))).collect();
    // Nothing wrong at all is always to be told.
    let sound_one = Suspect { fault: None, solution: ideal.clone() };
    if left.iter().all(|s| s.fault.is_some()) {
        left.insert(0, &sound_one);
    }
    let mut rows: Vec<Vec<String>> = Vec::new();
    while rows.len() < MOST {
        let told = |point: PointId| left.iter().filter(|s| !same_readings(&seen, &s.solution, point)).count();
        let far = |point: PointId| match (volts_at(&sound, point), volts_at(&reads, point)) {
            (Some(a), Some(b)) => (a - b).abs(),
            _ => 0.0,
        };
        // The most that is told; of equals the one that differs most from the sound circuit.
        let best = points
            .iter()
            .copied()
            .max_by(|&a, &b| told(a).cmp(&told(b)).then(far(a).total_cmp(&far(b))).then(b.cmp(&a)));
        let Some(point) = best.filter(|&point| told(point) > 0) else { break };
        let (gone, rest): (Vec<&Suspect>, Vec<&Suspect>) =
            left.into_iter().partition(|s| !same_readings(&seen, &s.solution, point));
        left = rest;
        rows.push(vec![
            name(circuit, point).to_owned(),
            said(volts_at(&reads, point)),
            said(volts_at(&sound, point)),
            list(&gone),
        ]);
    }
    rows.extend(across(circuit, exercise, &points, (&reads, &sound)));
    let columns = vec![
        Column::key("proved by"),
        Column::figures("reads"),
        Column::figures("sound"),
        Column::words("rules out"),
    ];
    let as_good = left.iter().filter_map(|s| s.fault.as_ref()).map(ToString::to_string).collect();
    Ok(Proof { grid: (!rows.is_empty()).then_some(Grid { columns, rows }), as_good })
}

/// Across what is broken, red on the higher end.
fn across(
    circuit: &Circuit,
    exercise: &Exercise,
    points: &[PointId],
    (reads, sound): (&Solution, &Solution),
) -> Vec<Vec<String>> {
    let mut rows = Vec::new();
    for element in broken(exercise) {
        let Some(element) = circuit.elements.get(element.index()) else { continue };
        let drop = |s: &Solution| Some(volts_at(s, element.from)? - volts_at(s, element.to)?);
        if let (Some(read), Some(was)) = (drop(reads), drop(sound))
            && !fits(read, was, keyon_solve::fault::Accuracy::default())
            && points.contains(&element.from)
            && points.contains(&element.to)
        {
            let (sign, ends) = if read < 0.0 {
                (-1.0, [element.to, element.from])
            } else {
                (1.0, [element.from, element.to])
            };
            let [red, black] = ends.map(|end| name(circuit, end));
            let what = format!("across {}: red {red}, black {black}", element.name);
            rows.push(vec![what, said(Some(sign * read)), said(Some(sign * was)), String::new()]);
        }
    }
    rows
}

/// Some of the faults by name, and how many more.
fn list(gone: &[&Suspect]) -> String {
    let words =
        |s: &&Suspect| s.fault.as_ref().map_or_else(|| "nothing wrong".to_owned(), ToString::to_string);
    let mut names: Vec<String> = gone.iter().take(NAMED).map(words).collect();
    if gone.len() > NAMED {
        names.push(format!("{} more", gone.len() - NAMED));
    }
    names.join(", ")
}

/// What the faults are in: elements that stay in the circuit.
fn broken(exercise: &Exercise) -> impl Iterator<Item = ElementId> + '_ {
    exercise.faults.iter().flat_map(|(changes, ..)| changes).filter_map(|change| match change {
        Change::Open(e) | Change::Replace(e, _) | Change::Stuck(e, _) | Change::Drift(e, _) => Some(*e),
        Change::Add { .. } => None,
    })
}
