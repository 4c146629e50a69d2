//! Numbers as people read them: three to four significant digits, fixed units, never a minus before a zero.

use keyon_circuit::model::{Stimulus, StimulusKind};
use keyon_syntax::unit::Dimension;

/// A number with this many decimals; a rounded zero has no sign.
pub fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| b == b'0' || b == b'.') => rest.to_owned(),
        _ => text,
    }
}

/// A number with about this many significant digits and at most `decimals` decimals, without trailing zeros.
fn significant(value: f64, digits: i32, decimals: i32) -> String {
    if value == 0.0 || !value.is_finite() {
        return fixed(value, 0);
    }
    let places = (digits - 1 - value.abs().log10().floor() as i32).clamp(0, decimals);
    let text = fixed(value, places as usize);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// A number with at most so many significant digits and six decimals, without trailing zeros and without an exponent.
pub fn short(value: f64, digits: i32) -> String {
    significant(value, digits, 6)
}

/// Volts without the unit, as a meter in its volts range would show them: `12.59`, `0.108`, `0.00`.
pub fn volts(volts: f64) -> String {
    let size = volts.abs();
    if size < 0.0005 {
        "0.00".to_owned()
    } else if size < 0.9995 {
        fixed(volts, 3)
    } else if size < 99.995 {
        fixed(volts, 2)
    } else {
        fixed(volts, 1)
    }
}

/// Amps without the unit: three significant digits down to a microamp; below half of one it is `0`.
pub fn amps(amps: f64) -> String {
    let size = amps.abs();
    if size < 0.5e-6 {
        return "0".to_owned();
    }
    let places = (2 - size.log10().floor() as i32).clamp(0, 6);
    // 0.99996 rounds up to another power of ten: one decimal fewer then.
    let text = fixed(amps, places as usize);
    let digits = text.bytes().skip_while(|b| !(b'1'..=b'9').contains(b)).filter(u8::is_ascii_digit).count();
    if digits > 3 && places > 0 { fixed(amps, places as usize - 1) } else { text }
}

/// Ohms with the unit that suits them: `120 mohm`, `24 ohm`, `2.2 kohm`.
pub fn ohms(ohms: f64) -> String {
    let size = ohms.abs();
    let (factor, unit) = if size == 0.0 || (1.0..1e3).contains(&size) {
        (1.0, "ohm")
    } else if size < 1.0 {
        (1e3, "mohm")
    } else if size < 1e6 {
        (1e-3, "kohm")
    } else {
        (1e-6, "Mohm")
    };
    format!("{} {unit}", significant(ohms * factor, 3, 3))
}

/// A share of one in percent: `40 %`.
pub fn percent(ratio: f64) -> String {
    format!("{} %", significant(ratio * 100.0, 3, 1))
}

/// A plain quantity in the unit that the trade writes it in, from its SI value.
pub fn quantity(value: f64, dimension: Dimension) -> String {
    match dimension {
        Dimension::Resistance => ohms(value),
        Dimension::Current => format!("{} A", amps(value)),
        Dimension::Voltage => format!("{} V", volts(value)),
        Dimension::Power => format!("{} W", significant(value, 3, 3)),
        Dimension::Length => format!("{} m", significant(value, 3, 3)),
        Dimension::Temperature => format!("{} degC", significant(value, 4, 1)),
        Dimension::Ratio => percent(value),
        Dimension::Frequency => format!("{} Hz", significant(value, 4, 2)),
        Dimension::Pressure => format!("{} kPa", significant(value / 1000.0, 4, 3)),
        Dimension::Area => format!("{} mm2", significant(value, 3, 3)),
    }
}

/// A stimulus's value with its unit: `25 degC`, `50 %`, `400 kPa`, `4.7 kohm`.
pub fn stimulus(value: f64, kind: StimulusKind) -> String {
    match kind {
        StimulusKind::Temperature => quantity(value, Dimension::Temperature),
        StimulusKind::Travel => percent(value),
        StimulusKind::Over(dimension) => quantity(value, dimension),
        StimulusKind::Resistance => ohms(value),
    }
}

/// The same in the unit that the author writes, where he has a choice: `4 bar`.
pub fn of_stimulus(value: f64, of: &Stimulus) -> String {
    match of.written(value) {
        Some((number, unit)) => format!("{} {unit}", significant(number, 4, 3)),
        None => stimulus(value, of.kind),
    }
}

/// The unit of a stimulus's number in JSON.
pub fn stimulus_unit(kind: StimulusKind) -> &'static str {
    match kind {
        StimulusKind::Temperature => "degC",
        StimulusKind::Travel => "ratio",
        StimulusKind::Resistance => "ohm",
        StimulusKind::Over(dimension) => match dimension {
            Dimension::Resistance => "ohm",
            Dimension::Current => "A",
            Dimension::Voltage => "V",
            Dimension::Power => "W",
            Dimension::Length => "m",
            Dimension::Temperature => "degC",
            Dimension::Ratio => "ratio",
            Dimension::Frequency => "Hz",
            Dimension::Pressure => "Pa",
            Dimension::Area => "mm2",
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn volts_read_as_a_meter_shows_them() {
        let all: Vec<String> = [12.592_2, 0.107_6, 0.0, -0.000_1, 0.999_6, 9.996, 114.26, -0.7, 5.0]
            .iter()
            .map(|&v| volts(v))
            .collect();
        assert_eq!(all, ["12.59", "0.108", "0.00", "0.00", "1.00", "10.00", "114.3", "-0.700", "5.00"]);
    }

    #[test]
    fn amps_keep_three_digits_down_to_a_microamp() {
        let all: Vec<String> =
            [0.518_86, 1.788, 12.44, 124.4, 0.000_514_3, 0.000_057_27, 1e-7, 0.0, -0.5, 0.999_96, 9.999]
                .iter()
                .map(|&a| amps(a))
                .collect();
        assert_eq!(
            all,
            ["0.519", "1.79", "12.4", "124", "0.000514", "0.000057", "0", "0", "-0.500", "1.00", "10.0"]
        );
    }

    #[test]
    fn ohms_take_the_unit_that_suits_them() {
        let all: Vec<String> =
            [0.12, 24.0, 2200.0, 5000.0, 1e6, 0.0, 0.015].iter().map(|&o| ohms(o)).collect();
        assert_eq!(all, ["120 mohm", "24 ohm", "2.2 kohm", "5 kohm", "1 Mohm", "0 ohm", "15 mohm"]);
    }

    #[test]
    fn stimuli_have_the_unit_that_is_written() {
        assert_eq!(stimulus(25.0, StimulusKind::Temperature), "25 degC");
        assert_eq!(stimulus(0.05, StimulusKind::Travel), "5 %");
        assert_eq!(stimulus(400_000.0, StimulusKind::Over(Dimension::Pressure)), "400 kPa");
        assert_eq!(stimulus(4700.0, StimulusKind::Resistance), "4.7 kohm");
    }
}
