//! Truth tables.
//!
//! Rows are joined where they say the same words; where points are shown, where these have the same node state and the
//! same volts to the millivolt. The first column counts fastest.

use crate::{
    Cancel, Cancelled, DeviceState, NodeState, Solution, State,
    cases::{Case, Cases, DEFAULT_LIMIT, Survey, query::Query},
};
use keyon_circuit::{ids::*, model::Circuit};
use smol_str::SmolStr;
use std::sync::Arc;

/// A truth table.
#[derive(Clone, Debug, Default)]
#[allow(missing_docs)]
pub struct Table {
    /// Independent groups, never multiplied; in the order in which their devices and points were asked for.
    pub groups: Vec<TableGroup>,
}

/// Devices that depend on the same controls.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct TableGroup {
    /// In the circuit's order.
    pub controls: Vec<ControlId>,
    pub devices: Vec<DeviceId>,
    /// Points asked for by name.
    pub points: Vec<PointId>,
    pub rows: Vec<TableRow>,
    /// See [`Cases::cut`].
    pub cut: Option<u128>,
}

/// A row.
#[derive(Clone, Debug)]
pub struct TableRow {
    /// One a control: its position, or `None` (a dash) where it does not matter in this row.
    pub when: Vec<Option<usize>>,
    /// One a device: the words (`operates`, a grade's name …).
    pub devices: Vec<SmolStr>,
    /// One a point: node state and volts in the solved state.
    pub points: Vec<(NodeState, Option<f64>)>,
    #[allow(missing_docs)]
    pub solution: Arc<Solution>,
}

/// What a device does, as a table says it: the grade's name, or the state word; with the duty where it is pulsed.
pub fn device_words(state: &DeviceState) -> SmolStr {
    let words = state.grade.clone().unwrap_or_else(|| state.state.words().into());
    let pulsed = state.duty > 0.0 && state.duty < 1.0;
    if pulsed && (state.grade.is_some() || state.state != crate::ElementState::Rests) {
        smol_str::format_smolstr!("{words} at {} %", (state.duty * 1e3).round() / 10.0)
    } else {
        words
    }
}

/// The truth table of these devices and points (of all loads where both are empty); controls that `base` holds and
/// `only` does not list keep their position (`only` empty: all vary). At most [`DEFAULT_LIMIT`] rows a group.
///
/// # Errors
/// When `cancel` asks for it.
pub fn table(
    circuit: &Circuit,
    base: &State,
    devices: &[DeviceId],
    points: &[PointId],
    only: &[ControlId],
    cancel: &dyn Cancel,
) -> Result<Table, Cancelled> {
    Survey::new(circuit, base).table(devices, points, only, DEFAULT_LIMIT, cancel)
}

impl Survey<'_> {
    /// See [`table()`]; at most `limit` states are solved and `limit` rows made for a group.
    ///
    /// # Errors
    /// When `cancel` asks for it.
    pub fn table(
        &self,
        devices: &[DeviceId],
        points: &[PointId],
        only: &[ControlId],
        limit: usize,
        cancel: &dyn Cancel,
    ) -> Result<Table, Cancelled> {
        let open = self.open(only);
        let all: Vec<DeviceId>;
        let devices = if devices.is_empty() && points.is_empty() {
            all = self.loads();
            &all
        } else {
            devices
        };
        // Each by itself first: on which controls it depends.
        let mut groups: Vec<(Vec<ControlId>, Query)> = Vec::new();
        let one = |query: Query, groups: &mut Vec<(Vec<ControlId>, Query)>| {
            let controls = self.cases(&query, open.clone(), limit, cancel)?.controls;
            match groups.iter_mut().find(|(c, _)| *c == controls) {
                Some((_, group)) => {
                    group.devices.extend(query.devices);
                    group.points.extend(query.points);
                }
                None => groups.push((controls, query)),
            }
            Ok(())
        };
        for &device in devices {
            one(Query { devices: vec![device], volts: true, ..Query::default() }, &mut groups)?;
        }
        for &point in points {
            one(Query { points: vec![point], volts: true, ..Query::default() }, &mut groups)?;
        }
        let groups = groups.into_iter().map(|(_, query)| {
            let cases = self.cases(&query, open.clone(), limit, cancel)?;
            Ok(rows(&open, query, cases, limit))
        });
        Ok(Table { groups: groups.collect::<Result<_, _>>()? })
    }

    /// Devices with something in them that a current makes do something.
    fn loads(&self) -> Vec<DeviceId> {
        let circuit = self.circuit;
        let loads = |d: &&keyon_circuit::model::Device| {
            d.elements.iter().any(|e| circuit.elements.get(e.index()).is_some_and(|e| e.kind.is_load()))
        };
        circuit.devices.iter().enumerate().filter(|(_, d)| loads(d)).map(|(i, _)| i.into()).collect()
    }
}

fn rows(open: &[u64], query: Query, cases: Cases, limit: usize) -> TableGroup {
    let Cases { controls, cases, mut cut } = cases;
    let mut rows = Vec::new();
    for case in cases {
        for when in expand(open, &controls, &case) {
            if rows.len() < limit {
                rows.push(row(&query, when, &case.solution));
            } else {
                cut = Some(cut.unwrap_or(0).saturating_add(1));
            }
        }
    }
    // A dash stands where its first position would.
    let order = |row: &TableRow| row.when.iter().rev().map(|w| w.unwrap_or(0)).collect::<Vec<_>>();
    rows.sort_by_cached_key(order);
    TableGroup { controls, devices: query.devices, points: query.points, rows, cut }
}

fn row(query: &Query, when: Vec<Option<usize>>, solution: &Arc<Solution>) -> TableRow {
    let words = |d: &DeviceId| solution.devices.get(d.index()).map_or_else(SmolStr::default, device_words);
    let point = |p: &PointId| {
        let state = solution.node_states.get(p.index()).copied().unwrap_or(NodeState::Open);
        (state, solution.volts.get(p.index()).copied().flatten())
    };
    TableRow {
        when,
        devices: query.devices.iter().map(words).collect(),
        points: query.points.iter().map(point).collect(),
        solution: solution.clone(),
    }
}

/// A case as rows: a dash for all positions, else a row a position. Made one by one, for a product may be large.
fn expand<'a>(
    open: &'a [u64],
    controls: &'a [ControlId],
    case: &'a Case,
) -> impl Iterator<Item = Vec<Option<usize>>> + 'a {
    let choices: Vec<Vec<Option<usize>>> = controls
        .iter()
        .zip(&case.when)
        .map(|(c, &mask)| {
            if mask == open[c.index()] {
                vec![None]
            } else {
                (0..64).filter(|p| mask >> p & 1 == 1).map(Some).collect()
            }
        })
        .collect();
    let mut at = Some(vec![0usize; choices.len()]);
    std::iter::from_fn(move || {
        let now = at.clone()?;
        let row = now.iter().zip(&choices).map(|(&i, c)| c.get(i).copied().flatten()).collect();
        let mut next = now;
        let turned = next.iter_mut().zip(&choices).any(|(i, c)| {
            *i = (*i + 1) % c.len().max(1);
            *i != 0
        });
        at = turned.then_some(next);
        Some(row)
    })
}
