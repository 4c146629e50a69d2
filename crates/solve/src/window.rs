//! Reading windows: the lowest and highest that tolerances allow.
//!
//! As long as the same things conduct, every reading is a quotient of two expressions that are linear in each single
//! value (a resistance, a conductance, a source's volts): alone, each value moves it one way only, and the extremes over
//! all bands lie at corners, where every value stands at one end of its band. Few values: all corners are solved. Many:
//! from the stated values one climbs from corner to corner until no single value improves it, which finds the extremes
//! where the direction of a value's influence does not depend on the others; where it did depend, corners drawn with a
//! fixed seed are looked at besides, and the window says so.

use crate::{Cancel, Cancelled, Solution, State, solve};
use keyon_circuit::{
    ids::*,
    model::{Change, Circuit, Curve, ElementKind, Law, Owner, Rated},
    value::Num,
};

/// Bands up to this number are searched corner by corner.
const ALL_CORNERS: usize = 7;
/// Corners drawn besides where climbing was not straight.
const DRAWN: usize = 48;
/// How often one climbs at the most.
const CLIMBS: usize = 4;

/// The lowest and highest readings that are possible.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    #[allow(missing_docs)]
    pub low: f64,
    #[allow(missing_docs)]
    pub high: f64,
    /// Not proved: found by sampling.
    pub sampled: bool,
}

/// What may vary.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bands {
    /// Values with a tolerance.
    pub tolerances: bool,
    /// Supplies over their `range`.
    pub ranges: bool,
}

/// What is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reading {
    /// Volts of a point, as the meter reads them.
    Volts(PointId),
    /// Volts of a module's input against its own ground: module, connector, cavity.
    Input(ModuleId, usize, usize),
    /// Amps of an element.
    Amps(ElementId),
}

/// A value with a band.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Value {
    /// Of an element's law: which of its figures. A track is one value for both its parts.
    Figure(ElementId, Option<ElementId>, usize),
    /// Of a supply: index, lowest, highest.
    Supply(usize, f64, f64),
}

/// The windows of several readings in one state; `None` where nothing can be read at some corner (a clash).
///
/// # Errors
/// When `cancel` asks for it.
pub fn windows(
    circuit: &Circuit,
    state: &State,
    readings: &[Reading],
    bands: Bands,
    cancel: &dyn Cancel,
) -> Result<Vec<Option<Window>>, Cancelled> {
    let values = values(circuit, state, bands);
    let bench = Bench { circuit, state, values, readings, cancel };
    if bench.values.len() <= ALL_CORNERS { bench.corners() } else { bench.climb() }
}

/// The window of one reading; see [`windows`].
pub fn window(circuit: &Circuit, state: &State, reading: Reading, bands: Bands) -> Option<Window> {
    let found = windows(circuit, state, &[reading], bands, &crate::Never);
    found.ok()?.into_iter().next().flatten()
}

struct Bench<'a> {
    circuit: &'a Circuit,
    state: &'a State,
    values: Vec<Value>,
    readings: &'a [Reading],
    cancel: &'a dyn Cancel,
}

/// Where a value stands in its band.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum End {
    Stated,
    Low,
    High,
}

impl End {
    fn of(high: bool) -> Self {
        if high { Self::High } else { Self::Low }
    }
}

impl Bench<'_> {
    /// All readings with the values standing so.
    fn read(&self, ends: &[End]) -> Result<Vec<Option<f64>>, Cancelled> {
        if self.cancel.cancelled() {
            return Err(Cancelled);
        }
        let mut state = self.state.clone();
        let mut laws: Vec<(ElementId, Law)> = Vec::new();
        for (value, end) in self.values.iter().zip(ends).filter(|(_, end)| **end != End::Stated) {
            match *value {
                Value::Supply(index, low, high) => {
                    if let Some(volts) = state.supplies.get_mut(index) {
                        *volts = if *end == End::Low { low } else { high };
                    }
                }
                Value::Figure(element, twin, figure) => {
                    for element in std::iter::once(element).chain(twin) {
                        self.set(&mut laws, element, figure, *end);
                    }
                }
            }
        }
        let again = |change: &&Change| match change {
            Change::Drift(element, _) => laws.iter().any(|(of, _)| of == element),
            _ => false,
        };
        let drifts: Vec<Change> = self.state.changes.iter().filter(again).cloned().collect();
        state.changes.extend(laws.into_iter().map(|(element, law)| Change::Replace(element, law)));
        state.changes.extend(drifts);
        let solution = solve(self.circuit, &state);
        Ok(self.readings.iter().map(|reading| self.figure(&solution, *reading)).collect())
    }

    fn set(&self, laws: &mut Vec<(ElementId, Law)>, element: ElementId, figure: usize, end: End) {
        if !laws.iter().any(|(of, _)| *of == element)
            && let Some(law) = law_of(self.circuit, self.state, element)
        {
            laws.push((element, law.clone()));
        }
        if let Some((_, law)) = laws.iter_mut().find(|(of, _)| *of == element)
            && let Some(num) = figures(law).into_iter().nth(figure)
        {
            num.nominal = if end == End::Low { num.low } else { num.high };
        }
    }

    fn figure(&self, solution: &Solution, reading: Reading) -> Option<f64> {
        match reading {
            Reading::Volts(point) => solution.volts.get(point.index()).copied().flatten(),
            Reading::Input(m, c, k) => solution.input_volts(self.circuit, m, c, k),
            Reading::Amps(element) => solution.amps.get(element.index())?.known(),
        }
    }

    /// Every corner, and the stated values.
    fn corners(&self) -> Result<Vec<Option<Window>>, Cancelled> {
        let count = self.values.len();
        let stated = self.read(&vec![End::Stated; count])?;
        let mut windows: Vec<Option<Window>> = stated.iter().map(|v| v.map(Window::at)).collect();
        if count == 0 {
            return Ok(windows);
        }
        for corner in 0..1usize << count {
            let ends: Vec<End> = (0..count).map(|bit| End::of(corner >> bit & 1 == 1)).collect();
            for (window, value) in windows.iter_mut().zip(self.read(&ends)?) {
                *window = window.zip(value).map(|(window, value)| window.with(value));
            }
        }
        Ok(windows)
    }

    /// From the stated values along the influence of each.
    fn climb(&self) -> Result<Vec<Option<Window>>, Cancelled> {
        let count = self.values.len();
        let stated = vec![End::Stated; count];
        let start = self.read(&stated)?;
        let mut windows: Vec<Option<Window>> = start.iter().map(|v| v.map(Window::at)).collect();
        // By value: the readings at its low and high end, the others as stated.
        let mut alone = Vec::with_capacity(count);
        for value in 0..count {
            let mut at = |end: End| {
                let mut ends = stated.clone();
                ends[value] = end;
                let read = self.read(&ends)?;
                widen(&mut windows, &read);
                Ok(read)
            };
            alone.push((at(End::Low)?, at(End::High)?));
        }
        let mut known: Vec<(Vec<End>, Vec<Option<f64>>)> = Vec::new();
        for reading in 0..self.readings.len() {
            for upwards in [false, true] {
                let wanted = |(low, high): &(Vec<Option<f64>>, Vec<Option<f64>>)| match (
                    low[reading],
                    high[reading],
                ) {
                    (Some(low), Some(high)) if low != high => End::of((high > low) == upwards),
                    _ => End::Stated,
                };
                let mut ends: Vec<End> = alone.iter().map(wanted).collect();
                for round in 0..CLIMBS {
                    let here = match known.iter().find(|(of, _)| *of == ends) {
                        Some((_, read)) => read.clone(),
                        None => {
                            let read = self.read(&ends)?;
                            known.push((ends.clone(), read.clone()));
                            widen(&mut windows, &read);
                            read
                        }
                    };
                    let Some(best) = here[reading] else { break };
                    let mut better = ends.clone();
                    for value in (0..count).filter(|&v| ends[v] != End::Stated) {
                        let mut turned = ends.clone();
                        turned[value] = End::of(ends[value] == End::Low);
                        let read = self.read(&turned)?;
                        widen(&mut windows, &read);
                        let slack = 1e-12 * (1.0 + best.abs());
                        if read[reading]
                            .is_some_and(|v| if upwards { v > best + slack } else { v < best - slack })
                        {
                            better[value] = turned[value];
                        }
                    }
                    if better == ends {
                        break;
                    }
                    ends = better;
                    // Influences that turn: no proof any more.
                    if let Some(window) = &mut windows[reading] {
                        window.sampled = true;
                    }
                    if round + 1 == CLIMBS {
                        let read = self.read(&ends)?;
                        widen(&mut windows, &read);
                    }
                }
            }
        }
        if windows.iter().flatten().any(|window| window.sampled) {
            let mut seed = 0x2545_f491_4f6c_dd1d_u64;
            for _ in 0..DRAWN {
                let ends: Vec<End> = (0..count)
                    .map(|_| {
                        // xorshift64 (G. Marsaglia, "Xorshift RNGs", Journal of Statistical Software 8 (2003)).
                        seed ^= seed << 13;
                        seed ^= seed >> 7;
                        seed ^= seed << 17;
                        End::of(seed >> 40 & 1 == 1)
                    })
                    .collect();
                let read = self.read(&ends)?;
                widen(&mut windows, &read);
            }
        }
        Ok(windows)
    }
}

fn widen(windows: &mut [Option<Window>], read: &[Option<f64>]) {
    for (window, value) in windows.iter_mut().zip(read) {
        *window = window.zip(*value).map(|(window, value)| window.with(value));
    }
}

impl Window {
    fn at(value: f64) -> Self {
        Self { low: value, high: value, sampled: false }
    }
    fn with(self, value: f64) -> Self {
        Self { low: self.low.min(value), high: self.high.max(value), ..self }
    }
}

/// The law of an element, the state's replacements counted in.
fn law_of<'a>(circuit: &'a Circuit, state: &'a State, element: ElementId) -> Option<&'a Law> {
    let replaced = state.changes.iter().rev().find_map(|change| match change {
        Change::Replace(e, law) if *e == element => Some(law),
        _ => None,
    });
    replaced.or_else(|| circuit.elements.get(element.index()).map(|e| &e.law))
}

/// All values with a band.
fn values(circuit: &Circuit, state: &State, bands: Bands) -> Vec<Value> {
    let mut values = Vec::new();
    if bands.tolerances {
        for (index, element) in circuit.elements.iter().enumerate() {
            let id = ElementId::from(index);
            let Some(mut law) = law_of(circuit, state, id).cloned() else { continue };
            let twin = match (element.kind, law.stimulus()) {
                (ElementKind::Track(false), Some(_)) if twin_of(circuit, index).is_some() => continue,
                (ElementKind::Track(true), Some(_)) => twin_of(circuit, index),
                _ => None,
            };
            // A supply's volts are the state's.
            let skipped = usize::from(matches!(element.owner, Owner::Supply(_)));
            for (figure, num) in figures(&mut law).into_iter().enumerate().skip(skipped) {
                if num.low < num.high {
                    values.push(Value::Figure(id, twin, figure));
                }
            }
        }
    }
    if bands.ranges {
        for (index, supply) in circuit.supplies.iter().enumerate() {
            if let Some((low, high)) = supply.range {
                values.push(Value::Supply(index, low, high));
            }
        }
    }
    values
}

/// The other part of a track.
fn twin_of(circuit: &Circuit, index: usize) -> Option<ElementId> {
    let (kind, stimulus) = circuit.elements.get(index).map(|e| (e.kind, e.law.stimulus()))?;
    let ElementKind::Track(upper) = kind else { return None };
    // Both are made together.
    let near = [index.checked_sub(1), Some(index + 1)].into_iter().flatten();
    near.filter(|&other| {
        circuit
            .elements
            .get(other)
            .is_some_and(|e| e.kind == ElementKind::Track(!upper) && e.law.stimulus() == stimulus)
    })
    .map(ElementId::from)
    .next()
}

/// The figures of a law that bear on volts and amps.
fn figures(law: &mut Law) -> Vec<&mut Num> {
    match law {
        Law::Joint | Law::Variable { .. } | Law::Transducer { .. } => Vec::new(),
        Law::Resistance(ohms) => vec![ohms],
        Law::Rated { watts, volts, cold } => {
            let mut all = vec![watts, volts];
            all.extend(cold);
            all
        }
        Law::Coil { ohms, .. } => vec![ohms],
        Law::Winding { ohms, runs, rated, .. } => {
            let mut all = vec![ohms];
            all.extend(runs);
            if let Some(Rated::Volts(volts) | Rated::Amps(volts)) = rated {
                all.push(volts);
            }
            all
        }
        Law::Thermistor { curve: Curve::Beta { r0, beta, .. }, .. } => vec![r0, beta],
        Law::Thermistor { .. } => Vec::new(),
        Law::Track { ohms, .. } => vec![ohms],
        Law::Diode { drop } => vec![drop],
        Law::Source { volts, inner, limit, .. } => {
            let mut all = vec![volts, inner];
            all.extend(limit);
            all
        }
    }
}
