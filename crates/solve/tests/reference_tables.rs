//! Published tables of conductors, fuses and relays, each row taken through a circuit written as text.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod common;

use common::{
    csv::{CsvRow, number, rows},
    device, element, point, read,
};
use keyon_circuit::model::Circuit;
use keyon_solve::{Solution, State, solve};

fn solved(name: &str, text: &str, settings: &[String]) -> (Circuit, Solution) {
    let elaboration = read(name, text);
    let mut state = State::rest(&elaboration.circuit);
    for setting in settings {
        state = state.with(&elaboration.parse_setting(setting).unwrap());
    }
    let solution = solve(&elaboration.circuit, &state);
    (elaboration.circuit, solution)
}

fn volts(circuit: &Circuit, solution: &Solution, name: &str) -> f64 {
    solution.unloaded[point(circuit, name).index()].unwrap()
}

/// Ohms of a kilometre of wire, from what it drops and carries in front of a load.
fn ohms_per_km(gauge: &str) -> f64 {
    let text = format!(
        "circuit wire\nsupply battery 12 V\nground G1\nsplice S1\nwire 1 battery -> S1 {gauge} 1000 m\n\
         resistor R1 S1 -> G1 10 ohm\n"
    );
    let (c, s) = solved(gauge, &text, &[]);
    let amps = s.amps[element(&c, "1").index()].known().unwrap();
    (volts(&c, &s, "battery") - volts(&c, &s, "S1")) / amps
}

/// IEC 60228, class 5, plain copper.
#[test]
fn metric_conductors() {
    let all = rows("conductors.csv");
    assert!(all.len() >= 9);
    for row in &all {
        assert_eq!(row["unit"], "ohm/km");
        let (got, expected) = (ohms_per_km(&format!("{} mm2", row["size"])), number(row, "value"));
        assert!((got - expected).abs() < 1e-9 * expected, "{}: {got} instead of {expected}", row["id"]);
    }
}

/// ASTM B258 and IEC 60028: the formula's figures, and the areas that a book prints.
#[test]
fn awg_conductors() {
    let mut seen = 0;
    for row in rows("copper.csv").iter().filter(|r| r["id"].ends_with("-r20")) {
        let (got, expected) = (ohms_per_km(&format!("AWG {}", row["size"])), number(row, "value"));
        assert!((got - expected).abs() < 1e-4 * expected, "{}: {got} instead of {expected}", row["id"]);
        seen += 1;
    }
    assert!(seen >= 20, "{seen} rows");
    // From circular mils: 1 cmil is pi/4 of a square mil; copper by IEC 60028.
    let ohms = |cmil: f64| 0.017_241 / (cmil * std::f64::consts::FRAC_PI_4 * 0.0254 * 0.0254) * 1000.0;
    let printed: Vec<CsvRow> = rows("awg_printed.csv");
    let areas: Vec<&CsvRow> = printed.iter().filter(|r| r["unit"] == "cmil").collect();
    assert!(areas.len() >= 20);
    for row in areas {
        let size = match row["size"].as_str() {
            "0" | "1/0" => "1/0".to_owned(),
            "-1" => "2/0".to_owned(),
            "-2" => "3/0".to_owned(),
            "-3" => "4/0".to_owned(),
            size => size.to_owned(),
        };
        let (got, expected) = (ohms_per_km(&format!("AWG {size}")), ohms(number(row, "value")));
        // Four digits are printed.
        assert!((got - expected).abs() < 1e-3 * expected, "{}: {got} instead of {expected}", row["id"]);
    }
}

/// A drop as a person works it out, against the published figure.
#[test]
fn the_drop_over_a_run_of_wire() {
    let all = rows("copper.csv");
    let row = all.iter().find(|r| r["id"] == "drop-10A-2m-1.5").unwrap();
    // 2 m out, 2 m back, 10 A through a load of (12 - 0.532) / 10 ohm.
    let text = "circuit drop\nsupply battery 12 V\nground G1\nsplice S1\nsplice S2\nwire 1 battery -> S1 1.5 mm2 2 m\n\
                wire 2 S2 -> G1 1.5 mm2 2 m\nresistor R1 S1 -> S2 1.1468 ohm\n";
    let (c, s) = solved("drop", text, &[]);
    let amps = s.amps[element(&c, "1").index()].known().unwrap();
    let drop = volts(&c, &s, "battery") - volts(&c, &s, "S1") + volts(&c, &s, "S2");
    assert!((amps - 10.0).abs() < 1e-9 && (drop - number(row, "value")).abs() < 1e-9, "{amps} {drop}");
}

/// Every standard rating carries its rated current, and opens at the multiples at which the published tables have it open
/// within a minute at the latest. At 1.35 times the tables have it open within half an hour: our steady state lets it
/// just stand there, and opens it above.
#[test]
fn fuses_hold_and_open() {
    let all = rows("fuses.csv");
    let opens: Vec<f64> = all
        .iter()
        .filter(|r| r["group"] == "time_current_maxi" && !r["max"].is_empty() && number(r, "max") <= 60.0)
        .map(|r| r["condition"].split(' ').next().unwrap().parse().unwrap())
        .collect();
    assert_eq!(opens, [2.0, 3.5]);
    let longest = all.iter().find(|r| r["id"] == "maxi-100").unwrap();
    assert!(number(longest, "min") >= 100.0 * 3600.0, "at its rating it holds a hundred hours");
    let ratings: Vec<f64> =
        all.iter().filter(|r| r["group"].starts_with("rating_")).map(|r| number(r, "max")).collect();
    assert!(ratings.len() >= 25);
    let most = number(all.iter().find(|r| r["id"] == "iso8820-3-max").unwrap(), "max");
    for amps in ratings {
        assert!(amps <= most);
        for (times, holds) in
            [(1.0, true), (1.349, true), (1.351, false)].into_iter().chain(opens.iter().map(|&t| (t, false)))
        {
            let text = format!(
                "circuit fuse\nsupply battery 12 V\nground G1\nsplice S1\nfuse F1 battery -> S1 {amps} A\n\
                 resistor R1 S1 -> G1 {} ohm\n",
                12.0 / (times * amps)
            );
            let (c, s) = solved("fuse", &text, &[]);
            let blown: Vec<Option<f64>> = s.blown.iter().map(|b| b.1).collect();
            assert_eq!(blown.is_empty(), holds, "{amps} A at {times} times: {blown:?}");
            if !holds {
                assert!((blown[0].unwrap() - times * amps).abs() < 1e-6 * amps);
                assert_eq!(volts(&c, &s, "S1"), 0.0);
            }
        }
    }
}

/// Relays by their data sheets: at the voltage at which one must have pulled in it has, below the one at which it must
/// have dropped out it rests for good, between the two it would hold.
#[test]
fn relays_pull_in_and_drop_out() {
    let all = rows("relays.csv");
    let of = |stem: &str, end: &str| all.iter().find(|r| r["id"] == format!("{stem}-{end}"));
    let stems: Vec<String> =
        all.iter().filter_map(|r| r["id"].strip_suffix("-r").map(str::to_owned)).collect();
    assert_eq!(stems.len(), 5);
    for stem in stems {
        let ohms = number(of(&stem, "r").unwrap(), "typical");
        let operates = number(of(&stem, "op").unwrap(), "max");
        // One of them states no release voltage: a tenth of the nominal one (the usual of the others).
        let releases = of(&stem, "rel").map_or(1.2, |r| number(r, "min"));
        let text = format!(
            "circuit relay\nsupply battery 12 V\nground G1\ndevice K1 {{\n  pins 30, 85, 86, 87\n  \
             coil K 86 -> 85 {ohms} ohm pulls_in {} A drops_out {} A\n  contact 30 -> 87 closed when K energised\n}}\n\
             wire 1 battery -> K1.86\nwire 2 K1.85 -> G1\nwire 3 battery -> K1.30\nresistor R1 K1.87 -> G1 100 ohm\n",
            operates / ohms,
            releases / ohms
        );
        for (volts, state, holds) in [
            (12.0, "operates", false),
            (operates, "operates", false),
            (operates - 0.01, "weak", true),
            (releases + 0.01, "", true),
            (releases - 0.01, "", false),
        ] {
            let (c, s) = solved(&stem, &text, &[format!("battery={volts:.6} V")]);
            let k1 = &s.devices[device(&c, "K1").index()];
            assert!(state.is_empty() || k1.state.words() == state, "{stem} at {volts}: {}", k1.state.words());
            assert_eq!(k1.holds, holds, "{stem} at {volts} V");
            let load = s.amps[element(&c, "K1.30_87").index()].known().unwrap();
            assert_eq!(load > 0.0, state == "operates", "{stem} at {volts} V: {load}");
        }
    }
}
