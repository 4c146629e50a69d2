//! The unit that a swept quantity is shown in: one for the whole span.

use crate::figure;
use keyon_circuit::model::{Circuit, StimulusKind};
use keyon_solve::sweep::Axis;
use keyon_syntax::unit::Dimension;

/// A unit, and how a value becomes a number of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Unit {
    factor: f64,
    /// As the language spells it: `degC`, `kPa`.
    pub(crate) spelling: &'static str,
    /// As a drawing shows it: `°C`.
    pub(crate) sign: &'static str,
    /// What is measured: `temperature`.
    pub(crate) what: &'static str,
}

impl Unit {
    /// The unit of an axis; `most` is the largest value that is shown.
    pub(crate) fn of(circuit: &Circuit, axis: Axis, most: f64) -> Self {
        let unit = |factor, spelling, sign, what| Self { factor, spelling, sign, what };
        let ohms = || match most.abs() {
            m if m >= 1e6 => unit(1e-6, "Mohm", "MΩ", "resistance"),
            m if m >= 1e4 => unit(1e-3, "kohm", "kΩ", "resistance"),
            _ => unit(1.0, "ohm", "Ω", "resistance"),
        };
        let volts = unit(1.0, "V", "V", "voltage");
        let Axis::Stimulus(id) = axis else { return volts };
        let Some(stimulus) = circuit.stimuli.get(id.index()) else { return volts };
        let usual = match stimulus.kind {
            StimulusKind::Temperature | StimulusKind::Over(Dimension::Temperature) => {
                unit(1.0, "degC", "°C", "temperature")
            }
            StimulusKind::Travel => unit(100.0, "%", "%", "travel"),
            StimulusKind::Resistance | StimulusKind::Over(Dimension::Resistance) => ohms(),
            StimulusKind::Over(Dimension::Pressure) => unit(1e-3, "kPa", "kPa", "pressure"),
            StimulusKind::Over(Dimension::Ratio) => unit(100.0, "%", "%", "share"),
            StimulusKind::Over(Dimension::Current) => unit(1.0, "A", "A", "current"),
            StimulusKind::Over(Dimension::Voltage) => volts,
            StimulusKind::Over(Dimension::Power) => unit(1.0, "W", "W", "power"),
            StimulusKind::Over(Dimension::Length) => unit(1.0, "m", "m", "distance"),
            StimulusKind::Over(Dimension::Frequency) => unit(1.0, "Hz", "Hz", "frequency"),
            StimulusKind::Over(Dimension::Area) => unit(1.0, "mm2", "mm²", "area"),
        };
        // As the author writes it: bar, psi.
        match stimulus.unit.filter(|unit| unit.offset() == 0.0 && unit.spelling() != usual.spelling) {
            Some(own) => unit(1.0 / own.factor(), own.spelling(), own.spelling(), usual.what),
            None => usual,
        }
    }

    /// The number of units.
    pub(crate) fn number(self, value: f64) -> f64 {
        // A share in percent is divided by a power of ten that is not exact.
        let inverse = 1.0 / self.factor;
        let exact = self.factor < 1.0 && (inverse - inverse.round()).abs() < 1e-9 * inverse;
        if exact { value / inverse.round() } else { value * self.factor }
    }

    /// The number with five significant digits at the most, without the unit.
    pub(crate) fn text(self, value: f64) -> String {
        figure::short(self.number(value), 5)
    }
}
