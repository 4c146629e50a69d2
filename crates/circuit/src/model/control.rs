//! The inputs of a circuit: controls and stimuli, and what sets them.

use crate::{ids::*, model::*};
use keyon_syntax::unit::{Dimension, Unit};
use smol_str::SmolStr;

/// An input of every truth table.
#[derive(Clone, Debug)]
pub struct Control {
    /// As shown and as keys of JSON: bare where that is unique, else `SCU.left_cmd`.
    pub name: SmolStr,
    /// Always qualified, `SCU.left_cmd`; a device's is its name.
    pub qualified: SmolStr,
    #[allow(missing_docs)]
    pub title: Option<String>,
    #[allow(missing_docs)]
    pub kind: ControlKind,
    /// At least two, at most 64; the first is the rest position.
    pub positions: Vec<SmolStr>,
    /// Pulse frequency in hertz: then it takes a duty.
    pub pwm: Option<f64>,
    #[allow(missing_docs)]
    pub loc: Loc,
}

/// Who moves a control.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum ControlKind {
    /// A person (or the machine): a device with positions.
    Device(DeviceId),
    /// The module: a single stage, low, high, half or switches.
    Stage(ModuleId, usize, usize),
    /// The module: a gang (index into `gangs`).
    Gang(ModuleId, usize),
    /// The module: a switched return.
    Return(ModuleId, usize, usize),
    /// A `control` item.
    Free,
}

/// Something continuous that a sensor follows.
#[derive(Clone, Debug)]
pub struct Stimulus {
    /// The device's name, or `device.element` where a device has several.
    pub name: SmolStr,
    #[allow(missing_docs)]
    pub kind: StimulusKind,
    /// In the kind's unit: degrees Celsius, 0 … 1, pascals, ohms.
    pub nominal: f64,
    /// Lowest and highest.
    pub span: (f64, f64),
    /// The span is stated, by `span` or by what the sensor is `over`; else it is what is usual (decision 5).
    pub stated: bool,
    /// The unit in which its span is written, where that need not be the kind's own: bar, psi.
    pub unit: Option<Unit>,
    #[allow(missing_docs)]
    pub element: ElementId,
    #[allow(missing_docs)]
    pub loc: Loc,
}

impl Stimulus {
    /// A value as the author would write it: the number and the unit's spelling; `None` where the kind has one unit.
    pub fn written(&self, value: f64) -> Option<(f64, &'static str)> {
        let unit = self.unit?;
        Some(((value - unit.offset()) / unit.factor(), unit.spelling()))
    }
}

/// What a stimulus is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum StimulusKind {
    /// Degrees Celsius.
    Temperature,
    /// 0 … 1 of the mechanical travel.
    Travel,
    /// Whatever a transducer is `over`, in SI.
    Over(Dimension),
    /// Ohms.
    Resistance,
}

/// What a scenario, a row or a command line sets; later entries win.
#[derive(Clone, Debug, Default)]
pub struct Settings {
    /// Control, position, and duty 0 … 1 where one was given.
    pub controls: Vec<(ControlId, usize, Option<f64>)>,
    /// In the stimulus's own unit.
    pub stimuli: Vec<(StimulusId, f64)>,
    /// A supply's volts (index into `supplies`).
    pub supplies: Vec<(usize, f64)>,
    /// What a person does to the circuit.
    pub changes: Vec<Change>,
}

/// A departure from the circuit as drawn: a set-up or a fault.
#[derive(Clone, Debug)]
pub enum Change {
    /// The element does not conduct: unplugged, pulled, broken.
    Open(ElementId),
    /// A new element between two points: a jumper, a short ([`Law::Joint`]), a test load.
    Add {
        #[allow(missing_docs)]
        from: PointId,
        #[allow(missing_docs)]
        to: PointId,
        #[allow(missing_docs)]
        law: Law,
    },
    /// The element behaves otherwise (added resistance in a wire, a shorted coil).
    Replace(ElementId, Law),
    /// The element conducts always (`true`) or never, whatever its control says: a stuck stage or contact.
    Stuck(ElementId, bool),
    /// A sensor reads off: its resistance or output times this factor.
    Drift(ElementId, f64),
}
