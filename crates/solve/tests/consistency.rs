//! Proof of consistency: what a solution assumes agrees with what it gives. Diodes with their volts and amps, relays with
//! their coils' amps from rest, references with their limits, pulses with the states they are made of.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;
use keyon_circuit::{ids::*, model::*, value::Num};
use keyon_solve::{Amps, ElementState, Solution, State, solve};
use std::fmt::Write as _;
use support::{
    circuit,
    random::{Drawn, build},
    solved, solved_with,
};

/// Numbers with a fixed seed (a linear congruential generator, constants of D. Knuth's MMIX).
struct Random(u64);

impl Random {
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
    fn below(&mut self, count: usize) -> usize {
        (self.unit() * count as f64) as usize
    }
}

/// Resistors, coils, diodes, contacts on coils, supplies, grounds: half of it diodes and relays.
fn diodes_and_relays(seed: u64) -> (Circuit, State) {
    let mut random = Random(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15));
    const KINDS: &[u8] = &[2, 2, 3, 4, 6, 6, 7, 8, 8, 9, 10, 14, 14, 14, 17, 17];
    let count = 12 + random.below(24);
    // Point 1 is a supply of 12 V and point 2 ground: coils hang on them more often than chance would have it.
    let fixed = |kind, to| Drawn { kind, from: 0, to, size: 0.0, gate: 0, pick: 1 };
    let mut drawn = vec![fixed(10, 1), fixed(17, 2)];
    for _ in 0..count {
        let kind = KINDS[random.below(KINDS.len())];
        let coil = matches!(kind, 6 | 7);
        let mut end = |near: usize| if coil && random.unit() < 0.6 { near } else { random.below(16) };
        let (from, to) = (end(1), end(2));
        let size = random.unit() * 2.0 - 1.0;
        // Contacts hang on coils: closed or open while they are energised.
        let gate = if kind == 14 { 5 + random.below(4) as u8 } else { 0 };
        drawn.push(Drawn { kind, from, to, size, gate, pick: random.below(64) | 1 });
    }
    build(5 + random.below(8), &drawn, &[0, 0, 0], 1.0)
}

fn amps(solution: &Solution, element: usize) -> f64 {
    solution.amps[element].known().unwrap_or(f64::NAN)
}

/// Each diode: conducting it drops what it states and carries nothing backward, blocking it has no more than its drop.
fn diodes_agree(circuit: &Circuit, solution: &Solution) -> usize {
    let mut seen = 0;
    for (index, element) in circuit.elements.iter().enumerate() {
        let Law::Diode { drop } = &element.law else { continue };
        let at = |p: PointId| solution.unloaded[p.index()];
        let (Some(from), Some(to)) = (at(element.from), at(element.to)) else { continue };
        let Amps::Known(amps) = solution.amps[index] else { continue };
        let across = from - to;
        if solution.conducts[index] {
            assert!((across - drop.nominal).abs() < 1e-9, "{} conducts and has {across} V", element.name);
            assert!(amps >= -1e-9, "{} conducts {amps} A", element.name);
        } else {
            assert!(across <= drop.nominal + 1e-9, "{} blocks and has {across} V", element.name);
            assert_eq!(amps, 0.0, "{} blocks", element.name);
        }
        seen += 1;
    }
    seen
}

/// Coils with contacts, and whether each is energised: by its first contact.
fn coils(circuit: &Circuit, solution: &Solution) -> Vec<(usize, bool)> {
    let mut found: Vec<(usize, bool)> = Vec::new();
    for (index, element) in circuit.elements.iter().enumerate() {
        let When::Energised { coil, open } = element.when else { continue };
        if matches!(element.law, Law::Diode { .. }) {
            continue;
        }
        let energised = solution.conducts[index] != open;
        match found.iter().find(|(c, _)| *c == coil.index()) {
            Some((_, known)) => assert_eq!(*known, energised, "two contacts of one coil disagree"),
            None => found.push((coil.index(), energised)),
        }
    }
    found
}

fn thresholds(circuit: &Circuit, coil: usize) -> (f64, f64) {
    match &circuit.elements[coil].law {
        Law::Coil { pulls_in: Some(high), drops_out: Some(low), .. } => (high.nominal, low.nominal),
        other => panic!("{other:?}"),
    }
}

/// The same state with every relay held: energised or not.
fn held(circuit: &Circuit, state: &State, energised: &dyn Fn(usize) -> bool) -> Solution {
    let mut state = state.clone();
    for (index, element) in circuit.elements.iter().enumerate() {
        if let When::Energised { coil, open } = element.when
            && !matches!(element.law, Law::Diode { .. })
        {
            state.changes.push(Change::Stuck(index.into(), energised(coil.index()) != open));
        }
    }
    solve(circuit, &state)
}

/// A hundred random circuits: either everything agrees, or the coils of a cycle are named and rest is no answer.
#[test]
fn a_hundred_random_circuits_of_diodes_and_relays() {
    let (mut diodes, mut relays, mut energised_relays, mut chattering, mut seed) = (0, 0, 0, 0, 0);
    let mut circuits = 0;
    while circuits < 100 {
        seed += 1;
        let (circuit, state) = diodes_and_relays(seed);
        let solution = solve(&circuit, &state);
        let coil_count = circuit.elements.iter().filter(|e| matches!(e.when, When::Energised { .. })).count();
        let diode_count = circuit.elements.iter().filter(|e| matches!(e.law, Law::Diode { .. })).count();
        if coil_count == 0 || diode_count == 0 || solution.amps.contains(&Amps::Unlimited) {
            continue;
        }
        circuits += 1;
        let rest = held(&circuit, &state, &|_| false);
        let wants_to_move = (0..circuit.elements.len())
            .filter(|&e| matches!(circuit.elements[e].law, Law::Coil { .. }))
            .filter(|&e| {
                circuit
                    .elements
                    .iter()
                    .any(|x| matches!(x.when, When::Energised { coil, .. } if coil.index() == e))
            })
            .any(|coil| amps(&rest, coil).abs() >= thresholds(&circuit, coil).0);
        if !solution.chatters.is_empty() {
            chattering += 1;
            // The cycle is named, and rest is no consistent answer.
            for coil in &solution.chatters {
                assert!(matches!(circuit.elements[coil.index()].law, Law::Coil { .. }), "seed {seed}");
            }
            assert!(wants_to_move, "seed {seed} chatters and could rest");
            continue;
        }
        diodes += diodes_agree(&circuit, &solution);
        let found = coils(&circuit, &solution);
        for &(coil, energised) in &found {
            let (high, low) = thresholds(&circuit, coil);
            let amps = amps(&solution, coil).abs();
            let fits = if energised { amps > low * (1.0 - 1e-9) } else { amps < high * (1.0 + 1e-9) };
            assert!(fits, "seed {seed}: {} is {energised} at {amps}", circuit.elements[coil].name);
            relays += 1;
            energised_relays += usize::from(energised);
        }
        // From rest: where rest is consistent, it is the answer.
        let moved = found.iter().any(|(_, energised)| *energised);
        assert_eq!(moved, wants_to_move, "seed {seed}");
        // The relays held where they are give the same figures.
        let again = held(&circuit, &state, &|coil| found.iter().any(|&(c, on)| c == coil && on));
        for (a, b) in solution.amps.iter().zip(&again.amps) {
            let (a, b) = (a.known().unwrap(), b.known().unwrap());
            assert!((a - b).abs() <= 1e-9 * (1.0 + a.abs()), "seed {seed}: {a} {b}");
        }
    }
    assert!(
        diodes > 150 && relays > 100 && energised_relays > 20 && chattering > 1,
        "{diodes} diodes, {relays} relays, {energised_relays} of them energised, {chattering} circuits chatter"
    );
}

/// A chain in which each relay feeds the next, a ring of an odd number that each open the next, and one of an even number.
#[test]
fn long_chains_and_rings_of_relays() {
    let relay = |name: usize, fed_by: &str, contact: &str| {
        format!(
            "device K{name} {{\n  pins 30, 85, 86, 87\n  coil K 86 -> 85 90 ohm pulls_in 0.09 A drops_out 0.03 A\n  \
             contact 30 -> 87 {contact} when K energised\n}}\nwire {fed_by} -> K{name}.86\nwire K{name}.85 -> G1\n\
             wire battery -> K{name}.30\n"
        )
    };
    let head = "circuit chain\nsupply battery 12 V\nground G1\n";
    let mut chain = format!("{head}switch sw battery -> S0\nsplice S0\n");
    for n in 0..60 {
        let fed = if n == 0 { "S0".to_owned() } else { format!("K{}.87", n - 1) };
        chain += &relay(n, &fed, "closed");
    }
    assert_eq!(solved(&chain, &[]).does("K59"), "rests");
    let on = solved(&chain, &["sw=on"]);
    assert_eq!((on.does("K0"), on.does("K59")), ("operates", "operates"));
    let ring = |count: usize| {
        let mut text = head.to_owned();
        for n in 0..count {
            text += &relay(n, &format!("K{}.87", (n + count - 1) % count), "open");
        }
        text
    };
    let odd = solved(&ring(11), &[]);
    let all: Vec<ElementId> = (0..11).map(|n| odd.element(&format!("K{n}.K")).into()).collect();
    assert_eq!(odd.solution.chatters, all);
    let even = solved(&ring(12), &[]);
    assert!(even.solution.chatters.is_empty());
    let energised: Vec<bool> = (0..12).map(|n| even.does(&format!("K{n}")) == "operates").collect();
    assert!((0..12).all(|n| energised[n] != energised[(n + 1) % 12]), "{energised:?}");
}

/// Thousands of diodes: a ladder that each rung has to pass, and a matrix in which each row feeds each column.
#[test]
fn many_diodes() {
    let mut ladder = String::from("circuit ladder\nsupply battery 400 V\nground G1\n");
    let count = 500;
    for n in 0..count {
        let before = if n == 0 { "battery".to_owned() } else { format!("S{}", n - 1) };
        let _ = write!(
            ladder,
            "splice S{n}\ndiode D{n} {before} -> S{n} drop 0.7 V\nresistor R{n} S{n} -> G1 1 kohm\n"
        );
    }
    let s = solved(&ladder, &[]);
    assert_eq!(diodes_agree(s.circuit(), &s.solution), count);
    for n in [0, 1, 250, 499] {
        let expected = 400.0 - 0.7 * (n + 1) as f64;
        assert!((s.unloaded(&format!("S{n}")).unwrap() - expected).abs() < 1e-6, "S{n}");
    }
    let side = 24;
    let mut matrix = String::from("circuit matrix\nsupply battery 12 V\nground G1\n");
    for row in 0..side {
        let ohms = 100 + 10 * row;
        let _ = write!(matrix, "splice R{row}\nresistor F{row} battery -> R{row} {ohms} ohm\n");
        let _ = write!(matrix, "splice C{row}\nresistor L{row} C{row} -> G1 {} ohm\n", 50 + 7 * row);
    }
    for row in 0..side {
        for column in 0..side {
            let _ = writeln!(matrix, "diode D{row}_{column} R{row} -> C{column} drop 0.7 V");
        }
    }
    let s = solved(&matrix, &[]);
    assert_eq!(diodes_agree(s.circuit(), &s.solution), side * side);
}

/// A reference gives its volts up to its limit and its limit beyond, whatever hangs on it.
#[test]
fn references_fold_back_at_their_limit() {
    let text = |ohms: f64| {
        format!(
            "circuit fold\nsupply battery 12 V\nground G1\nwire 1 battery -> M.A.1\nwire 2 M.A.2 -> G1\n\
             wire 3 M.A.3 -> S1\nsplice S1\nresistor R1 S1 -> G1 {ohms} ohm\nresistor R2 S1 -> G1 1 kohm\nmodule M {{\n  \
             connector A {{\n    1 ub feed\n    2 gnd ground\n    3 vref reference 5 V inner 10 ohm limit 50 mA\n  }}\n}}\n"
        )
    };
    let mut folded = 0;
    for step in 0..80 {
        let ohms = 10f64.powf(f64::from(step) / 20.0);
        let load = 1.0 / (1.0 / ohms + 1.0 / 1000.0);
        let free = 5.0 / (10.0 + load);
        let s = solved(&text(ohms), &[]);
        let expected = free.min(0.05);
        folded += i32::from(free > 0.05);
        assert!((s.amps("M.vref") - expected).abs() < 1e-12, "{ohms} ohm: {}", s.amps("M.vref"));
        assert!((s.unloaded("S1").unwrap() - expected * load).abs() < 1e-9, "{ohms} ohm");
    }
    assert!(folded > 20 && folded < 60, "{folded}");
    // Two references on one point: the stronger pulls the weaker no further than its limit.
    let both = text(40.0).replace("  }\n}", "    4 vref_b reference 8 V inner 10 ohm limit 20 mA\n  }\n}")
        + "wire 4 M.A.4 -> S1\n";
    let s = solved(&both, &[]);
    assert!((s.amps("M.vref_b") - 0.02).abs() < 1e-12);
    let load = 1.0 / (1.0 / 40.0 + 1.0 / 1000.0);
    let volts = s.unloaded("S1").unwrap();
    assert!((volts / load - s.amps("M.vref") - 0.02).abs() < 1e-12);
    assert!(
        s.amps("M.vref") <= 0.05 && (5.0 - 10.0 * s.amps("M.vref") - volts).abs() < 1e-9
            || s.amps("M.vref") == 0.05
    );
}

/// Volts and amps of a pulse are the means of its two states, each solved by itself; the words are those of the on phase.
#[test]
fn pulses_are_the_mean_of_their_states() {
    let mut checked = 0;
    for seed in 0..160 {
        let mut random = Random(seed + 7);
        let kinds: &[u8] = &[2, 2, 3, 4, 8, 9, 10, 11, 12, 12, 14, 14, 17, 17];
        let drawn: Vec<Drawn> = (0..24)
            .map(|_| Drawn {
                kind: kinds[random.below(kinds.len())],
                from: random.below(16),
                to: random.below(16),
                size: random.unit() * 2.0 - 1.0,
                gate: random.below(6) as u8,
                pick: random.below(64) | 1,
            })
            .collect();
        let duty = 0.1 + 0.8 * random.unit();
        let points = 4 + random.below(8);
        let solve_at = |position: u8, duty: f64| {
            let (circuit, state) = build(points, &drawn, &[position, 0, 0], duty);
            (solve(&circuit, &state), circuit)
        };
        let ((pulsed, circuit), (on, _), (off, _)) = (solve_at(1, duty), solve_at(1, 1.0), solve_at(0, 1.0));
        let mean = |on: Option<f64>, off: Option<f64>| Some(duty * on? + (1.0 - duty) * off?);
        for index in 0..circuit.elements.len() {
            let (a, b) = (on.amps[index].known(), off.amps[index].known());
            match (mean(a, b), pulsed.amps[index].known()) {
                (Some(expected), Some(got)) => {
                    assert!(
                        (got - expected).abs() <= 1e-9 * (1.0 + got.abs()),
                        "seed {seed} {index}: {got} {expected}"
                    );
                    checked += usize::from(a != b);
                }
                (expected, got) => assert_eq!(got, expected, "seed {seed} {index}"),
            }
        }
        for point in 0..circuit.points.len() {
            let (got, expected) = (pulsed.volts[point], mean(on.volts[point], off.volts[point]));
            match (got, expected) {
                (Some(got), Some(expected)) => {
                    assert!(
                        (got - expected).abs() <= 1e-9 * (1.0 + got.abs()),
                        "seed {seed}: {got} {expected}"
                    );
                }
                (got, expected) => assert_eq!(got, expected, "seed {seed} P{point}"),
            }
        }
        assert_eq!(pulsed.node_states, on.node_states, "seed {seed}");
    }
    assert!(checked > 100, "{checked} currents that pulse");
}

/// A relay that pulls in at one value of its feed and lets go at another: both found from rest, and the holding told.
#[test]
fn hysteresis_is_seen_from_rest() {
    let text = "circuit hold\nsupply battery 12 V\nground G1\ndevice K1 {\n  pins 30, 85, 86, 87\n  \
                coil K 86 -> 85 100 ohm pulls_in 80 mA drops_out 20 mA\n  contact 30 -> 87 closed when K energised\n}\n\
                variable R1 battery -> K1.86 0 .. 2 kohm\nwire 1 K1.85 -> G1\nwire 2 battery -> K1.30\n\
                resistor R2 K1.87 -> K1.86 400 ohm\n";
    let elaboration = circuit(text);
    let c = &elaboration.circuit;
    let does = |ohms: f64| {
        let state = State::rest(c).with(&elaboration.parse_setting(&format!("R1={ohms} ohm")).unwrap());
        let s = solve(c, &state);
        (s.devices.iter().any(|d| d.state == ElementState::Operates), s.holds.len())
    };
    // 80 mA through 100 ohm: 50 ohm before it. With the contact closed 400 ohm lie beside: always more than 20 mA.
    assert_eq!(does(49.9), (true, 0));
    assert_eq!(does(50.1), (false, 1));
    assert_eq!(does(2000.0), (false, 1));
}

/// A diode that only the meter makes conduct.
#[test]
fn a_diode_under_a_meter_agrees_with_its_reading() {
    let text = "circuit meter\nsupply battery 12 V\nground G1\nsplice S1\nsplice S2\ndiode D1 battery -> S1 drop 0.7 V\n\
                resistor R1 S1 -> S2 1 Mohm\n";
    let s = solved(text, &[]);
    // Behind the diode and a megohm the meter's 10 Mohm draw what makes it conduct.
    assert!((s.volts("S2") - 11.3 * 10.0 / 11.0).abs() < 1e-9, "{}", s.volts("S2"));
    let loaded = solved_with(text, &[], |c, state| {
        let at = c.points.iter().position(|p| p.name == "S2").unwrap();
        let law = Law::Resistance(Num::exact(10e6));
        state.changes.push(Change::Add { from: at.into(), to: COMMON, law });
    });
    assert!((loaded.unloaded("S2").unwrap() - s.volts("S2")).abs() < 1e-9);
    assert_eq!(diodes_agree(loaded.circuit(), &loaded.solution), 1);
}
