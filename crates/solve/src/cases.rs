//! All the states that matter to something.
//!
//! A question (a device, a point, an element) is answered by a decision tree over the controls: what may influence it
//! is walked from its points up to the nets that are surely fed, grounded or referenced; a control that is met on the
//! way is decided, the nearest to a supply first, and the walk begins anew. Where nothing open is met, one state is
//! solved. Cases of equal outcome are then joined, so that controls that do not matter disappear. Controls that are
//! independent of one another are never multiplied: each question meets its own only.
//!
//! **What counts as the same outcome.** [`cases_of_device`]: the device's state (the grade's name, if it has one), the
//! state of each of its loads, whether each of its elements conducts, and the node states of its pins. [`cases_of`]:
//! the node states of the points, whether the elements conduct, and the states of those that are loads.
//! [`cases_of_point`]: node state, and volts to the millivolt. [`cases_of_element`]: whether it conducts, its state, and
//! its amps to nine digits.
//!
//! **What separates.** Decision 29: a fed, grounded or referenced net separates, whatever its wires' resistance and
//! whatever its fuse carries. So volts and amps of a case are those of its solved state, in which everything that does
//! not matter stands where the base has it; and a fuse that others would blow counts as whole.

mod arrivals;
mod below;
mod cone;
mod explore;
mod facts;
mod frame;
mod kept;
mod lifted;
mod merge;
pub(crate) mod query;
mod settled;
mod worst;

pub use explore::Survey;
pub(crate) use facts::all_positions;
pub use kept::Memory;
pub use worst::{Worst, worst_base, worst_current};

use crate::{Cancel, Cancelled, Solution, State};
use facts::Masks;
use keyon_circuit::{ids::*, model::Circuit};
use query::Query;

/// Solved states that one question may cost before its answer is cut.
pub const DEFAULT_LIMIT: usize = 4096;

/// Every case that matters to what was asked, each solved once.
#[derive(Clone, Debug)]
pub struct Cases {
    /// The controls that matter, in the circuit's order.
    pub controls: Vec<ControlId>,
    /// Disjoint; together they cover every combination of `controls`, unless `cut` says otherwise.
    pub cases: Vec<Case>,
    /// There were more than the limit: how many combinations are not covered.
    pub cut: Option<u128>,
}

/// A set of states that differ only in controls that do not matter.
#[derive(Clone, Debug)]
pub struct Case {
    /// Which positions each of `Cases::controls` may stand in: a bit each.
    pub when: Vec<u64>,
    /// One state of the set, solved: the one nearest the base.
    pub solution: std::sync::Arc<Solution>,
}

impl<'c> Survey<'c> {
    /// See [`cases_of`].
    ///
    /// # Errors
    /// When `cancel` asks for it.
    pub fn cases_of(
        &self,
        points: &[PointId],
        elements: &[ElementId],
        limit: usize,
        cancel: &dyn Cancel,
    ) -> Result<Cases, Cancelled> {
        let query = Query { points: points.to_vec(), elements: elements.to_vec(), ..Query::default() };
        self.cases(&query, self.open(&[]), limit, cancel)
    }

    /// See [`cases_of_device`].
    ///
    /// # Errors
    /// When `cancel` asks for it.
    pub fn cases_of_device(
        &self,
        device: DeviceId,
        limit: usize,
        cancel: &dyn Cancel,
    ) -> Result<Cases, Cancelled> {
        let Some(d) = self.circuit.devices.get(device.index()) else {
            return Ok(Cases { controls: Vec::new(), cases: Vec::new(), cut: None });
        };
        let query = Query {
            devices: vec![device],
            points: d.pins.iter().map(|p| p.outside).collect(),
            elements: d.elements.clone(),
            ..Query::default()
        };
        self.cases(&query, self.open(&[]), limit, cancel)
    }

    /// See [`cases_of_point`].
    ///
    /// # Errors
    /// When `cancel` asks for it.
    pub fn cases_of_point(
        &self,
        point: PointId,
        limit: usize,
        cancel: &dyn Cancel,
    ) -> Result<Cases, Cancelled> {
        let query = Query { points: vec![point], volts: true, ..Query::default() };
        self.cases(&query, self.open(&[]), limit, cancel)
    }

    /// See [`cases_of_element`].
    ///
    /// # Errors
    /// When `cancel` asks for it.
    pub fn cases_of_element(
        &self,
        element: ElementId,
        limit: usize,
        cancel: &dyn Cancel,
    ) -> Result<Cases, Cancelled> {
        let query = Query { elements: vec![element], currents: vec![element], ..Query::default() };
        let survey = self.unmerged();
        survey.cases(&query, survey.open(&[]), limit, cancel)
    }

    /// Tree, then reduction, then the columns that are left.
    pub(crate) fn cases(
        &self,
        query: &Query,
        masks: Masks,
        limit: usize,
        cancel: &dyn Cancel,
    ) -> Result<Cases, Cancelled> {
        let found = self.explore(query, masks.clone(), limit, cancel)?;
        let whole = found.left.is_empty();
        let leaves = merge::reduce(found.leaves, &masks, &found.controls, whole);
        let partial = |set: &Masks, c: &ControlId| set[c.index()] != masks[c.index()];
        let controls: Vec<ControlId> = found
            .controls
            .iter()
            .copied()
            .filter(|c| !whole || leaves.iter().any(|l| partial(&l.masks, c)))
            .collect();
        let pick = |set: &Masks| controls.iter().map(|c| set[c.index()]).collect::<Vec<u64>>();
        let combinations = |set: &Masks| {
            pick(set).iter().fold(1u128, |n, mask| n.saturating_mul(u128::from(mask.count_ones())))
        };
        let cut =
            (!whole).then(|| found.left.iter().fold(0, |n: u128, set| n.saturating_add(combinations(set))));
        let cases = leaves.into_iter().map(|l| Case { when: pick(&l.masks), solution: l.solution }).collect();
        Ok(Cases { controls, cases, cut })
    }
}

/// The cases of these points' node states and of whether these elements conduct (of loads: what they do). At most
/// `limit` states are solved for it.
///
/// # Errors
/// When `cancel` asks for it.
pub fn cases_of(
    circuit: &Circuit,
    base: &State,
    points: &[PointId],
    elements: &[ElementId],
    limit: usize,
    cancel: &dyn Cancel,
) -> Result<Cases, Cancelled> {
    Survey::new(circuit, base).cases_of(points, elements, limit, cancel)
}

/// The cases of one device's state, its elements and its pins.
///
/// # Errors
/// When `cancel` asks for it.
pub fn cases_of_device(
    circuit: &Circuit,
    base: &State,
    device: DeviceId,
    cancel: &dyn Cancel,
) -> Result<Cases, Cancelled> {
    Survey::new(circuit, base).cases_of_device(device, DEFAULT_LIMIT, cancel)
}

/// The cases of one point's node state and voltage.
///
/// # Errors
/// When `cancel` asks for it.
pub fn cases_of_point(
    circuit: &Circuit,
    base: &State,
    point: PointId,
    cancel: &dyn Cancel,
) -> Result<Cases, Cancelled> {
    Survey::new(circuit, base).cases_of_point(point, DEFAULT_LIMIT, cancel)
}

/// The cases of one element's current. Of a piece of wiring it is the sum over all that hangs below it, so there may be
/// very many: [`worst_current`] answers more cheaply what most rules want to know.
///
/// # Errors
/// When `cancel` asks for it.
pub fn cases_of_element(
    circuit: &Circuit,
    base: &State,
    element: ElementId,
    cancel: &dyn Cancel,
) -> Result<Cases, Cancelled> {
    Survey::new(circuit, base).cases_of_element(element, DEFAULT_LIMIT, cancel)
}
