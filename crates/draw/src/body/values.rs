//! What an element is worth, as it is printed beside its symbol.

use keyon_circuit::{
    model::{Curve, Law},
    value::Num,
};

/// Ratings as they are printed: `10 A`.
pub(crate) fn with_unit(value: Num, unit: &str) -> String {
    let text = format!("{:.3}", value.nominal);
    format!("{} {unit}", text.trim_end_matches('0').trim_end_matches('.'))
}

/// Ohms as they are printed.
pub(crate) fn ohms(value: f64) -> String {
    let (scale, unit) = match value.abs() {
        o if o >= 1e6 => (1e6, "MΩ"),
        o if o >= 1e3 => (1e3, "kΩ"),
        o if o < 1.0 && o > 0.0 => (1e-3, "mΩ"),
        _ => (1.0, "Ω"),
    };
    let text = format!("{:.2}", value / scale);
    format!("{} {unit}", text.trim_end_matches('0').trim_end_matches('.'))
}

/// Ohms, watts, or the range of what can be set; nothing where there is no one figure.
pub(crate) fn worth(law: &Law) -> String {
    match law {
        Law::Resistance(o)
        | Law::Coil { ohms: o, .. }
        | Law::Winding { ohms: o, .. }
        | Law::Track { ohms: o, .. } => ohms(o.nominal),
        Law::Rated { watts, .. } => with_unit(*watts, "W"),
        Law::Variable { low, high, .. } => range(*low, *high),
        Law::Thermistor { curve, .. } => {
            // The temperature that its data sheet goes by, else room temperature.
            let celsius = if let Curve::Beta { t0, .. } = curve { *t0 } else { 25.0 };
            curve.ohms(celsius).map_or_else(String::new, |o| format!("{} at {celsius} °C", ohms(o)))
        }
        _ => String::new(),
    }
}

/// `0 … 10 kΩ`: a unit that both have stands once.
fn range(low: f64, high: f64) -> String {
    let (from, to) = (ohms(low), ohms(high));
    let unit = |text: &str| text.rsplit_once(' ').map(|(figure, unit)| (figure.to_owned(), unit.to_owned()));
    match (unit(&from), unit(&to)) {
        (Some((figure, one)), Some((_, other))) if one == other || low == 0.0 => format!("{figure} … {to}"),
        _ => format!("{from} … {to}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_say_their_unit_once() {
        assert_eq!(range(0.0, 10_000.0), "0 … 10 kΩ");
        assert_eq!(range(10.0, 180.0), "10 … 180 Ω");
        assert_eq!(range(330.0, 2200.0), "330 Ω … 2.2 kΩ");
    }
}
