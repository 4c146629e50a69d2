//! Units to SI, and how values are shown to people.

use crate::value::Num;
use keyon_syntax::{
    tree::Quantity,
    unit::{Dimension, Unit},
};

/// What a unit measures, its factor and its offset: SI value = number * factor + offset (temperatures in degrees
/// Celsius).
pub fn measure(unit: Unit) -> (Dimension, f64, f64) {
    (unit.dimension(), unit.factor(), unit.offset())
}

/// 0 °C in kelvin.
pub const ZERO_CELSIUS: f64 = 273.15;

/// The SI value of a quantity and its dimension; `None` without a unit.
pub fn si(quantity: &Quantity) -> Option<(f64, Dimension)> {
    let (dimension, factor, offset) = measure(quantity.unit?);
    // A power of ten is divided by, so that 120 mohm is the number nearest to 0.12.
    let value = match 1.0 / factor {
        inverse if factor < 1.0 && offset == 0.0 && (inverse.round() - inverse).abs() < 1e-9 => {
            quantity.number / inverse.round()
        }
        _ if quantity.unit == Some(Unit::Fahrenheit) => (quantity.number - 32.0) * 5.0 / 9.0,
        _ => quantity.number * factor + offset,
    };
    Some((value, dimension))
}

/// A dimension as a person says it: "a voltage".
pub fn words(dimension: Dimension) -> &'static str {
    match dimension {
        Dimension::Resistance => "a resistance",
        Dimension::Current => "a current",
        Dimension::Voltage => "a voltage",
        Dimension::Power => "a power",
        Dimension::Length => "a length",
        Dimension::Temperature => "a temperature",
        Dimension::Ratio => "a ratio",
        Dimension::Frequency => "a frequency",
        Dimension::Pressure => "a pressure",
        Dimension::Area => "an area",
    }
}

/// The dimension of a name of `grammar.ebnf`: the nine that a part's parameter can have.
pub fn dimension_named(name: &str) -> Option<Dimension> {
    DIMENSIONS.iter().find(|(n, _)| *n == name).map(|&(_, d)| d)
}

/// The nine dimension names.
pub const DIMENSIONS: [(&str, Dimension); 9] = [
    ("resistance", Dimension::Resistance),
    ("current", Dimension::Current),
    ("voltage", Dimension::Voltage),
    ("power", Dimension::Power),
    ("length", Dimension::Length),
    ("temperature", Dimension::Temperature),
    ("ratio", Dimension::Ratio),
    ("frequency", Dimension::Frequency),
    ("pressure", Dimension::Pressure),
];

/// The plain unit of a dimension, as it is written.
pub fn base_unit(dimension: Dimension) -> &'static str {
    match dimension {
        Dimension::Resistance => "ohm",
        Dimension::Current => "A",
        Dimension::Voltage => "V",
        Dimension::Power => "W",
        Dimension::Length => "m",
        Dimension::Temperature => "degC",
        Dimension::Ratio => "%",
        Dimension::Frequency => "Hz",
        Dimension::Pressure => "Pa",
        Dimension::Area => "mm2",
    }
}

/// The number nearest to 1 … 999 and a unit that may be written in a file: `24 ohm`, `2.2 kohm`, `120 mohm`, `40 %`.
pub fn show(value: f64, dimension: Dimension) -> String {
    let steps: &[(f64, &str)] = match dimension {
        Dimension::Resistance => &[(1e6, "Mohm"), (1e3, "kohm"), (1.0, "ohm"), (1e-3, "mohm")],
        Dimension::Current => &[(1e3, "kA"), (1.0, "A"), (1e-3, "mA"), (1e-6, "uA")],
        Dimension::Voltage => &[(1e3, "kV"), (1.0, "V"), (1e-3, "mV"), (1e-6, "uV")],
        Dimension::Power => &[(1e3, "kW"), (1.0, "W"), (1e-3, "mW")],
        Dimension::Length => &[(1.0, "m"), (1e-3, "mm")],
        Dimension::Temperature => &[(1.0, "degC")],
        Dimension::Ratio => &[(1e-2, "%")],
        Dimension::Frequency => &[(1e3, "kHz"), (1.0, "Hz")],
        Dimension::Pressure => &[(1e6, "MPa"), (1e3, "kPa"), (1.0, "Pa")],
        Dimension::Area => &[(1.0, "mm2")],
    };
    let size = value.abs() * (1.0 + 1e-9);
    let plain = steps.iter().find(|(f, _)| *f == 1.0).or(steps.first()).copied().unwrap_or((1.0, ""));
    let (factor, unit) = match dimension {
        _ if size == 0.0 => plain,
        // 0.8 m, not 80 cm.
        Dimension::Length if size >= 0.1 => plain,
        _ => steps.iter().find(|(f, _)| size >= *f).or(steps.last()).copied().unwrap_or(plain),
    };
    format!("{} {unit}", number(value / factor))
}

/// A value in the unit that somebody wrote another one in: `145 psi`.
pub fn show_in(value: f64, unit: Unit) -> String {
    let (_, factor, offset) = measure(unit);
    format!("{} {}", number((value - offset) / factor), unit.spelling())
}

/// A number with at most six significant digits and no trailing zeros.
pub fn number(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return format!("{}", if value == 0.0 { 0.0 } else { value });
    }
    let digits = (5.0 - value.abs().log10().floor()).clamp(0.0, 12.0) as usize;
    let text = format!("{value:.digits$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

impl Num {
    /// As a person reads it: `24 ohm`, `24 ohm +- 5 %` shown as `24 ohm (22.8 ohm .. 25.2 ohm)`.
    pub fn show(&self, dimension: Dimension) -> String {
        let nominal = show(self.nominal, dimension);
        if self.low == self.nominal && self.high == self.nominal {
            return nominal;
        }
        format!("{nominal} ({} .. {})", show(self.low, dimension), show(self.high, dimension))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shows_values() {
        assert_eq!(show(0.12, Dimension::Resistance), "120 mohm");
        assert_eq!(show(2200.0, Dimension::Resistance), "2.2 kohm");
        assert_eq!(show(24e6, Dimension::Resistance), "24 Mohm");
        assert_eq!(show(-40.0, Dimension::Temperature), "-40 degC");
        assert_eq!(show(0.4, Dimension::Ratio), "40 %");
        assert_eq!(show(0.0, Dimension::Voltage), "0 V");
        assert_eq!(show(0.0624, Dimension::Resistance), "62.4 mohm");
        assert_eq!(show(1e6, Dimension::Resistance), "1 Mohm");
        assert_eq!(show_in(1e6, Unit::Bar), "10 bar");
        assert_eq!(show_in(1e6, Unit::Psi), "145.038 psi");
        assert_eq!(show_in(130.0, Unit::Fahrenheit), "266 degF");
        assert_eq!(show_in(0.4, Unit::Percent), "40 %");
    }

    #[test]
    fn converts_exactly() {
        let q = |number, unit| {
            si(&Quantity { number, unit: Some(unit), span: keyon_syntax::Span::default() }).unwrap().0
        };
        assert_eq!(q(120.0, Unit::Milliohm), 0.12);
        assert_eq!(q(35.0, Unit::Percent), 0.35);
        assert_eq!(q(77.0, Unit::Fahrenheit), 25.0);
        assert_eq!(q(298.15, Unit::Kelvin), 25.0);
        assert_eq!(q(10.0, Unit::Foot), 3.048);
        assert_eq!(q(1.0, Unit::Bar), 1e5);
    }
}
