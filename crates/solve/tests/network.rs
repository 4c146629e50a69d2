//! The linear network: hand-computed cases, and what must hold for every network.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use keyon_solve::dc::{Answer, Branch, Inconsistent, Network};
use proptest::prelude::*;

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-12 * a.abs().max(b.abs()).max(1e-30)
}

#[track_caller]
fn assert_near(a: f64, b: f64) {
    assert!(near(a, b), "{a} is not {b}");
}

#[test]
fn a_divider() {
    let mut network = Network::new(3);
    let source = network.source(0, 1, 12.0, 0.0);
    network.resistor(1, 2, 1000.0);
    let lower = network.resistor(2, 0, 2000.0);
    let answer = network.solve().unwrap();
    assert_near(answer.volts[2], 8.0);
    assert_near(answer.amps[lower], 0.004);
    assert_near(answer.amps[source], 0.004);
}

#[test]
fn a_microhm_beside_a_gigohm() {
    let mut network = Network::new(4);
    let source = network.source(0, 1, 12.6, 1e-6);
    let wire = network.resistor(1, 2, 1e-6);
    let leak = network.resistor(2, 0, 1e9);
    let beside = network.resistor(2, 3, 1e-6);
    let end = network.resistor(3, 0, 1e9);
    let answer = network.solve().unwrap();
    let each = 12.6 / 1e9;
    for (branch, amps) in
        [(source, 2.0 * each), (wire, 2.0 * each), (leak, each), (beside, each), (end, each)]
    {
        assert!((answer.amps[branch] - amps).abs() < 1e-9 * amps, "{} {amps}", answer.amps[branch]);
    }
}

#[test]
fn a_chain_of_shorts_and_sources() {
    // Two ideal sources in series by way of shorts, a load across both.
    let mut network = Network::new(5);
    network.source(0, 1, 12.0, 0.0);
    network.short(1, 2);
    let second = network.source(2, 3, 12.0, 0.0);
    network.short(3, 4);
    network.resistor(4, 0, 8.0);
    let answer = network.solve().unwrap();
    assert_near(answer.volts[4], 24.0);
    assert_near(answer.amps[second], 3.0);
    assert_near(answer.amps[3], 3.0);
}

#[test]
fn a_ring_of_shorts_shares_its_current() {
    let mut network = Network::new(3);
    network.current(0, 1, 3.0);
    let direct = network.short(1, 2);
    let twin = network.short(1, 2);
    network.resistor(2, 0, 1.0);
    let around = network.short(2, 1);
    let answer = network.solve().unwrap();
    assert_near(answer.amps[direct], 1.0);
    assert_near(answer.amps[twin], 1.0);
    assert_near(answer.amps[around], -1.0);
}

#[test]
fn contradictions_are_named() {
    let mut network = Network::new(4);
    let battery = network.source(0, 1, 12.0, 0.0);
    let wire = network.short(1, 2);
    network.resistor(1, 3, 5.0);
    let ground = network.short(2, 0);
    assert_eq!(network.solve().unwrap_err(), Inconsistent::Loop(vec![battery, wire, ground]));

    let mut network = Network::new(2);
    network.source(0, 1, 12.0, 0.0);
    network.source(0, 1, 12.0, 0.0);
    let answer = network.solve().unwrap();
    assert_near(answer.volts[1], 12.0);

    let mut network = Network::new(3);
    network.current(0, 1, 1.0);
    network.resistor(1, 2, 1.0);
    assert_eq!(network.solve().unwrap_err(), Inconsistent::NoReturn(vec![1, 2]));
}

#[test]
fn floating_parts_are_told_and_solved_in_themselves() {
    let mut network = Network::new(5);
    network.source(0, 1, 12.0, 0.0);
    network.source(2, 3, 9.0, 1.0);
    let load = network.resistor(3, 4, 5.0);
    network.resistor(4, 2, 3.0);
    let answer = network.solve().unwrap();
    assert_eq!(answer.floating, [false, false, true, true, true]);
    assert_near(answer.amps[load], 1.0);
    assert_near(answer.volts[3], 8.0);
    assert_near(answer.volts[4], 3.0);
}

#[test]
fn resistance_seen_from_a_node() {
    let mut network = Network::new(4);
    network.source(0, 1, 12.0, 0.0);
    network.resistor(1, 2, 1000.0);
    network.resistor(2, 0, 2000.0);
    let factored = network.factor();
    let seen = factored.resistances();
    assert_near(seen[2], 2000.0 / 3.0);
    assert_eq!(seen[1], 0.0);
    assert_eq!(seen[3], f64::INFINITY);
    assert_near(factored.resistance(2, 0), 2000.0 / 3.0);
    assert_eq!(factored.resistance(2, 3), f64::INFINITY);
}

/// A network of any branches over a wide range; ideal sources stand alone, so that they never contradict each other.
fn network() -> impl Strategy<Value = Network> {
    let branch = prop_oneof![
        6 => (-6.0..9.0f64).prop_map(|e| Branch::Resistor(10f64.powf(e))),
        2 => (-24.0..24.0f64, -6.0..3.0f64).prop_map(|(volts, e)| Branch::Source { volts, ohms: 10f64.powf(e) }),
        1 => Just(Branch::Short),
        1 => (-24.0..24.0f64).prop_map(|volts| Branch::Source { volts, ohms: 0.0 }),
        1 => (-2.0..2.0f64).prop_map(|amps| Branch::Current { amps }),
    ];
    (2..24usize).prop_flat_map(move |nodes| {
        prop::collection::vec((0..nodes, 0..nodes, branch.clone()), 1..60).prop_map(move |branches| {
            let mut network = Network::new(nodes);
            for (from, to, branch) in branches {
                match branch {
                    Branch::Source { volts, ohms: 0.0 } => {
                        let own = network.node();
                        network.source(from, own, volts, 0.0);
                        network.resistor(own, to, 1.0 + volts.abs());
                    }
                    Branch::Current { amps } => {
                        network.current(from, to, amps);
                        network.resistor(from, 0, 50.0);
                        network.resistor(to, 0, 70.0);
                    }
                    branch => {
                        network.branch(from, to, branch);
                    }
                }
            }
            network
        })
    })
}

/// Kirchhoff's first law at each node, to `share` of what flows there.
fn first_law(branches: &[(usize, usize, Branch)], answer: &Answer, share: f64) {
    let mut sum = vec![0.0; answer.volts.len()];
    let mut size = vec![0.0; answer.volts.len()];
    for (&(from, to, _), &amps) in branches.iter().zip(&answer.amps) {
        sum[from] -= amps;
        sum[to] += amps;
        size[from] += amps.abs();
        size[to] += amps.abs();
    }
    for (node, (sum, size)) in sum.iter().zip(&size).enumerate() {
        assert!(sum.abs() <= share * size.max(1e-9), "node {node}: {sum} of {size}");
    }
}

/// So many cases, or as many as `PROPTEST_CASES` asks for.
fn config(cases: u32) -> ProptestConfig {
    let cases = std::env::var("PROPTEST_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(cases);
    ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() }
}

proptest! {
    #![proptest_config(config(300))]

    #[test]
    fn laws_hold(network in network()) {
        let branches = network.branches().to_vec();
        let answer = network.solve().unwrap();
        first_law(&branches, &answer, 1e-13);
        // Each element's own law, as far as volts of this length can tell.
        let (mut given, mut taken) = (0.0, 0.0);
        for (&(from, to, branch), &amps) in branches.iter().zip(&answer.amps) {
            let across = answer.volts[from] - answer.volts[to];
            let size = answer.volts[from].abs().max(answer.volts[to].abs()).max(1e-9);
            match branch {
                Branch::Resistor(ohms) => {
                    assert!((across - amps * ohms).abs() <= 4e-15 * size);
                    taken += amps * amps * ohms;
                }
                Branch::Source { volts, ohms } => {
                    assert!((across + volts - amps * ohms).abs() <= 4e-15 * size.max(volts.abs()));
                    given += volts * amps;
                    taken += amps * amps * ohms;
                }
                Branch::Short => assert!(across.abs() <= 4e-15 * size),
                Branch::Current { amps } => given -= across * amps,
            }
        }
        assert!((given - taken).abs() <= 1e-11 * taken.abs().max(1e-9), "{given} given, {taken} taken");
    }

    #[test]
    fn answers_add_up(network in network(), split in 0.0..1.0f64) {
        let factored = network.factor();
        let whole = factored.solve().unwrap();
        let drive = factored.drives();
        let some: Vec<f64> = drive.iter().enumerate().map(|(i, d)| if i % 3 == 0 { d * split } else { *d }).collect();
        let rest: Vec<f64> = drive.iter().zip(&some).map(|(d, s)| d - s).collect();
        let (some, rest) = (factored.solve_with(&some).unwrap(), factored.solve_with(&rest).unwrap());
        for at in 0..whole.amps.len() {
            let size = some.amps[at].abs() + rest.amps[at].abs();
            // The split itself rounds the drives, which a microhm turns into large currents.
            assert!((some.amps[at] + rest.amps[at] - whole.amps[at]).abs() <= 1e-12 * size + 1e-7);
        }
    }

    #[test]
    fn resistances_are_mutual(network in network(), a in 0..24usize, b in 0..24usize) {
        let factored = network.factor();
        let nodes = factored.floating().len();
        let (a, b) = (a % nodes, b % nodes);
        let (forth, back) = (factored.resistance(a, b), factored.resistance(b, a));
        assert!(forth == back || near(forth, back), "{forth} {back}");
        let all = factored.resistances();
        let one = factored.resistance(a, 0);
        assert!(all[a] == one || (all[a] - one).abs() <= 1e-12 * one, "{} {one}", all[a]);
    }

    #[test]
    fn order_does_not_matter(network in network()) {
        let mut turned = Network::new(network.nodes());
        for &(from, to, branch) in network.branches().iter().rev() {
            turned.branch(from, to, branch);
        }
        let (straight, turned) = (network.solve().unwrap(), turned.solve().unwrap());
        for (a, b) in straight.amps.iter().zip(turned.amps.iter().rev()) {
            assert!((a - b).abs() <= 1e-12 * a.abs() + 1e-20, "{a} {b}");
        }
        for (a, b) in straight.volts.iter().zip(&turned.volts) {
            // Beside tens of volts an attovolt is nothing.
            assert!((a - b).abs() <= 1e-13 * a.abs() + 1e-16, "{a} {b}");
        }
    }
}

#[test]
fn many_nodes_are_no_trouble() {
    let mut ladder = Network::new(1);
    let mut last = ladder.node();
    ladder.source(0, last, 12.0, 0.01);
    for _ in 0..20_000 {
        let next = ladder.node();
        ladder.resistor(last, next, 0.01);
        ladder.resistor(next, 0, 1e4);
        last = next;
    }
    let factored = ladder.factor();
    let answer = factored.solve().unwrap();
    assert!(answer.volts[last] > 0.0 && answer.volts[last] < 12.0);
    assert_eq!(factored.resistances().len(), last + 1);

    let side = 40;
    let mut mesh = Network::new(1 + side * side);
    let at = |x: usize, y: usize| 1 + x * side + y;
    for x in 0..side {
        for y in 0..side {
            if x + 1 < side {
                mesh.resistor(at(x, y), at(x + 1, y), 1.0);
            }
            if y + 1 < side {
                mesh.resistor(at(x, y), at(x, y + 1), 1.0);
            }
        }
    }
    mesh.source(0, at(0, 0), 1.0, 0.0);
    mesh.resistor(at(side - 1, side - 1), 0, 1.0);
    let answer = mesh.solve().unwrap();
    assert!(answer.volts[at(side - 1, side - 1)] > 0.0);
}

/// A network in which all nodes are joined, with so many decades between its resistances.
fn mesh(nodes: usize, decades: f64, floating: bool) -> Network {
    let mut network = Network::new(nodes);
    let mut seed = 7u64;
    let mut draw = || {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (seed >> 11) as f64 / (1u64 << 53) as f64
    };
    let first = usize::from(floating);
    for a in first..nodes {
        for b in first..a {
            let ohms = 10f64.powf(decades * (draw() - 0.5));
            network.resistor(a, b, ohms);
        }
    }
    network.source(first, nodes - 1, 10.0, 1.0);
    network
}

#[test]
fn meshes_are_solved_like_the_rest() {
    for (decades, floating) in [(2.0, false), (2.0, true), (6.0, false), (15.0, false), (15.0, true)] {
        let network = mesh(60, decades, floating);
        let branches = network.branches().to_vec();
        let factored = network.clone().factor();
        let answer = factored.solve().unwrap();
        first_law(&branches, &answer, 1e-12);
        assert_eq!(answer.floating[5], floating);
        for (&(from, to, branch), &amps) in branches.iter().zip(&answer.amps) {
            if let Branch::Resistor(ohms) = branch {
                let across = answer.volts[from] - answer.volts[to];
                assert!((across - amps * ohms).abs() <= 1e-13 * 10.0, "{across} {amps} {ohms}");
            }
        }
        // Hung on wires, so that the core is only a part of it.
        let mut hung = network;
        let near = hung.node();
        hung.resistor(3, near, 2.0);
        let far = hung.node();
        hung.resistor(near, far, 3.0);
        let hung = hung.factor();
        let ends = hung.resistance(far, 5);
        assert!((ends - factored.resistance(3, 5) - 5.0).abs() < 1e-9, "{ends}");
        if !floating {
            let all = hung.resistances();
            assert!((all[far] - all[3] - 5.0).abs() < 1e-6, "{} {}", all[far], all[3]);
            let one = hung.resistance(5, 0);
            assert!((all[5] - one).abs() < 1e-6 * one, "{} {one}", all[5]);
        } else {
            assert_eq!(hung.resistances()[far], f64::INFINITY);
        }
    }
}
