//! Published curves of temperature sensors, each row read through a divider in a circuit written as text.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod common;

use common::{
    csv::{CsvRow, number, rows},
    read,
};
use keyon_circuit::{Elaboration, ids::ModuleId};
use keyon_solve::{State, solve};
use std::fmt::Write as _;

/// Ohms of the pull-up that reads a sensor: nothing else loads the divider, so that its ohms follow from its volts.
const PULL_UP: f64 = 1000.0;

/// A thermistor on the input of a module.
struct Bench {
    elaboration: Elaboration,
}

impl Bench {
    /// `curve` as the language writes it; the sensor may be swept from -60 to 220 degrees.
    fn new(name: &str, curve: &str) -> Self {
        let text = format!(
            "circuit sensor\nsupply battery 12 V\nground G1\nwire 1 battery -> M.A.1\nwire 2 M.A.2 -> G1\n\
             wire 3 M.A.3 -> T.1\nwire 4 T.2 -> M.A.4\nthermistor T {curve} span -60 .. 220 degC\nmodule M {{\n  \
             connector A {{\n    1 ub feed\n    2 gnd ground\n    3 t_in senses pull_up {PULL_UP} ohm to 5 V\n    \
             4 low return\n  }}\n}}\n"
        );
        Self { elaboration: read(name, &text) }
    }

    fn volts(&self, celsius: f64) -> f64 {
        let c = &self.elaboration.circuit;
        let state =
            State::rest(c).with(&self.elaboration.parse_setting(&format!("T={celsius} degC")).unwrap());
        solve(c, &state).input_volts(c, ModuleId(0), 0, 2).expect("the module is alive")
    }

    /// What the divider says that the sensor has.
    fn ohms(&self, celsius: f64) -> f64 {
        let volts = self.volts(celsius);
        PULL_UP * volts / (5.0 - volts)
    }

    /// The temperature at which it has so many ohms, for a sensor whose ohms fall.
    fn celsius(&self, ohms: f64) -> f64 {
        let (mut low, mut high) = (-60.0, 220.0);
        for _ in 0..60 {
            let middle = f64::midpoint(low, high);
            if self.ohms(middle) > ohms { low = middle } else { high = middle }
        }
        f64::midpoint(low, high)
    }
}

fn table(points: &[(f64, f64)]) -> String {
    let mut text = String::from("table {");
    for (celsius, ohms) in points {
        let _ = writeln!(text, "\n  {celsius} degC {ohms} ohm");
    }
    text + "}"
}

/// Rows of a kind by device, in the order of temperature.
fn curves(all: &[CsvRow], kind: &str) -> Vec<(String, Vec<(f64, f64)>)> {
    let mut found: Vec<(String, Vec<(f64, f64)>)> = Vec::new();
    for row in all.iter().filter(|r| r["kind"] == kind) {
        let point = (number(row, "temperature_c"), number(row, "value"));
        match found.iter_mut().find(|(name, _)| *name == row["device"]) {
            Some((_, points)) => points.push(point),
            None => found.push((row["device"].clone(), vec![point])),
        }
    }
    found.iter_mut().for_each(|(_, points)| points.sort_by(|a, b| a.0.total_cmp(&b.0)));
    found
}

/// Every row of every published table; and from every second row the others, to half a percent: ln R goes nearly
/// linearly with 1/T over ten degrees.
#[test]
fn thermistor_tables() {
    let all = rows("thermistors.csv");
    let mut found = curves(&all, "rt_table");
    // Curves given as R over R at 25 °C: for a part of 10 kilohm.
    found.extend(
        curves(&all, "rt_ratio_table")
            .into_iter()
            .map(|(name, points)| (name, points.into_iter().map(|(t, ratio)| (t, ratio * 1e4)).collect())),
    );
    let mut seen = 0;
    for (name, points) in found.iter().filter(|(name, points)| name != "Pt100" && points.len() > 5) {
        let bench = Bench::new(name, &table(points));
        let every_second: Vec<(f64, f64)> = points.iter().copied().step_by(2).collect();
        let sparse = Bench::new(name, &table(&every_second));
        for &(celsius, ohms) in points {
            let got = bench.ohms(celsius);
            assert!((got - ohms).abs() < 1e-9 * ohms, "{name} at {celsius}: {got} instead of {ohms}");
            if celsius <= every_second[every_second.len() - 1].0 {
                let got = sparse.ohms(celsius);
                assert!((got - ohms).abs() < 5e-3 * ohms, "{name} at {celsius}: {got} instead of {ohms}");
            }
            seen += 1;
        }
    }
    assert!(seen >= 190, "{seen} rows");
}

/// The beta law, and the beta of a part that a data sheet states against its own table.
#[test]
fn beta_models() {
    let all = rows("thermistors.csv");
    let mut seen = 0;
    for (name, points) in curves(&all, "beta_model_check") {
        let beta: f64 = name.split(' ').find_map(|w| w.parse().ok()).unwrap();
        let bench = Bench::new(&name, &format!("10 kohm at 25 degC beta {beta} K"));
        for (celsius, ohms) in points {
            let got = bench.ohms(celsius);
            assert!((got - ohms).abs() < 1e-7 * ohms, "{name} at {celsius}: {got} instead of {ohms}");
            seen += 1;
        }
    }
    assert_eq!(seen, 33);
    for (name, points) in curves(&all, "rt_ratio_table") {
        let row = all.iter().find(|r| r["kind"] == "beta_nominal" && r["device"] == name).unwrap();
        assert_eq!(row["condition"], "B25/100");
        let bench = Bench::new(&name, &format!("10 kohm at 25 degC beta {} K", row["value"]));
        let at_100 = points.iter().find(|p| p.0 == 100.0).unwrap().1;
        // The table prints five digits of the ratio.
        assert!((bench.ohms(100.0) / 1e4 - at_100).abs() < 5e-4 * at_100, "{name}");
    }
}

/// The three-term law through three published points of a part, at the others of its range. They come from the maker's
/// law of four terms: within a twentieth of a degree between -0 and 100 °C.
#[test]
fn steinhart_hart_points() {
    let all = rows("thermistors.csv");
    let points: Vec<(f64, f64)> = all
        .iter()
        .filter(|r| r["kind"] == "steinhart_hart_check")
        .map(|r| (number(r, "temperature_c"), number(r, "value")))
        .collect();
    assert_eq!(points.len(), 9);
    let through = [32560.0, 5000.0, 680.0].map(|ohms| *points.iter().find(|p| p.1 == ohms).unwrap());
    let [a, b, c] = coefficients(through);
    let bench = Bench::new("steinhart", &format!("steinhart {a:e} {b:e} {c:e}"));
    for &(celsius, ohms) in &points {
        let got = bench.celsius(ohms);
        let within = match celsius {
            t if (-1.0..=100.0).contains(&t) => 0.05,
            _ => 1.0,
        };
        assert!((got - celsius).abs() < within, "{ohms} ohm: {got} instead of {celsius}");
    }
    for (celsius, ohms) in through {
        assert!((bench.celsius(ohms) - celsius).abs() < 1e-6, "a point that the law goes through");
    }
}

/// The law 1/T = a + b ln R + c (ln R)^3 through three points, by divided differences.
fn coefficients(points: [(f64, f64); 3]) -> [f64; 3] {
    let y = points.map(|p| 1.0 / (p.0 + 273.15));
    let l = points.map(|p| p.1.ln());
    let first = (y[1] - y[0]) / (l[1] - l[0]);
    let second = (y[2] - y[0]) / (l[2] - l[0]);
    let c = (second - first) / (l[2] - l[1]) / (l[0] + l[1] + l[2]);
    let b = first - c * (l[0] * l[0] + l[0] * l[1] + l[1] * l[1]);
    [y[0] - (b + l[0] * l[0] * c) * l[0], b, c]
}

/// IEC 60751: the printed rows, and between them the standard's polynomial, to a twentieth of a degree.
#[test]
fn pt100_points() {
    let all = rows("thermistors.csv");
    let (_, points) = curves(&all, "rt_table").into_iter().find(|(name, _)| name == "Pt100").unwrap();
    assert_eq!(points.len(), 21);
    let bench = Bench::new("Pt100", &table(&points));
    for &(celsius, ohms) in &points {
        let got = bench.ohms(celsius);
        assert!((got - ohms).abs() < 1e-9 * ohms, "{celsius}: {got} instead of {ohms}");
    }
    let term = |name: &str| number(all.iter().find(|r| r["id"] == format!("pt100-{name}")).unwrap(), "value");
    let (a, b, c) = (term("A"), term("B"), term("C"));
    let formula = |t: f64| {
        let below = if t < 0.0 { c * (t - 100.0) * t.powi(3) } else { 0.0 };
        100.0 * (1.0 + a * t + b * t * t + below)
    };
    for tenth in -40..150 {
        let celsius = f64::from(tenth) + 0.5;
        let (got, expected) = (bench.ohms(celsius), formula(celsius));
        // 0.02 ohm are a twentieth of a degree; the rows themselves are printed to 0.01 ohm.
        assert!((got - expected).abs() < 0.02, "{celsius}: {got} instead of {expected}");
    }
}

/// A coolant sensor on 5 V through 1 kilohm: the published ranges of ohms and of volts.
#[test]
fn a_coolant_sensor_on_its_pull_up() {
    let all = rows("thermistors.csv");
    let of = |kind: &str| -> Vec<&CsvRow> {
        all.iter().filter(|r| r["kind"] == kind && r["id"].starts_with("ect-")).collect()
    };
    let (ohms, volts) = (of("sensor_range"), of("sensor_voltage"));
    assert_eq!((ohms.len(), volts.len()), (8, 8));
    let points: Vec<(f64, f64)> =
        ohms.iter().map(|r| (number(r, "temperature_c"), number(r, "value"))).collect();
    let bench = Bench::new("coolant", &table(&points));
    for (range, row) in ohms.iter().zip(volts) {
        let celsius = number(row, "temperature_c");
        assert_eq!(celsius, number(range, "temperature_c"));
        let got = bench.volts(celsius);
        // "20000 to 30000 ohm" on the divider.
        let ends: Vec<f64> = range["condition"].split(' ').filter_map(|w| w.parse().ok()).collect();
        let divided = |ohms: f64| 5.0 * ohms / (PULL_UP + ohms);
        assert!(got > divided(ends[0]) && got < divided(ends[1]), "{celsius}: {got}");
        // "Approximate" in print: a tenth of a volt.
        assert!((got - number(row, "value")).abs() <= 0.1, "{celsius}: {got} instead of {}", row["value"]);
    }
}
