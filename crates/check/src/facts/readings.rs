//! Readings that were taken, against a circuit with one fault (decision 41).

use super::{
    Facts,
    exercises::{is_plain, is_seen, points_of},
};
use keyon_circuit::model::{Assertion, COMMON, Circuit, PointKind, Probe, Readings, Row};
use keyon_solve::{Cancelled, Got, Solution, State, fault::Near, judge, measure, solve};
use keyon_syntax::unit::Dimension;
use smol_str::SmolStr;

/// Readings below so many volts tell nothing of the supply.
const LITTLE: f64 = 1.0;
/// Volts of the supply that are tried where nobody read it.
const SCALES: usize = 3;

/// What comes nearest to a block of readings.
pub struct Explained {
    /// `None` where nothing is wrong.
    pub fault: Option<SmolStr>,
    /// Rows that fit; all of them where it explains the block.
    pub fits: usize,
    /// The first row that does not, by its index.
    pub against: Option<usize>,
}

impl Facts<'_> {
    /// The cause that fits most rows: nothing wrong, never commanded, or one single fault. `None` where the scenario is not
    /// known.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn explained(&self, block: &Readings) -> Result<Option<Explained>, Cancelled> {
        let circuit = self.circuit;
        let Some(scenario) = block.scenario else { return Ok(None) };
        let mut base = State::scenario(circuit, scenario);
        base.changes.extend(block.changes.iter().cloned());
        let (open, pins) = supplies(circuit, &mut base, &block.rows);
        let mut best: Option<Explained> = None;
        let mut look = |fault: Option<SmolStr>, state: &State| {
            let state = &pinned(circuit, state, &pins);
            let mut take = |got: (usize, Option<usize>)| {
                if best.as_ref().is_none_or(|best| got.0 > best.fits) {
                    best = Some(Explained { fault: fault.clone(), fits: got.0, against: got.1 });
                }
                got.1.is_none()
            };
            // What a device does hangs on no meter, and most faults are out by that.
            let mut ideal = state.clone();
            ideal.options.meter = f64::INFINITY;
            let seen = solve(circuit, &ideal);
            let out = |row: &Row| is_seen(row) && is_plain(row) && !judge(circuit, &seen, row).holds;
            if block.rows.iter().any(out) {
                let good =
                    block.rows.iter().filter(|row| is_plain(row) && row_fits(circuit, &seen, row, block));
                return take((good.count(), block.rows.iter().position(out)));
            }
            take(fit(circuit, state, block))
                || scaled(circuit, state, &open, &block.rows)
                    .iter()
                    .any(|state| take(fit(circuit, state, block)))
        };
        if look(None, &base) || look(Some("nothing commanded".into()), &uncommanded(circuit, &base)) {
            return Ok(best);
        }
        let sound = solve(circuit, &base);
        let starts: Vec<_> = block.rows.iter().flat_map(|row| points_of(circuit, row.probe)).collect();
        let near = Near::new(circuit, &sound, &starts);
        for fault in self.faults().iter().filter(|fault| near.concerns(fault)) {
            if self.cancel.cancelled() {
                return Err(Cancelled);
            }
            if look(Some(fault.words.clone()), &fault.in_state(&base)) {
                break;
            }
        }
        Ok(best)
    }
}

/// The supplies' volts as rows at their terminals have them, else as stated; which of them nobody read and have a range; and
/// what was read at the terminals of the others.
fn supplies(circuit: &Circuit, base: &mut State, rows: &[Row]) -> (Vec<usize>, Vec<(usize, f64)>) {
    let read = |supply: usize| {
        // What stands on another supply is read with it: it is scaled.
        circuit.supplies.get(supply).filter(|s| s.negative == COMMON)?;
        rows.iter().find_map(|row| match (row.probe, &row.assertion) {
            (Probe::Point(p), Assertion::Is(volts, Dimension::Voltage))
                if circuit.points.get(p.index()).map(|p| p.kind) == Some(PointKind::Supply(supply)) =>
            {
                Some(*volts)
            }
            _ => None,
        })
    };
    let (mut open, mut pins) = (Vec::new(), Vec::new());
    for (i, volts) in base.supplies.iter_mut().enumerate() {
        match read(i) {
            Some(read) => {
                *volts = read;
                pins.push((i, read));
            }
            None if circuit.supplies.get(i).is_some_and(|s| s.range.is_some()) => open.push(i),
            None => {}
        }
    }
    (open, pins)
}

/// Steps after which a terminal stands where it was read, or never will.
const STEPS: usize = 6;
/// Volts to which it has to.
const NEAR: f64 = 1e-3;

/// The state with each supply that was read as much above its reading as its inner resistance takes there: a meter is put on
/// the terminals.
fn pinned(circuit: &Circuit, state: &State, pins: &[(usize, f64)]) -> State {
    let mut state = state.clone();
    for _ in 0..if pins.is_empty() { 0 } else { STEPS } {
        let solution = solve(circuit, &state);
        let mut far = 0.0_f64;
        for &(supply, read) in pins {
            let terminal = circuit.supplies.get(supply).map(|s| s.point.index());
            let stands = terminal.and_then(|p| solution.unloaded.get(p).copied().flatten());
            if let (Some(volts), Some(stands)) = (state.supplies.get_mut(supply), stands) {
                *volts += read - stands;
                far = far.max((read - stands).abs());
            }
        }
        if far <= NEAR {
            break;
        }
    }
    state
}

/// The same state with the supplies that nobody read at other volts of their range: those at which a row that is not
/// nearly nothing would read as it was read.
fn scaled(circuit: &Circuit, state: &State, open: &[usize], rows: &[Row]) -> Vec<State> {
    if open.is_empty() {
        return Vec::new();
    }
    let solution = solve(circuit, state);
    let mut tried: Vec<State> = Vec::new();
    for row in rows {
        let Assertion::Is(read, Dimension::Voltage) = row.assertion else { continue };
        let Ok(Got::Number { value, .. }) = measure(circuit, &solution, row.probe, Some(Dimension::Voltage))
        else {
            continue;
        };
        let scale = read / value;
        if value.abs() < LITTLE || !scale.is_finite() || tried.len() >= SCALES {
            continue;
        }
        let mut state = state.clone();
        for &supply in open {
            let range = circuit.supplies.get(supply).and_then(|s| s.range);
            if let (Some(volts), Some((low, high))) = (state.supplies.get_mut(supply), range) {
                *volts = (*volts * scale).clamp(low, high);
            }
        }
        if tried.iter().all(|t| t.supplies != state.supplies) {
            tried.push(state);
        }
    }
    tried
}

/// The state with everything that a module commands at rest.
fn uncommanded(circuit: &Circuit, base: &State) -> State {
    use keyon_circuit::model::ControlKind::{Gang, Return, Stage};
    let mut state = base.clone();
    for (position, control) in state.positions.iter_mut().zip(&circuit.controls) {
        if matches!(control.kind, Stage(..) | Gang(..) | Return(..)) {
            *position = 0;
        }
    }
    state
}

/// How many rows fit before and after the first that does not, and which that is.
fn fit(circuit: &Circuit, state: &State, block: &Readings) -> (usize, Option<usize>) {
    let plain = solve(circuit, state);
    let mut fits = 0;
    let mut against = None;
    for (i, row) in block.rows.iter().enumerate() {
        let s = &row.settings;
        let own = !(s.controls.is_empty() && s.stimuli.is_empty() && s.changes.is_empty());
        let good = if own {
            row_fits(circuit, &solve(circuit, &state.clone().with(&row.settings)), row, block)
        } else {
            row_fits(circuit, &plain, row, block)
        };
        if good {
            fits += 1;
        } else if against.is_none() {
            against = Some(i);
        }
    }
    (fits, against)
}

/// Joints that nobody modelled, volts (decision 41).
const JOINTS: f64 = 0.05;

fn row_fits(circuit: &Circuit, solution: &Solution, row: &Row, block: &Readings) -> bool {
    // What cannot be measured there is a finding of its own.
    let said = || {
        let outcome = judge(circuit, solution, row);
        outcome.holds || outcome.refused.is_some()
    };
    let Assertion::Is(read, dimension) = row.assertion else { return said() };
    let Ok(Got::Number { value, .. }) = measure(circuit, solution, row.probe, Some(dimension)) else {
        return said();
    };
    let least = match dimension {
        Dimension::Voltage | Dimension::Current => 0.01,
        Dimension::Resistance => 0.1,
        _ => 0.0,
    };
    // The meter's own accuracy, where the block gives it.
    let given = |wanted: Dimension| block.accuracy.iter().find(|(_, d)| *d == wanted).map(|(by, _)| *by);
    let own = given(Dimension::Ratio).is_some() || given(dimension).is_some();
    let (ratio, fixed) = if own {
        (given(Dimension::Ratio).unwrap_or(0.0), given(dimension).unwrap_or(0.0))
    } else {
        (0.005, least)
    };
    let joints = if dimension == Dimension::Voltage { JOINTS } else { 0.0 };
    let value = if matches!(row.probe, Probe::Clamp(_)) && read >= 0.0 { value.abs() } else { value };
    // What is driven through joints of a few milliohms reads a little less than computed.
    let current = if dimension == Dimension::Current { 0.02 * value.abs() } else { 0.0 };
    (read - value).abs() <= ratio * read.abs() + fixed + joints + current
}
