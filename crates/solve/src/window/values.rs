//! The values of a circuit that have a band, and a state in which they stand somewhere in it.

use super::Bands;
use crate::State;
use keyon_circuit::{
    ids::*,
    model::{Change, Circuit, Curve, ElementKind, Law, Owner, Rated},
    value::Num,
};

/// A value with a band.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Value {
    /// Of an element's law: which of its figures. A track is one value for both its parts.
    Figure(ElementId, Option<ElementId>, usize),
    /// Of a supply: index, lowest, highest.
    Supply(usize, f64, f64),
}

impl Value {
    /// Whether it stands in two elements at once: then a reading may turn within its band.
    pub(super) fn is_twin(self) -> bool {
        matches!(self, Self::Figure(_, Some(_), _))
    }
}

/// Where a value stands: a share of its band, 0 at the low end and 1 at the high one; `None` as stated.
pub(super) type Share = Option<f64>;

/// All values with a band.
pub(super) fn values(circuit: &Circuit, state: &State, bands: Bands) -> Vec<Value> {
    let mut values = Vec::new();
    if bands.tolerances {
        for (index, element) in circuit.elements.iter().enumerate() {
            let id = ElementId::from(index);
            // What is stuck has no law of its own any more.
            if state.changes.iter().any(|c| matches!(c, Change::Stuck(e, _) if *e == id)) {
                continue;
            }
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
    for (index, supply) in circuit.supplies.iter().enumerate() {
        // One that was set to something else stands where it was set.
        if state.supplies.get(index) != Some(&supply.volts.nominal) {
            continue;
        }
        let range = supply.range.filter(|_| bands.ranges);
        let tolerance = (supply.volts.low, supply.volts.high);
        if let Some((low, high)) = range.or(bands.tolerances.then_some(tolerance)).filter(|(l, h)| l < h) {
            values.push(Value::Supply(index, low, high));
        }
    }
    values
}

/// The state with the values standing so.
pub(super) fn placed(circuit: &Circuit, base: &State, values: &[Value], shares: &[Share]) -> State {
    let mut state = base.clone();
    let mut laws: Vec<(ElementId, Law)> = Vec::new();
    for (value, share) in values.iter().zip(shares).filter_map(|(v, s)| Some((*v, (*s)?))) {
        match value {
            Value::Supply(index, low, high) => {
                if let Some(volts) = state.supplies.get_mut(index) {
                    *volts = between(low, high, share);
                }
            }
            Value::Figure(element, twin, figure) => {
                for element in std::iter::once(element).chain(twin) {
                    set(circuit, base, &mut laws, element, figure, share);
                }
            }
        }
    }
    // A drift acts on the law that it finds: on the new one too.
    let again = |change: &&Change| match change {
        Change::Drift(element, _) => laws.iter().any(|(of, _)| of == element),
        _ => false,
    };
    let drifts: Vec<Change> = base.changes.iter().filter(again).cloned().collect();
    state.changes.extend(laws.into_iter().map(|(element, law)| Change::Replace(element, law)));
    state.changes.extend(drifts);
    state
}

/// Exact at both ends.
#[allow(clippy::float_cmp)] // the ends are given as just these numbers
fn between(low: f64, high: f64, share: f64) -> f64 {
    if share == 1.0 { high } else { low + (high - low) * share }
}

fn set(
    circuit: &Circuit,
    state: &State,
    laws: &mut Vec<(ElementId, Law)>,
    element: ElementId,
    figure: usize,
    share: f64,
) {
    if !laws.iter().any(|(of, _)| *of == element)
        && let Some(law) = law_of(circuit, state, element)
    {
        laws.push((element, law.clone()));
    }
    if let Some((_, law)) = laws.iter_mut().find(|(of, _)| *of == element)
        && let Some(num) = figures(law).into_iter().nth(figure)
    {
        num.nominal = between(num.low, num.high, share);
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

/// The figures of a law that bear on volts and amps, thresholds included: they decide what a contact does.
fn figures(law: &mut Law) -> Vec<&mut Num> {
    fn rated(rated: &mut Option<Rated>) -> Option<&mut Num> {
        match rated {
            Some(Rated::Volts(num) | Rated::Amps(num)) => Some(num),
            None => None,
        }
    }
    match law {
        Law::Joint | Law::Variable { .. } | Law::Transducer { .. } => Vec::new(),
        Law::Resistance(ohms) => vec![ohms],
        Law::Rated { watts, volts, cold } => [watts, volts].into_iter().chain(cold).collect(),
        Law::Coil { ohms, pulls_in, drops_out, rated: by } => {
            std::iter::once(ohms).chain(pulls_in).chain(drops_out).chain(rated(by)).collect()
        }
        Law::Winding { ohms, runs, rated: by, turns_at } => {
            std::iter::once(ohms).chain(runs).chain(rated(by)).chain(turns_at).collect()
        }
        Law::Thermistor { curve: Curve::Beta { r0, beta, .. }, .. } => vec![r0, beta],
        Law::Thermistor { .. } => Vec::new(),
        Law::Track { ohms, .. } => vec![ohms],
        Law::Diode { drop } => vec![drop],
        Law::Source { volts, inner, limit, .. } => [volts, inner].into_iter().chain(limit).collect(),
    }
}
