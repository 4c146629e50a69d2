//! All the states that matter to something, and truth tables over them.

use crate::{Cancel, Cancelled, Solution, State};
use keyon_circuit::{ids::*, model::Circuit};
use smol_str::SmolStr;

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
    /// One state of the set, solved: unnamed controls rest.
    pub solution: std::sync::Arc<Solution>,
}

/// A truth table.
#[derive(Clone, Debug, Default)]
#[allow(missing_docs)]
pub struct Table {
    /// Independent groups, never multiplied.
    pub groups: Vec<TableGroup>,
}

/// Devices that depend on the same controls.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct TableGroup {
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
    pub points: Vec<(crate::NodeState, Option<f64>)>,
    #[allow(missing_docs)]
    pub solution: std::sync::Arc<Solution>,
}

/// The cases of one device's state, its currents and its points.
///
/// # Errors
/// When `cancel` asks for it.
pub fn cases_of_device(
    circuit: &Circuit,
    base: &State,
    device: DeviceId,
    cancel: &dyn Cancel,
) -> Result<Cases, Cancelled> {
    let _ = (circuit, base, device, cancel);
    unimplemented!()
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
    let _ = (circuit, base, point, cancel);
    unimplemented!()
}

/// The cases of one element's current.
///
/// # Errors
/// When `cancel` asks for it.
pub fn cases_of_element(
    circuit: &Circuit,
    base: &State,
    element: ElementId,
    cancel: &dyn Cancel,
) -> Result<Cases, Cancelled> {
    let _ = (circuit, base, element, cancel);
    unimplemented!()
}

/// The truth table of these devices and points (of all loads where both are empty); controls that `base` holds and
/// `only` does not list keep their position (`only` empty: all vary).
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
    let _ = (circuit, base, devices, points, only, cancel);
    unimplemented!()
}
