//! From volts back to what is sensed: the curve that a module keeps of each sensor, and its inverse.
//!
//! The curve is the sensor's on ideal wiring: no fault, no set-up, wires, contacts and ground points without resistance,
//! switched returns on. What wiring, faults and lifted grounds add to a reading is then what the module takes it wrongly
//! for.

use crate::{Cancel, Cancelled, Solution, State, solve};
use keyon_circuit::{
    ids::*,
    model::{Change, Circuit, ControlKind, ElementKind, Law},
};

/// Stretches of a span that are looked at for the reading.
const STRETCHES: usize = 12;
/// Least change of volts over a span that makes it a sensor's.
const LEAST_SWING: f64 = 1e-3;
/// Steps of the search within a stretch; each halves what is left at least.
const STEPS: usize = 60;
/// How far beyond an end of the curve a reading still counts as at it, in proportion to its swing.
const AT_THE_END: f64 = 1e-6;

/// What a reading is taken for.
#[derive(Clone, Debug, PartialEq)]
pub struct Taken {
    /// The sensor that moves the input most.
    pub stimulus: StimulusId,
    /// All values of its span that give the reading; the end of the span that comes nearest where none does.
    pub values: Vec<f64>,
    /// The reading lies beyond what the sensor gives anywhere in its span.
    pub beyond: Option<Beyond>,
}

/// Beyond which end of a sensor's span a reading lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Beyond {
    /// Colder, less travel, less pressure than the lowest.
    Lowest,
    /// Warmer, more travel, more pressure than the highest.
    Highest,
    /// Neither: the curve bends back, and the reading lies past the bend.
    Bend,
}

/// An input: module, connector, cavity.
type Input = (ModuleId, usize, usize);

/// The sensors' curves in the state of a solution, made as they are asked for.
pub(super) struct Curves<'a> {
    circuit: &'a Circuit,
    base: State,
    /// By stimulus: values and solutions over its span.
    rows: Option<Vec<Vec<(f64, Solution)>>>,
}

impl<'a> Curves<'a> {
    pub(super) fn new(circuit: &'a Circuit, solution: &Solution) -> Self {
        Self { circuit, base: ideal(circuit, &solution.state), rows: None }
    }

    /// What a reading of an input is taken for; `None` where no sensor moves it.
    pub(super) fn taken_for(
        &mut self,
        input: Input,
        volts: f64,
        cancel: &dyn Cancel,
    ) -> Result<Option<Taken>, Cancelled> {
        if self.rows.is_none() {
            self.rows = Some(self.look(cancel)?);
        }
        let curve = |rows: &[(f64, Solution)]| -> Option<Vec<(f64, f64)>> {
            rows.iter().map(|(value, solution)| Some((*value, self.reads(solution, input)?))).collect()
        };
        let curves = self.rows.iter().flatten().map(|rows| curve(rows));
        let swing = |rows: &[(f64, f64)]| {
            let (low, high) = ends(rows);
            high - low
        };
        let mut best: Option<(usize, Vec<(f64, f64)>)> = None;
        for (index, rows) in curves.enumerate().filter_map(|(i, rows)| Some((i, rows?))) {
            let most = best.as_ref().map_or(LEAST_SWING, |(_, rows)| swing(rows));
            if swing(&rows) > most {
                best = Some((index, rows));
            }
        }
        let Some((index, rows)) = best else { return Ok(None) };
        self.invert(input, StimulusId::from(index), &rows, volts, cancel).map(Some)
    }

    /// All stimuli over their spans, one at a time.
    fn look(&self, cancel: &dyn Cancel) -> Result<Vec<Vec<(f64, Solution)>>, Cancelled> {
        let mut all = Vec::with_capacity(self.circuit.stimuli.len());
        for (index, stimulus) in self.circuit.stimuli.iter().enumerate() {
            let (low, high) = stimulus.span;
            let mut rows = Vec::with_capacity(STRETCHES + 1);
            for step in 0..=STRETCHES {
                if cancel.cancelled() {
                    return Err(Cancelled);
                }
                let value = low + (high - low) * step as f64 / STRETCHES as f64;
                rows.push((value, self.at(index, value)));
            }
            all.push(rows);
        }
        Ok(all)
    }

    fn at(&self, stimulus: usize, value: f64) -> Solution {
        let mut state = self.base.clone();
        if let Some(slot) = state.stimuli.get_mut(stimulus) {
            *slot = value;
        }
        solve(self.circuit, &state)
    }

    /// What an input reads; `None` also where its module is dead.
    fn reads(&self, solution: &Solution, (m, c, k): Input) -> Option<f64> {
        let alive = solution.alive.get(m.index()).copied().unwrap_or(false);
        solution.input_volts(self.circuit, m, c, k).filter(|_| alive)
    }

    fn invert(
        &self,
        input: Input,
        stimulus: StimulusId,
        rows: &[(f64, f64)],
        volts: f64,
        cancel: &dyn Cancel,
    ) -> Result<Taken, Cancelled> {
        let (low, high) = ends(rows);
        let slack = AT_THE_END * (high - low);
        let mut values: Vec<f64> = Vec::new();
        if volts >= low - slack && volts <= high + slack {
            let volts = volts.clamp(low, high);
            for pair in rows.windows(2) {
                let [(x0, y0), (x1, y1)] = *pair else { continue };
                if cancel.cancelled() {
                    return Err(Cancelled);
                }
                if (y0 - volts) * (y1 - volts) <= 0.0 && y0 != y1 {
                    values.push(self.root(input, stimulus, [x0, x1], [y0 - volts, y1 - volts], volts));
                }
            }
            let span = rows.last().map_or(0.0, |l| l.0) - rows.first().map_or(0.0, |f| f.0);
            values.dedup_by(|a, b| (*a - *b).abs() <= 1e-9 * span.abs());
            return Ok(Taken { stimulus, values, beyond: None });
        }
        // The end of the curve that comes nearest.
        let mut nearest: Option<(usize, f64)> = None;
        for (at, (_, y)) in rows.iter().enumerate() {
            let off = (y - volts).abs();
            if nearest.is_none_or(|(_, best)| off < best) {
                nearest = Some((at, off));
            }
        }
        let at = nearest.map_or(0, |(at, _)| at);
        let beyond = if at == 0 {
            Beyond::Lowest
        } else if at + 1 == rows.len() {
            Beyond::Highest
        } else {
            Beyond::Bend
        };
        values.extend(rows.get(at).map(|row| row.0));
        Ok(Taken { stimulus, values, beyond: Some(beyond) })
    }

    /// The value within a stretch that gives a reading: false position, with the end that stays halved (the Illinois
    /// method; M. Dowell, P. Jarratt, "A modified regula falsi method for computing the root of an equation", BIT 11
    /// (1971)).
    fn root(&self, input: Input, stimulus: StimulusId, mut x: [f64; 2], mut y: [f64; 2], volts: f64) -> f64 {
        let mut side = None;
        for _ in 0..STEPS {
            if y[0] == 0.0 {
                return x[0];
            }
            if y[1] == 0.0 {
                return x[1];
            }
            let middle = (x[0] * y[1] - x[1] * y[0]) / (y[1] - y[0]);
            if (x[1] - x[0]).abs() <= 1e-9 * (x[0].abs() + x[1].abs()) {
                return middle;
            }
            let Some(off) = self.reads(&self.at(stimulus.index(), middle), input).map(|v| v - volts) else {
                return middle;
            };
            if off.abs() <= 1e-9 * volts.abs() {
                return middle;
            }
            let replaced = usize::from(off * y[0] < 0.0);
            (x[replaced], y[replaced]) = (middle, off);
            if side == Some(replaced) {
                y[1 - replaced] /= 2.0;
            }
            side = Some(replaced);
        }
        f64::midpoint(x[0], x[1])
    }
}

fn ends(rows: &[(f64, f64)]) -> (f64, f64) {
    rows.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), row| (low.min(row.1), high.max(row.1)))
}

/// The state on ideal wiring: what the module's maker had in mind.
fn ideal(circuit: &Circuit, state: &State) -> State {
    let mut state = state.clone();
    state.changes.clear();
    state.options.keep_fuses = true;
    state.duty.fill(1.0);
    for (index, control) in circuit.controls.iter().enumerate() {
        if matches!(control.kind, ControlKind::Return(..))
            && let Some(position) = state.positions.get_mut(index)
        {
            *position = 1;
        }
    }
    for (index, element) in circuit.elements.iter().enumerate() {
        use ElementKind::*;
        let wiring =
            matches!(element.kind, Wire | Terminal | Inline | Tie | Fuse(_) | Ground | Contact | Return);
        if wiring && matches!(element.law, Law::Resistance(_)) {
            state.changes.push(Change::Replace(ElementId::from(index), Law::Joint));
        }
    }
    state
}
