//! What must hold for every circuit in every state.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;
use keyon_circuit::{ids::*, model::*};
use keyon_solve::{Amps, NodeState, Solution, solve};
use proptest::prelude::*;
use support::random::{Draft, Drawn, build, draft};

const ALL: &[u8] = &[0, 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 10, 11, 12, 13, 14, 15, 16, 17, 17];
const STILL: &[u8] = &[0, 0, 1, 2, 3, 4, 8, 9, 10, 10, 11, 12, 13, 14, 15, 17, 17];
const PLAIN: &[u8] = &[0, 2, 3, 4, 10, 13, 14, 17];

fn solved((points, drawn, positions, duty): &Draft) -> (Circuit, Solution) {
    let (circuit, state) = build(*points, drawn, positions, *duty);
    let solution = solve(&circuit, &state);
    (circuit, solution)
}

/// Kirchhoff's first law at every point that no unlimited current touches.
fn first_law(circuit: &Circuit, solution: &Solution) {
    let mut sum = vec![0.0; circuit.points.len()];
    let mut size = vec![1e-3; circuit.points.len()];
    let mut known = vec![true; circuit.points.len()];
    for (element, amps) in circuit.elements.iter().zip(&solution.amps) {
        let (from, to) = (element.from.index(), element.to.index());
        match amps {
            Amps::Known(amps) => {
                assert!(amps.is_finite(), "{} carries {amps}", element.name);
                sum[from] -= amps;
                sum[to] += amps;
                size[from] += amps.abs();
                size[to] += amps.abs();
            }
            Amps::Unlimited => {
                known[from] = false;
                known[to] = false;
            }
        }
    }
    // What a clash takes in leaves by the common ground.
    known[0] &= !solution.amps.contains(&Amps::Unlimited);
    for point in (0..sum.len()).filter(|&p| known[p]) {
        assert!(sum[point].abs() <= 1e-9 * size[point], "P{point}: {} of {}", sum[point], size[point]);
    }
}

/// What is zero is told as zero: nothing is so small beside the rest that only arithmetic made it.
fn zero_is_zero(solution: &Solution) {
    let volts: Vec<f64> = solution.unloaded.iter().flatten().copied().collect();
    let highest = volts.iter().fold(0.0, |most: f64, v| most.max(v.abs()));
    assert!(volts.iter().all(|v| *v == 0.0 || v.abs() > 1e-24 * highest), "{volts:?}");
    let amps: Vec<f64> = solution.amps.iter().filter_map(|a| a.known()).collect();
    let most = amps.iter().fold(0.0, |most: f64, a| most.max(a.abs()));
    assert!(amps.iter().all(|a| *a == 0.0 || a.abs() > 1e-22 * most), "{amps:?}");
}

/// Each element's law, where both ends have a voltage and nothing pulses.
fn element_laws(circuit: &Circuit, solution: &Solution) {
    for (index, element) in circuit.elements.iter().enumerate() {
        let at = |p: PointId| solution.unloaded[p.index()];
        let (Some(from), Some(to)) = (at(element.from), at(element.to)) else { continue };
        let Amps::Known(amps) = solution.amps[index] else { continue };
        let across = from - to;
        let near = |a: f64, b: f64| (a - b).abs() <= 1e-9 * (1.0 + a.abs() + b.abs());
        let on = solution.conducts[index];
        if !on {
            assert!(amps.abs() < 1e-15, "{} is open and carries {amps}", element.name);
        }
        match &element.law {
            Law::Joint if on => assert!(near(across, 0.0), "{} drops {across}", element.name),
            Law::Resistance(ohms) if on => assert!(near(across, amps * ohms.nominal), "{}", element.name),
            Law::Rated { watts, volts, .. } if on => {
                assert!(
                    near(across, amps * volts.nominal * volts.nominal / watts.nominal),
                    "{}",
                    element.name
                )
            }
            Law::Coil { ohms, .. } if on => assert!(near(across, amps * ohms.nominal), "{}", element.name),
            Law::Diode { drop } => {
                if on {
                    assert!(near(across, drop.nominal), "{} drops {across}", element.name);
                    assert!(amps >= -1e-9, "{} carries {amps}", element.name);
                } else if element.when == When::Always {
                    assert!(across <= drop.nominal + 1e-9, "{} blocks {across}", element.name);
                }
            }
            Law::Source { volts, inner, limit, .. } if on => {
                let (volts, inner) = (volts.nominal, inner.nominal);
                match limit {
                    Some(limit) => {
                        let free = (across + volts - amps * inner).abs();
                        let (limit, slack) = (limit.nominal, 1e-9);
                        assert!(amps.abs() <= limit + slack, "{} gives {amps}", element.name);
                        assert!(
                            free <= 1e-8 || amps.abs() >= limit - slack,
                            "{} {amps} {free}",
                            element.name
                        );
                    }
                    None => assert!(near(across + volts, amps * inner), "{}", element.name),
                }
            }
            _ => {}
        }
    }
}

/// Relays that do not chatter are where their current has them; fuses that are whole can carry what they carry.
fn relays_and_fuses(circuit: &Circuit, solution: &Solution) {
    for (index, element) in circuit.elements.iter().enumerate() {
        let Amps::Known(amps) = solution.amps[index] else {
            let fuse = matches!(element.kind, ElementKind::Fuse(_));
            assert!(!fuse, "{} lies in a clash", element.name);
            continue;
        };
        if let (ElementKind::Fuse(_), Some(rating)) = (element.kind, element.rating)
            && solution.chatters.is_empty()
        {
            assert!(amps.abs() <= 1.36 * rating.nominal, "{} carries {amps}", element.name);
        }
        if let (When::Energised { coil, open }, true) = (element.when, solution.chatters.is_empty()) {
            let Amps::Known(amps) = solution.amps[coil.index()] else { continue };
            let blown = solution.blown.iter().any(|(e, _)| e.index() == index);
            let Law::Coil { pulls_in, drops_out, .. } = &circuit.elements[coil.index()].law else { continue };
            let (high, low) = (pulls_in.unwrap().nominal, drops_out.unwrap().nominal);
            let dead = element.alive.is_some_and(|m| !solution.alive[m.index()]);
            let diode = matches!(element.law, Law::Diode { .. });
            let output = matches!(element.law, Law::Transducer { .. });
            if blown || dead || diode || output {
                continue;
            }
            let energised = solution.conducts[index] != open;
            if amps.abs() >= high * 1.000001 {
                assert!(energised, "{} should be energised by {amps}", element.name);
            }
            if amps.abs() <= low * 0.999999 {
                assert!(!energised, "{} should rest at {amps}", element.name);
            }
        }
    }
}

/// Words against figures.
fn states(circuit: &Circuit, solution: &Solution) {
    let diodes = circuit.elements.iter().any(|e| matches!(e.law, Law::Diode { .. }));
    for (point, state) in solution.node_states.iter().enumerate() {
        let volts = solution.unloaded[point];
        match state {
            NodeState::Open => {
                assert!(volts.is_none(), "P{point} is open and has {volts:?}");
                assert_eq!(solution.volts[point], Some(0.0));
            }
            NodeState::GroundedViaLoad if !diodes => {
                if let Some(volts) = volts {
                    assert!(volts.abs() < 1e-9, "P{point} is grounded via load and has {volts}");
                }
            }
            NodeState::FedViaLoad if !diodes && volts.is_some() => {
                for (element, amps) in circuit.elements.iter().zip(&solution.amps) {
                    if element.kind.is_load()
                        && (element.from.index() == point || element.to.index() == point)
                    {
                        let amps = amps.known().unwrap();
                        assert!(
                            amps.abs() < 1e-9,
                            "P{point} is fed via load, {} carries {amps}",
                            element.name
                        );
                    }
                }
            }
            _ => {}
        }
    }
}

/// So many cases, or as many as `PROPTEST_CASES` asks for.
fn config(cases: u32) -> ProptestConfig {
    let cases = std::env::var("PROPTEST_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(cases);
    ProptestConfig { cases, failure_persistence: None, max_shrink_iters: 4000, ..ProptestConfig::default() }
}

/// A transducer that its own output holds up, less and less with each look, gives nothing in the end.
#[test]
fn an_output_that_follows_itself_to_nothing_is_zero() {
    let drawn = |kind, from, to, gate, pick| Drawn { kind, from, to, size: 0.0, gate, pick };
    let drawn = vec![
        drawn(10, 0, 2, 0, 0),
        drawn(13, 4, 12, 0, 0),
        drawn(16, 6, 0, 2, 2),
        drawn(17, 0, 15, 0, 0),
        drawn(0, 5, 12, 0, 0),
        drawn(16, 14, 14, 0, 62),
        drawn(1, 2, 6, 0, 0),
    ];
    let (circuit, solution) = solved(&(10, drawn, vec![0; 3], 1.0));
    first_law(&circuit, &solution);
    zero_is_zero(&solution);
}

proptest! {
    #![proptest_config(config(500))]

    #[test]
    fn every_circuit_has_an_answer(draft in draft(ALL, 40)) {
        let (circuit, solution) = solved(&draft);
        if solution.chatters.is_empty() {
            first_law(&circuit, &solution);
            zero_is_zero(&solution);
        }
        relays_and_fuses(&circuit, &solution);
        for point in 0..circuit.points.len() {
            solution.path_to_source(&circuit, PointId::from(point));
            solution.path_to_ground(&circuit, PointId::from(point));
        }
    }

    #[test]
    fn elements_keep_their_laws(mut draft in draft(STILL, 30)) {
        draft.3 = 1.0;
        let (circuit, solution) = solved(&draft);
        first_law(&circuit, &solution);
        element_laws(&circuit, &solution);
        relays_and_fuses(&circuit, &solution);
    }

    #[test]
    fn words_agree_with_figures(mut draft in draft(PLAIN, 24)) {
        draft.3 = 1.0;
        // Supplies from ground and without inner resistance: the far pole of one that hangs on nothing else has volts
        // and no continuity, and two of the same stated volts may differ at their terminals.
        draft.1.iter_mut().filter(|d| d.kind == 10).for_each(|d| d.pick = [9, 18, 3, 21][d.pick % 4]);
        // Ground wires without a resistance, so that nothing lifts them.
        draft.1.iter_mut().filter(|d| d.kind == 14).for_each(|d| d.pick &= !1);
        let (circuit, solution) = solved(&draft);
        states(&circuit, &solution);
    }

    #[test]
    fn order_does_not_matter(mut draft in draft(STILL, 24), turn in any::<u64>()) {
        draft.3 = 1.0;
        // Equal fuses of one short open in the order of the elements, and no other choice is better.
        draft.1.retain(|d| d.kind != 13);
        // A floating supply that diodes short has as many contradictions as diodes: which one shows is nobody's matter.
        draft.1.iter_mut().filter(|d| d.kind == 10).for_each(|d| d.pick |= 1);
        let (circuit, solution) = solved(&draft);
        let mut other = draft.clone();
        let mut order: Vec<usize> = (0..draft.1.len()).collect();
        order.sort_by_key(|i| (*i as u64 ^ turn).wrapping_mul(0x9e37_79b9_7f4a_7c15));
        other.1 = order.iter().map(|&i| draft.1[i].clone()).collect();
        let (_, turned) = solved(&other);
        prop_assert_eq!(&solution.node_states, &turned.node_states);
        for (a, b) in solution.unloaded.iter().zip(&turned.unloaded) {
            match (a, b) {
                (Some(a), Some(b)) => prop_assert!((a - b).abs() <= 1e-9 * (1.0 + a.abs()), "{} {}", a, b),
                (a, b) => prop_assert_eq!(a, b),
            }
        }
        for (at, &from) in order.iter().enumerate() {
            match (solution.amps[from], turned.amps[at]) {
                (Amps::Known(a), Amps::Known(b)) => prop_assert!((a - b).abs() <= 1e-9 * (1.0 + a.abs())),
                (a, b) => prop_assert_eq!(a, b),
            }
        }
        let _ = circuit;
    }
}
