//! Resistance of wires: IEC 60228 class 5 for areas in mm², ASTM B258 for AWG sizes.

/// Resistivity of annealed copper at 20 °C in ohm·m (IEC 60028).
pub const COPPER: f64 = 1.7241e-8;

/// Temperature coefficient of copper at 20 °C in 1/K (IEC 60028).
pub const COPPER_PER_KELVIN: f64 = 0.003_93;

/// Area in mm² and the most ohms a kilometre at 20 °C: plain copper, flexible (class 5), IEC 60228. The rows up to
/// 16 mm² are those of the reference data; the larger ones are the standard's too, but were not checked again.
const CLASS_5: [(f64, f64); 19] = [
    (0.5, 39.0),
    (0.75, 26.0),
    (1.0, 19.5),
    (1.5, 13.3),
    (2.5, 7.98),
    (4.0, 4.95),
    (6.0, 3.30),
    (10.0, 1.91),
    (16.0, 1.21),
    (25.0, 0.780),
    (35.0, 0.554),
    (50.0, 0.386),
    (70.0, 0.272),
    (95.0, 0.206),
    (120.0, 0.161),
    (150.0, 0.129),
    (185.0, 0.106),
    (240.0, 0.0801),
    (300.0, 0.0641),
];

/// Ohms a metre at 20 °C of a flexible conductor of this area (mm², above zero), by IEC 60228 class 5.
///
/// Between two rows of the table the product of area and ohms a kilometre (which all but stands still, so that the
/// curve between is a hyperbola and not a chord) goes linearly with the area; outside the table that of the end
/// row holds.
pub fn ohms_per_metre(area: f64) -> f64 {
    let product = |(a, r): (f64, f64)| a * r;
    let above = CLASS_5.partition_point(|row| row.0 < area);
    let k = match (above.checked_sub(1).and_then(|i| CLASS_5.get(i)), CLASS_5.get(above)) {
        (_, Some(&row)) if row.0 == area => return row.1 / 1000.0,
        (Some(&low), Some(&high)) => {
            product(low) + (product(high) - product(low)) * (area - low.0) / (high.0 - low.0)
        }
        (Some(&end), None) | (None, Some(&end)) => product(end),
        (None, None) => 19.5,
    };
    k / area / 1000.0
}

/// Area in mm² of an AWG size (2/0 is -1, 3/0 is -2): diameter 0.005 in · 92^((36 - n)/39), ASTM B258.
pub fn awg_area(size: i32) -> f64 {
    let diameter = 0.127 * 92f64.powf(f64::from(36 - size) / 39.0);
    std::f64::consts::FRAC_PI_4 * diameter * diameter
}

/// Ohms a metre at 20 °C of a solid copper conductor of an AWG size: [`COPPER`] over [`awg_area`].
pub fn awg_ohms_per_metre(size: i32) -> f64 {
    COPPER / (awg_area(size) * 1e-6)
}

/// What the resistance at 20 °C is multiplied by at another temperature (degrees Celsius), not below zero.
pub fn copper_factor(celsius: f64) -> f64 {
    (1.0 + COPPER_PER_KELVIN * (celsius - 20.0)).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rows of the reference data with their sources: class 5.
    const CLASS_5_ROWS: &str = include_str!("../../../tests/reference/conductors.csv");
    /// AWG sizes and copper.
    const COPPER_ROWS: &str = include_str!("../../../tests/reference/copper.csv");

    fn near(a: f64, b: f64, relative: f64) -> bool {
        (a - b).abs() <= relative * b.abs()
    }

    /// Fields of a line; quotes may hold commas.
    fn fields(line: &str) -> Vec<String> {
        let (mut all, mut field, mut quoted) = (Vec::new(), String::new(), false);
        for c in line.chars() {
            match c {
                '"' => quoted = !quoted,
                ',' if !quoted => all.push(std::mem::take(&mut field)),
                c => field.push(c),
            }
        }
        all.push(field);
        all
    }

    #[test]
    fn agrees_with_the_reference_rows() {
        let mut seen = 0;
        for line in CLASS_5_ROWS.lines().skip(1).chain(COPPER_ROWS.lines().skip(1)) {
            let row = fields(line);
            let value: f64 = row[5].parse().unwrap();
            let size: f64 = row[3].parse().unwrap_or(f64::NAN);
            let (ours, relative) = match row[0].as_str() {
                id if id.starts_with("iec60228-c5-plain") => (ohms_per_metre(size) * 1000.0, 1e-12),
                id if id.ends_with("-area") => (awg_area(size as i32), 1e-5),
                id if id.ends_with("-r20") => (awg_ohms_per_metre(size as i32) * 1000.0, 1e-4),
                id if id.ends_with("-dia-mm") => {
                    ((awg_area(size as i32) * 4.0 / std::f64::consts::PI).sqrt(), 1e-5)
                }
                "cu-rho20" => (COPPER * 1e6, 1e-12),
                "cu-alpha20" => (COPPER_PER_KELVIN, 1e-12),
                "drop-10A-2m-1.5" => (ohms_per_metre(1.5) * 4.0 * 10.0, 1e-12),
                "drop-10A-2m-1.5-80C" => (ohms_per_metre(1.5) * copper_factor(80.0) * 4.0 * 10.0, 1e-4),
                other => panic!("row {other} is not used"),
            };
            assert!(near(ours, value, relative), "{}: {ours} against {value}", row[0]);
            seen += 1;
        }
        assert!(seen > 40, "{seen} rows");
    }

    #[test]
    fn goes_smoothly_between_the_rows() {
        assert!(near(ohms_per_metre(2.0), 19.95 / 2000.0, 1e-12));
        let mut last = f64::INFINITY;
        for hundredth in 5..40_000 {
            let ohms = ohms_per_metre(f64::from(hundredth) / 100.0);
            assert!(ohms > 0.0 && ohms < last, "at {hundredth}");
            last = ohms;
        }
    }

    #[test]
    fn anchors_of_the_formula() {
        assert!(near(awg_area(36), std::f64::consts::FRAC_PI_4 * 0.127 * 0.127, 1e-12));
        // 4/0 is 0.46 in.
        assert!(near(awg_area(-3), std::f64::consts::FRAC_PI_4 * 11.684 * 11.684, 1e-6));
        // Wire 431 of the sprayer: 0.75 mm2, 2.4 m.
        assert!(near(ohms_per_metre(0.75) * 2.4, 0.0624, 1e-12));
    }
}
