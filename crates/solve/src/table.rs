//! Truth tables.
//!
//! Rows are joined where they say the same words; where points are shown, where these have the same node state and the
//! same volts to the millivolt. The first column counts fastest.
//!
//! What devices do is a function of the controls, worked out for all states at once where potentials decide it (`lanes`):
//! then no state is solved for it, and it holds whatever everything else does. The rest is found by solving a state for
//! each case that differs (`cases`), with everything else as the base has it (decision 29).

mod by_cases;
mod by_function;
mod joint;
mod shared;

use crate::{
    Cancel, Cancelled, DeviceState, NodeState, State,
    cases::{DEFAULT_LIMIT, Survey},
};
use by_function::Functions;
use joint::Joint;
use keyon_circuit::{ids::*, model::Circuit};
use smol_str::SmolStr;

/// A truth table.
#[derive(Clone, Debug, Default)]
#[allow(missing_docs)]
pub struct Table {
    /// Independent groups, never multiplied; in the order in which their devices and points were asked for.
    pub groups: Vec<TableGroup>,
    /// Fuses that several groups together blow, where these have too many states to be shown in one table: their rows take
    /// the fuse as whole.
    pub overloads: Vec<Overload>,
}

/// A fuse that carries too much.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Overload {
    pub fuse: ElementId,
    /// The most that would flow through it, in amps; `None` where nothing limits it.
    pub amps: Option<f64>,
    /// Positions of all controls in which it does.
    pub positions: Vec<u8>,
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
    /// No table of fewer rows says the same: a bound from below, equal to the number of rows where these are the fewest;
    /// 0 where it was not looked for.
    pub least: usize,
    /// How far what it says of devices goes.
    pub basis: Basis,
    /// There were more rows than the limit: how many combinations are not covered.
    pub cut: Option<u128>,
    /// Of a group that is cut, for each device: its words, and in how many combinations it does that, as far as known.
    pub counts: Vec<Vec<(SmolStr, u128)>>,
}

/// How far a table goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basis {
    /// Proved for every state of everything else.
    Proved,
    /// Computed with everything else as the base has it: beyond a net that one potential always holds (decision 29).
    Separate,
}

/// A row.
#[derive(Clone, Debug)]
pub struct TableRow {
    /// One a control: its position, or `None` (a dash) where it does not matter in this row.
    pub when: Vec<Option<usize>>,
    /// One a device: the words (`operates`, a grade's name …).
    pub devices: Vec<SmolStr>,
    /// One a point: node state and volts in the state of `positions`.
    pub points: Vec<(NodeState, Option<f64>)>,
    /// Positions of all controls in one state of the row: the one nearest the base.
    pub positions: Vec<u8>,
    /// Fuses before what the group shows that blow in this row.
    pub blown: Vec<ElementId>,
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
        let plan = crate::plan::Plan::new(self.circuit, &self.base);
        let mut functions = Functions::new(self, &plan, &open, devices);
        // Each by itself first: on which controls it depends.
        let mut groups: Vec<Joint> = Vec::new();
        for &device in devices {
            let joint = match functions.device(device, cancel)? {
                Some(function) if !function.doubtful() => Joint::of_function(device, function),
                function => by_cases::device(self, device, function, &open, limit, cancel)?,
            };
            joint.enter(&mut groups);
        }
        for &point in points {
            by_cases::point(self, point, &open, limit, cancel)?.enter(&mut groups);
        }
        let (groups, overloads) = shared::join(self, groups, &open, cancel)?;
        let groups = groups.into_iter().map(|group| group.table(self, &open, limit, cancel));
        Ok(Table { groups: groups.collect::<Result<_, _>>()?, overloads })
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
