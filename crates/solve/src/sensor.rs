//! What sensors make of what they sense.

use crate::State;
use keyon_circuit::{
    ids::StimulusId,
    model::{Curve, ElementKind, Law},
};

/// From degrees Celsius to kelvin.
const ZERO_CELSIUS: f64 = 273.15;

/// Ohms of a thermistor at a temperature in degrees Celsius.
///
/// Beta: R = R0 exp(B (1/T - 1/T0)) (IEC 60539-1). Steinhart-Hart: 1/T = a + b ln R + c (ln R)³, solved for ln R by
/// Cardano's formula (J. Steinhart, S. Hart, "Calibration curves for thermistors", Deep-Sea Research 15 (1968)). Tables:
/// ln R is linear in 1/T between the rows and goes on so beyond them. Below absolute zero it stays at its last value.
pub fn thermistor(curve: &Curve, celsius: f64) -> f64 {
    let kelvin = (celsius + ZERO_CELSIUS).max(1.0);
    match curve {
        Curve::Beta { r0, t0, beta } => {
            let reference = (t0 + ZERO_CELSIUS).max(1.0);
            r0.nominal * (beta.nominal * (1.0 / kelvin - 1.0 / reference)).exp()
        }
        Curve::Steinhart { a, b, c } => steinhart(*a, *b, *c, 1.0 / kelvin),
        Curve::Table(rows) => table(rows, kelvin),
    }
}

/// Solves c x³ + b x + a = `inverse` for x = ln R.
fn steinhart(a: f64, b: f64, c: f64, inverse: f64) -> f64 {
    let rest = a - inverse;
    if c == 0.0 {
        return (-rest / b).exp();
    }
    // x³ + p x + q = 0.
    let (p, q) = (b / c, rest / c);
    let inside = q * q / 4.0 + p * p * p / 27.0;
    let mut x = if inside >= 0.0 {
        let root = inside.sqrt();
        // Of the two cube roots the one without cancellation; the other follows from their product, -p/3.
        let large = if q > 0.0 { -q / 2.0 - root } else { -q / 2.0 + root }.cbrt();
        if large == 0.0 { 0.0 } else { large - p / (3.0 * large) }
    } else {
        // Three real roots: the one that goes over into -rest / b as c vanishes.
        let size = 2.0 * (-p / 3.0).sqrt();
        let angle = (3.0 * q / (p * size)).clamp(-1.0, 1.0).acos() / 3.0;
        let roots = [0.0, 1.0, 2.0].map(|k| size * (angle - k * std::f64::consts::TAU / 3.0).cos());
        let wanted = -rest / b;
        roots.into_iter().min_by(|x, y| (x - wanted).abs().total_cmp(&(y - wanted).abs())).unwrap_or(wanted)
    };
    // Newton's method takes the rounding off.
    for _ in 0..3 {
        let slope = 3.0 * c * x * x + b;
        if slope != 0.0 {
            x -= (c * x * x * x + b * x + rest) / slope;
        }
    }
    x.exp()
}

fn table(rows: &[(f64, f64)], kelvin: f64) -> f64 {
    let inverse = |row: &(f64, f64)| 1.0 / (row.0 + ZERO_CELSIUS).max(1.0);
    let above = rows.partition_point(|row| row.0 + ZERO_CELSIUS < kelvin).clamp(1, rows.len().max(2) - 1);
    match (rows.get(above - 1), rows.get(above)) {
        (Some(low), Some(high)) => {
            let (x0, x1) = (inverse(low), inverse(high));
            let (y0, y1) = (low.1.ln(), high.1.ln());
            if x0 == x1 {
                return low.1;
            }
            (y0 + (y1 - y0) * (1.0 / kelvin - x0) / (x1 - x0)).exp()
        }
        (Some(only), None) => only.1,
        _ => f64::INFINITY,
    }
}

/// Where the wiper stands, 0 at the return end to 1 at the reference end, for a mechanical travel of 0 … 1.
pub fn wiper(travel: (f64, f64), stimulus: f64) -> f64 {
    (travel.0 + (travel.1 - travel.0) * stimulus).clamp(0.0, 1.0)
}

/// Volts of a transducer's output over its return. Beyond its span it stays at the end of its range.
pub fn transducer(volts: (f64, f64), over: (f64, f64), stimulus: f64) -> f64 {
    if over.0 == over.1 {
        return volts.0;
    }
    let share = ((stimulus - over.0) / (over.1 - over.0)).clamp(0.0, 1.0);
    volts.0 + (volts.1 - volts.0) * share
}

/// Ohms of a law that depends on what is sensed; `None` for other laws.
pub(crate) fn sensed_ohms(law: &Law, kind: ElementKind, state: &State) -> Option<f64> {
    let at = |id: StimulusId| state.stimuli.get(id.index()).copied().unwrap_or(0.0);
    Some(match law {
        Law::Thermistor { curve, stimulus } => thermistor(curve, at(*stimulus)),
        Law::Track { ohms, travel, stimulus } => {
            let wiper = wiper(*travel, at(*stimulus));
            ohms.nominal * if kind == ElementKind::Track(true) { 1.0 - wiper } else { wiper }
        }
        Law::Variable { stimulus, .. } => at(*stimulus),
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use keyon_circuit::value::Num;

    #[test]
    fn beta_follows_its_formula() {
        let curve = Curve::Beta { r0: Num::exact(2500.0), t0: 25.0, beta: Num::exact(3500.0) };
        assert!((thermistor(&curve, 25.0) - 2500.0).abs() < 1e-9);
        let hot = 2500.0 * (3500.0f64 * (1.0 / 373.15 - 1.0 / 298.15)).exp();
        assert!((thermistor(&curve, 100.0) - hot).abs() < 1e-9);
    }

    #[test]
    fn steinhart_is_undone() {
        for (a, b, c) in [(1.129e-3, 2.341e-4, 8.775e-8), (1.4e-3, 2.37e-4, 9.9e-8), (1e-3, 2.5e-4, 0.0)] {
            for celsius in [-40.0, 0.0, 25.0, 80.0, 150.0] {
                let x = thermistor(&Curve::Steinhart { a, b, c }, celsius).ln();
                let back = 1.0 / (a + b * x + c * x * x * x) - ZERO_CELSIUS;
                assert!((back - celsius).abs() < 1e-9, "{celsius} {back}");
            }
        }
    }

    #[test]
    fn tables_hit_their_rows_and_bend_between() {
        let curve = Curve::Table(vec![(0.0, 9000.0), (25.0, 2500.0), (100.0, 200.0)]);
        for (celsius, ohms) in [(0.0, 9000.0), (25.0, 2500.0), (100.0, 200.0)] {
            assert!((thermistor(&curve, celsius) - ohms).abs() < 1e-9 * ohms);
        }
        let middle = thermistor(&curve, 12.0);
        assert!(middle < 9000.0 && middle > 2500.0);
        assert!(thermistor(&curve, -20.0) > 9000.0);
        assert_eq!(thermistor(&Curve::Table(vec![(20.0, 100.0)]), 50.0), 100.0);
        assert_eq!(thermistor(&Curve::Table(Vec::new()), 50.0), f64::INFINITY);
    }

    #[test]
    fn outputs_stay_in_range() {
        assert_eq!(transducer((0.5, 4.5), (0.0, 1e6), 0.5e6), 2.5);
        assert_eq!(transducer((0.5, 4.5), (0.0, 1e6), 2e6), 4.5);
        assert!((wiper((0.05, 0.95), 0.5) - 0.5).abs() < 1e-15);
    }
}
