//! Reading windows against brute force: every corner of all bands, and points within.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;
use keyon_circuit::{ids::*, model::*, value::Num};
use keyon_solve::{Bands, Method, Never, Reading, State, Window, solve, windows};
use proptest::prelude::*;
use support::{
    circuit,
    random::{Draft, Drawn, build, draft},
};

const TOLERANCES: Bands = Bands { tolerances: true, ranges: false };
const ALL: Bands = Bands { tolerances: true, ranges: true };

/// Wires, resistors, lamps, supplies, contacts, grounds; then also diodes, coils, windings that turn.
const LINEAR: &[u8] = &[0, 1, 2, 2, 3, 3, 4, 10, 14, 17, 17];
const SWITCHING: &[u8] = &[0, 1, 2, 2, 3, 4, 5, 6, 8, 9, 10, 11, 14, 17, 17];

/// A band around each figure of the first `most` elements that have one.
fn widen(circuit: &mut Circuit, most: usize) -> Vec<usize> {
    let mut banded = Vec::new();
    let band = |num: &mut Num, share: f64| {
        (num.low, num.high) = (num.nominal * (1.0 - share), num.nominal * (1.0 + share));
    };
    for (index, element) in circuit.elements.iter_mut().enumerate() {
        if banded.len() == most {
            break;
        }
        let share = [0.05, 0.1, 0.2, 0.5][index % 4];
        match &mut element.law {
            Law::Resistance(ohms) | Law::Coil { ohms, .. } | Law::Winding { ohms, .. } => band(ohms, share),
            Law::Rated { watts, .. } => band(watts, share),
            Law::Diode { drop } if drop.nominal > 0.0 => band(drop, share),
            _ => continue,
        }
        banded.push(index);
    }
    banded
}

/// The circuit with the banded figures at shares of their bands.
fn at(circuit: &Circuit, banded: &[usize], shares: &[f64]) -> Circuit {
    let mut placed = circuit.clone();
    for (&index, share) in banded.iter().zip(shares) {
        match &mut placed.elements[index].law {
            Law::Resistance(num)
            | Law::Coil { ohms: num, .. }
            | Law::Winding { ohms: num, .. }
            | Law::Rated { watts: num, .. }
            | Law::Diode { drop: num } => *num = Num::exact(num.low + (num.high - num.low) * share),
            _ => unreachable!(),
        }
    }
    placed
}

fn readings(circuit: &Circuit) -> Vec<Reading> {
    let points = (0..circuit.points.len()).map(|p| Reading::Volts(p.into()));
    points.chain((0..circuit.elements.len()).map(|e| Reading::Amps(e.into()))).collect()
}

fn read(circuit: &Circuit, state: &State, readings: &[Reading]) -> Vec<Option<f64>> {
    let solution = solve(circuit, state);
    let one = |reading: &Reading| match *reading {
        Reading::Volts(p) => solution.volts[p.index()],
        Reading::Amps(e) => solution.amps[e.index()].known(),
        Reading::Input(..) => None,
    };
    readings.iter().map(one).collect()
}

fn slack(value: f64) -> f64 {
    1e-9 * value.abs().max(1e-3)
}

fn holds(window: Window, value: f64) -> bool {
    value >= window.low - slack(window.low) && value <= window.high + slack(window.high)
}

/// Windows that claim to be exact hold every corner and every point within, and both their ends are met.
fn against_brute_force((points, drawn, positions, _): &Draft, most: usize) -> usize {
    let (mut circuit, state) = build(*points, drawn, positions, 1.0);
    let banded = widen(&mut circuit, most);
    let readings = readings(&circuit);
    let found = windows(&circuit, &state, &readings, TOLERANCES, &Never).unwrap();
    let count = banded.len();
    let mut extremes: Vec<Option<(f64, f64)>> = vec![None; readings.len()];
    let corners = (0..1usize << count)
        .map(|bits| (0..count).map(|b| f64::from(u8::from(bits >> b & 1 == 1))).collect::<Vec<_>>());
    let mut seed = 99u64;
    let inner: Vec<Vec<f64>> = (0..40)
        .map(|_| {
            let mut draw = || {
                seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                (seed >> 11) as f64 / (1u64 << 53) as f64
            };
            (0..count).map(|_| draw()).collect()
        })
        .collect();
    for shares in corners.chain(inner) {
        let values = read(&at(&circuit, &banded, &shares), &state, &readings);
        for (at, value) in values.into_iter().enumerate() {
            let Some(value) = value else { continue };
            if let Some(window) = found[at].filter(|w| w.method == Method::Corners) {
                assert!(holds(window, value), "{:?} reads {value} outside of {window:?}", readings[at]);
            }
            let (low, high) = extremes[at].unwrap_or((value, value));
            extremes[at] = Some((low.min(value), high.max(value)));
        }
    }
    for (window, extreme) in found.iter().zip(&extremes) {
        if let (Some(window), Some((low, high))) = (window, extreme)
            && window.method == Method::Corners
        {
            assert!((window.low - low).abs() <= slack(*low), "{window:?} against {low}");
            assert!((window.high - high).abs() <= slack(*high), "{window:?} against {high}");
        }
    }
    found.iter().flatten().filter(|w| w.method == Method::Corners && w.high - w.low > 1e-6).count()
}

/// So many cases, or as many as `PROPTEST_CASES` asks for.
fn config() -> ProptestConfig {
    let cases = std::env::var("PROPTEST_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(40);
    ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() }
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn corner_by_corner(draft in draft(LINEAR, 18)) {
        against_brute_force(&draft, 5);
    }

    #[test]
    fn by_the_influence_of_each(draft in draft(LINEAR, 24)) {
        against_brute_force(&draft, 8);
    }

    #[test]
    fn what_changes_over_claims_no_proof_it_lacks(draft in draft(SWITCHING, 22)) {
        against_brute_force(&draft, 5);
        against_brute_force(&draft, 8);
    }
}

/// A winding that is no device's turns within its band too.
#[test]
fn a_winding_that_may_turn_proves_nothing() {
    let drawn = |kind, to, size, pick| Drawn { kind, from: 0, to, size, gate: 0, pick };
    let wire = || drawn(0, 2, 0.0, 0);
    let drawn = vec![
        wire(),
        drawn(2, 0, 0.0, 0),
        wire(),
        wire(),
        wire(),
        drawn(10, 1, 0.0, 19),
        wire(),
        drawn(5, 1, 1.35, 0),
    ];
    let (mut circuit, state) = build(3, &drawn, &[0; 3], 1.0);
    widen(&mut circuit, 5);
    let reading = Reading::Volts(PointId::from(1));
    let found = windows(&circuit, &state, &[reading], TOLERANCES, &Never).unwrap();
    assert_eq!(found[0].map(|w| w.method), Some(Method::Sampled));
    against_brute_force(&(3, drawn, vec![0; 3], 1.0), 5);
}

fn window_of(text: &str, point: &str, bands: Bands, settings: &[&str]) -> Window {
    let elaboration = circuit(text);
    let c = &elaboration.circuit;
    let mut state = State::rest(c);
    for setting in settings {
        state = state.with(&elaboration.parse_setting(setting).unwrap());
    }
    let at = c.points.iter().position(|p| p.name == point).unwrap();
    keyon_solve::window(c, &state, Reading::Volts(PointId::from(at)), bands).unwrap()
}

#[test]
fn a_relay_that_may_let_go_is_sampled_and_said_so() {
    let text = r#"circuit brink
supply battery 12 V range 6 .. 14 V
ground G1
splice S1
device K1 {
  pins 30, 85, 86, 87
  coil K 85 -> 86 90 ohm pulls_in 0.09 A drops_out 0.03 A
  contact 30 -> 87 closed when K energised
}
wire 1 battery -> K1.85
wire 2 K1.86 -> G1
wire 3 battery -> K1.30
wire 4 K1.87 -> S1
resistor R1 S1 -> G1 100 ohm
"#;
    // Below 8.1 V the relay stays at rest, and S1 with it at 0 V.
    let found = window_of(text, "S1", ALL, &[]);
    assert_eq!((found.low, found.high, found.method), (0.0, 14.0, Method::Sampled));
    // Within its tolerance alone nothing changes over.
    let found = window_of(&text.replace("90 ohm", "90 ohm +- 10 %"), "K1.85", TOLERANCES, &[]);
    assert_eq!((found.low, found.high, found.method), (12.0, 12.0, Method::Corners));
}

#[test]
fn a_supply_that_was_set_stays_there() {
    let text = "circuit fixed\nsupply battery 12 V +- 5 % range 10 .. 14 V\nground G1\nresistor R1 battery -> G1 1 kohm\n";
    let found = window_of(text, "battery", ALL, &[]);
    assert_eq!((found.low, found.high), (10.0, 14.0));
    let found = window_of(text, "battery", TOLERANCES, &[]);
    assert!((found.low - 11.4).abs() < 1e-12 && (found.high - 12.6).abs() < 1e-12, "{found:?}");
    let found = window_of(text, "battery", ALL, &["battery=12.4 V"]);
    assert_eq!((found.low, found.high), (12.4, 12.4));
}

/// A track whose both parts change together, between a stiff source's inner resistance and a pull-down, reads most
/// somewhere within its band: at the root of the product of both.
#[test]
fn a_track_may_turn_within_its_band() {
    let text = r#"circuit turn
supply battery 12 V
ground G1
wire 1 battery -> M.A.1
wire 2 M.A.2 -> G1
wire 3 M.A.3 -> level.1
wire 4 level.2 -> M.A.4
wire 5 level.3 -> M.A.5
device level { pins 1, 2, 3
  track 1 -> 3 wiper 2 1 kohm +- 90 % }
module M { connector A {
    1 ub feed
    2 gnd ground
    3 vref reference 5 V inner 200 ohm
    4 level_in senses pull_down 1 kohm
    5 low return
} }
"#;
    let found = window_of(text, "level.2", TOLERANCES, &[]);
    assert_eq!(found.method, Method::Sampled);
    let reads = |ohms: f64| {
        let load = 1.0 / (1.0 / 1e3 + 1.0 / 10e6);
        let lower = 1.0 / (2.0 / ohms + 1.0 / load);
        5.0 * lower / (200.0 + ohms / 2.0 + lower)
    };
    let most = (100..1900).map(|ohms| reads(f64::from(ohms))).fold(0.0, f64::max);
    assert!(most > reads(100.0).max(reads(1900.0)) + 0.05, "the example turns");
    assert!((found.low - reads(100.0).min(reads(1900.0))).abs() < 1e-6, "{found:?}");
    assert!(found.high <= most + 1e-9 && found.high > most - 0.01, "{found:?} {most}");
}

#[test]
fn a_pulse_is_sampled_and_said_so() {
    let text = r#"circuit pulse
supply battery 12 V
ground G1
wire 1 battery -> M.A.1
wire 2 M.A.2 -> G1
resistor R1 battery -> S1 1 kohm +- 10 %
wire 3 S1 -> M.A.3
splice S1
module M { connector A {
    1 ub feed
    2 gnd ground
    3 cmd drives low on 100 ohm pwm 100 Hz
} }
"#;
    assert_eq!(window_of(text, "S1", TOLERANCES, &["cmd=on 40 %"]).method, Method::Sampled);
    assert_eq!(window_of(text, "S1", TOLERANCES, &["cmd=on"]).method, Method::Corners);
}

#[test]
fn the_same_seed_gives_the_same_window() {
    let drawn = || {
        let text = "circuit seed\nsupply battery 12 V\nground G1\nsplice S1\nresistor R1 battery -> S1 1 kohm +- 20 %\n\
                    diode D1 S1 -> G1 drop 4 V +- 50 %\nresistor R2 S1 -> G1 500 ohm +- 50 %\n";
        window_of(text, "S1", TOLERANCES, &[])
    };
    assert_eq!(drawn().method, Method::Sampled);
    assert_eq!(drawn(), drawn());
}

#[test]
fn a_clash_at_some_corner_gives_no_window() {
    let text = "circuit clash\nsupply battery 12 V\nground G1\nwire 1 battery -> G1\n";
    let elaboration = circuit(text);
    let at = elaboration.circuit.points.iter().position(|p| p.name == "battery").unwrap();
    let state = State::rest(&elaboration.circuit);
    assert_eq!(keyon_solve::window(&elaboration.circuit, &state, Reading::Volts(at.into()), ALL), None);
}
