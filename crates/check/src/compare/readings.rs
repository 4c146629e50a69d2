//! Readings in the states that a file names: volts at points, amps through fuses, what devices do.

use keyon_circuit::{
    ids::*,
    model::{Change, Circuit, PointKind},
};
use keyon_solve::{Amps, NodeState, Solution, State, device_words, solve};
use smol_str::{SmolStr, format_smolstr};
use std::collections::{BTreeMap, BTreeSet};

/// Below this a volt or an amp is the same: what is left of a computation done in another order.
const SAME: f64 = 1e-6;

/// What is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum Reading {
    Point,
    Fuse,
    Device,
}

/// What it reads.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// Volts (`None` in a clash and where nothing settles) and the node's state.
    Volts(Option<f64>, NodeState),
    /// Amps; `None` is unlimited.
    Amps(Option<f64>),
    /// What a device does.
    Words(SmolStr),
}

/// A reading that changed; `None` where that version has no such thing.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs)]
pub struct ReadingChange {
    pub reading: Reading,
    /// `left_valve.2`, `F7`. Of several points of one net that changed alike, the first.
    pub name: SmolStr,
    pub old: Option<Value>,
    pub new: Option<Value>,
    /// The other points that changed alike.
    pub alike: Vec<SmolStr>,
}

/// A state that the file names.
pub(super) struct Named<'a> {
    pub(super) name: SmolStr,
    pub(super) exercise: bool,
    scenario: Option<ScenarioId>,
    changes: Vec<&'a Change>,
    /// Only these points are on its sheet; all where it is no exercise.
    points: BTreeSet<PointId>,
}

/// A reading and its place in the order of the file.
pub(super) struct Read {
    reading: Reading,
    name: SmolStr,
    net: Option<u32>,
    value: Value,
}

/// Every scenario, and every exercise with its first fault.
pub(super) fn states(circuit: &Circuit) -> Vec<Named<'_>> {
    let mut states: Vec<Named<'_>> = Vec::new();
    for (index, scenario) in circuit.scenarios.iter().enumerate() {
        states.push(Named {
            name: scenario.name.clone(),
            exercise: false,
            scenario: Some(index.into()),
            changes: Vec::new(),
            points: BTreeSet::new(),
        });
    }
    for exercise in &circuit.exercises {
        let Some(scenario) = exercise.scenario else { continue };
        let fault = exercise.faults.first().map_or(&[][..], |(changes, ..)| changes);
        let entities = exercise.asks.iter().flat_map(|ask| &ask.about);
        states.push(Named {
            name: format_smolstr!("exercise {}", exercise.name),
            exercise: true,
            scenario: Some(scenario),
            changes: exercise.changes.iter().chain(fault).collect(),
            points: entities.filter_map(|&entity| circuit.point_of(entity)).collect(),
        });
    }
    states
}

impl Named<'_> {
    /// Everything that can be read in it.
    pub(super) fn readings(&self, circuit: &Circuit) -> Vec<Read> {
        let mut state = match self.scenario {
            Some(scenario) => State::scenario(circuit, scenario),
            None => State::rest(circuit),
        };
        state.changes.extend(self.changes.iter().map(|change| (*change).clone()));
        let solution = solve(circuit, &state);
        let mut all = self.points(circuit, &solution);
        if !self.exercise {
            all.extend(fuses(circuit, &solution));
        }
        all.extend(devices(circuit, &solution));
        all
    }

    fn points(&self, circuit: &Circuit, solution: &Solution) -> Vec<Read> {
        let mut all = Vec::new();
        for (index, point) in circuit.points.iter().enumerate() {
            // What a probe can reach.
            let probed = matches!(
                point.kind,
                PointKind::Supply(_)
                    | PointKind::Ground(_)
                    | PointKind::Splice(_)
                    | PointKind::Pin(..)
                    | PointKind::Cavity(..)
                    | PointKind::InlineSide(..)
            );
            if !probed || (self.exercise && !self.points.contains(&index.into())) {
                continue;
            }
            let volts = solution.volts.get(index).copied().flatten();
            let state = solution.node_states.get(index).copied().unwrap_or(NodeState::Open);
            all.push(Read {
                reading: Reading::Point,
                name: point.name.clone(),
                net: solution.nets.get(index).copied(),
                value: Value::Volts(volts, state),
            });
        }
        all
    }
}

fn fuses(circuit: &Circuit, solution: &Solution) -> Vec<Read> {
    let one = |fuse: &keyon_circuit::model::Fuse| {
        let amps = solution.amps.get(fuse.element.index()).copied().unwrap_or(Amps::Known(0.0));
        let value = Value::Amps(amps.known());
        Read { reading: Reading::Fuse, name: fuse.name.clone(), net: None, value }
    };
    circuit.fuses.iter().map(one).collect()
}

fn devices(circuit: &Circuit, solution: &Solution) -> Vec<Read> {
    let loads = circuit.devices.iter().zip(&solution.devices).filter(|(_, state)| !state.elements.is_empty());
    loads
        .map(|(device, state)| Read {
            reading: Reading::Device,
            name: device.name.clone(),
            net: None,
            value: Value::Words(device_words(state)),
        })
        .collect()
}

/// What changed; points of one net that changed alike are one change.
pub(super) fn changes(old: Vec<Read>, new: Vec<Read>) -> Vec<ReadingChange> {
    let mut before: BTreeMap<(Reading, SmolStr), Read> =
        old.into_iter().map(|read| ((read.reading, read.name.clone()), read)).collect();
    let mut out: Vec<ReadingChange> = Vec::new();
    let mut by_net: BTreeMap<(u32, Option<u32>), Vec<usize>> = BTreeMap::new();
    for read in new {
        let known = before.remove(&(read.reading, read.name.clone()));
        if known.as_ref().is_some_and(|known| same(&known.value, &read.value)) {
            continue;
        }
        let net = read.net.map(|net| (net, known.as_ref().and_then(|known| known.net)));
        let change = ReadingChange {
            reading: read.reading,
            name: read.name,
            old: known.map(|known| known.value),
            new: Some(read.value),
            alike: Vec::new(),
        };
        let known = net.and_then(|net| {
            let list = by_net.get(&net)?;
            list.iter().copied().find(|&at| out.get(at).is_some_and(|o| alike(o, &change)))
        });
        if let Some(first) = known.and_then(|at| out.get_mut(at)) {
            first.alike.push(change.name);
            continue;
        }
        if let Some(net) = net {
            by_net.entry(net).or_default().push(out.len());
        }
        out.push(change);
    }
    out.extend(before.into_values().map(|read| ReadingChange {
        reading: read.reading,
        name: read.name,
        old: Some(read.value),
        new: None,
        alike: Vec::new(),
    }));
    out
}

fn same(a: &Value, b: &Value) -> bool {
    let close = |a: Option<f64>, b: Option<f64>| match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() <= SAME,
        (a, b) => a.is_none() && b.is_none(),
    };
    match (a, b) {
        (Value::Volts(a, x), Value::Volts(b, y)) => x == y && close(*a, *b),
        (Value::Amps(a), Value::Amps(b)) => close(*a, *b),
        (a, b) => a == b,
    }
}

/// Both changed from the same to the same.
fn alike(a: &ReadingChange, b: &ReadingChange) -> bool {
    let both = |a: &Option<Value>, b: &Option<Value>| match (a, b) {
        (Some(a), Some(b)) => same(a, b),
        (a, b) => a.is_none() && b.is_none(),
    };
    a.reading == b.reading && both(&a.old, &b.old) && both(&a.new, &b.new)
}
