//! Quantities in a `keyon.toml`: written as in a circuit, in quotes.

use keyon_syntax::unit::{Dimension, Unit, nearest_unit};

/// The SI value of `50 mA`, `3 %`, `105 degC` (degrees Celsius).
///
/// # Errors
/// What is wrong, for a person.
pub(super) fn read(text: &str, dimension: Dimension) -> Result<f64, String> {
    let text = text.trim();
    let (number, unit) = text.split_at(number_length(text));
    let unit = unit.trim();
    let Some(number) = number.parse::<f64>().ok().filter(|n| n.is_finite()) else {
        return Err(format!("`{text}` is no quantity: write {}", dimension.words()));
    };
    let Some(known) = Unit::from_spelling(unit) else {
        return Err(match (unit, nearest_unit(unit)) {
            ("", _) => format!("`{text}` has no unit: write {}", dimension.words()),
            (_, Some(near)) => format!("there is no unit `{unit}`: did you mean `{near}`?"),
            (_, None) => format!("there is no unit `{unit}`: write {}", dimension.words()),
        });
    };
    if known.dimension() != dimension {
        return Err(format!("`{text}` is not what belongs here: write {}", dimension.words()));
    }
    Ok(number * known.factor() + known.offset())
}

/// The area in mm² of `0.75 mm2` or `AWG 18`.
///
/// # Errors
/// What is wrong, for a person.
pub(super) fn read_area(text: &str) -> Result<f64, String> {
    let Some(size) = text.trim().strip_prefix("AWG") else { return read(text, Dimension::Area) };
    let size = size.trim();
    let number = match size.strip_suffix("/0") {
        Some(zeros) => zeros.parse::<i32>().ok().filter(|z| (1..=4).contains(z)).map(|z| 1 - z),
        None => size.parse::<i32>().ok().filter(|n| (0..=40).contains(n)),
    };
    number
        .map(keyon_circuit::conductors::awg_area)
        .ok_or_else(|| format!("there is no size `AWG {size}`: write `AWG 18` or `AWG 2/0`"))
}

/// Bytes of the number at the start of a text.
fn number_length(text: &str) -> usize {
    let bytes = text.as_bytes();
    let digits = |from: usize| bytes.iter().skip(from).take_while(|b| b.is_ascii_digit()).count();
    let mut at = usize::from(matches!(bytes.first(), Some(b'-' | b'+')));
    at += digits(at);
    if bytes.get(at) == Some(&b'.') {
        at += 1 + digits(at + 1);
    }
    if matches!(bytes.get(at), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(bytes.get(at + 1), Some(b'-' | b'+')));
        let exponent = digits(at + 1 + sign);
        if exponent > 0 {
            at += 1 + sign + exponent;
        }
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantities_are_read_as_in_a_circuit() {
        assert_eq!(read("50 mA", Dimension::Current), Ok(0.05));
        assert_eq!(read("3%", Dimension::Ratio), Ok(0.03));
        assert_eq!(read("-40 degC", Dimension::Temperature), Ok(-40.0));
        assert_eq!(read("1.5e-1 m", Dimension::Length), Ok(0.15));
        assert!((read_area("AWG 18").unwrap() - 0.823).abs() < 1e-3);
        assert_eq!(read_area("AWG 1/0").unwrap(), keyon_circuit::conductors::awg_area(0));
        assert_eq!(read_area("0.75 mm2"), Ok(0.75));
    }

    #[test]
    fn what_is_none_is_said() {
        let said = |text, dimension| read(text, dimension).unwrap_err();
        assert!(said("50", Dimension::Current).contains("has no unit"));
        assert!(said("50 ma", Dimension::Current).contains("did you mean `mA`?"));
        assert!(said("50 mV", Dimension::Current).contains("a current such as `10 A`"));
        assert!(said("much", Dimension::Current).contains("is no quantity"));
        assert!(said("", Dimension::Current).contains("is no quantity"));
        assert!(read_area("AWG x").unwrap_err().contains("AWG 18"));
    }
}
