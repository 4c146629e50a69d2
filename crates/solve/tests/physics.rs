//! Physics as properties of whole circuits: Kirchhoff's second law, the power balance, superposition, reciprocity, monotone
//! answers to a growing load, and the same result whatever order things are written in. (Kirchhoff's first law and the
//! elements' own laws are in `laws.rs`.)

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod common;
mod support;
use common::{read, reference};
use keyon_circuit::{ids::*, model::*, value::Num};
use keyon_solve::{Amps, NodeState, Solution, State, solve};
use proptest::prelude::*;
use support::random::{Draft, Drawn, build, draft};

/// Wires, resistors, lamps, windings, coils, diodes, supplies, references, stages, contacts, tracks, grounds.
const STILL: &[u8] = &[0, 0, 1, 2, 3, 4, 6, 8, 9, 10, 10, 11, 12, 14, 15, 17, 17];
/// Linear as it stands: nothing that changes over, and nothing but loads between supplies.
const LINEAR: &[u8] = &[2, 2, 2, 3, 3, 3, 4, 4, 10, 15];

fn solved((points, drawn, positions, _): &Draft) -> (Circuit, State, Solution) {
    let (circuit, state) = build(*points, drawn, positions, 1.0);
    let solution = solve(&circuit, &state);
    (circuit, state, solution)
}

fn clashes(solution: &Solution) -> bool {
    solution.amps.contains(&Amps::Unlimited)
}

fn amps(solution: &Solution, element: usize) -> f64 {
    solution.amps[element].known().unwrap()
}

/// Volts that an element loses from `from` to `to`, by its own law and its own current; `None` where that says nothing
/// (open, or a source at its limit).
fn lost(circuit: &Circuit, solution: &Solution, index: usize) -> Option<f64> {
    let element = &circuit.elements[index];
    let amps = solution.amps[index].known().filter(|_| solution.conducts[index])?;
    // Beside a clash there are no figures.
    let clash = |p: PointId| solution.node_states[p.index()] == NodeState::Clash;
    if clash(element.from) || clash(element.to) {
        return None;
    }
    match &element.law {
        Law::Joint => Some(0.0),
        Law::Resistance(ohms) | Law::Coil { ohms, .. } => Some(amps * ohms.nominal),
        Law::Rated { watts, volts, .. } => Some(amps * volts.nominal * volts.nominal / watts.nominal),
        Law::Diode { drop } => Some(drop.nominal),
        Law::Source { volts, inner, limit, .. } => {
            let folded = limit.is_some_and(|limit| amps.abs() >= limit.nominal * (1.0 - 1e-9));
            (!folded).then_some(amps * inner.nominal - volts.nominal)
        }
        _ => None,
    }
}

/// Kirchhoff's second law: around every loop that a spanning tree closes, the losses add up to nothing. Figures of
/// potentials do not enter: only currents and what the elements are.
fn second_law(circuit: &Circuit, solution: &Solution) -> usize {
    // Height of each point over its tree's root, walked over elements whose loss is known.
    let mut height: Vec<Option<f64>> = vec![None; circuit.points.len()];
    let edges: Vec<(usize, usize, f64)> = (0..circuit.elements.len())
        .filter_map(|index| {
            let element = &circuit.elements[index];
            Some((element.from.index(), element.to.index(), lost(circuit, solution, index)?))
        })
        .collect();
    let mut used = vec![false; edges.len()];
    for root in 0..height.len() {
        if height[root].is_some() {
            continue;
        }
        height[root] = Some(0.0);
        let mut grown = true;
        while grown {
            grown = false;
            for (index, &(from, to, lost)) in edges.iter().enumerate() {
                match (height[from], height[to]) {
                    (Some(h), None) => height[to] = Some(h - lost),
                    (None, Some(h)) => height[from] = Some(h + lost),
                    _ => continue,
                }
                (used[index], grown) = (true, true);
            }
        }
    }
    let mut loops = 0;
    for (&(from, to, lost), _) in edges.iter().zip(&used).filter(|(_, used)| !**used) {
        let (Some(a), Some(b)) = (height[from], height[to]) else { continue };
        let size = 1.0 + a.abs() + b.abs() + lost.abs();
        assert!((a - b - lost).abs() <= 1e-8 * size, "a loop leaves {} V", a - b - lost);
        loops += 1;
    }
    loops
}

/// What sources give is what the rest takes: by volts and amps (Tellegen), and by ohms and drops.
fn power_balance(circuit: &Circuit, solution: &Solution) {
    let (mut sum, mut given, mut taken, mut size) = (0.0, 0.0, 0.0, 1e-6);
    for (index, element) in circuit.elements.iter().enumerate() {
        let Some(amps) = solution.amps[index].known() else { return };
        let at = |p: PointId| solution.unloaded[p.index()];
        if amps == 0.0 {
            continue;
        }
        // An island that floats has no volts against ground, and balances by itself.
        let (Some(from), Some(to)) = (at(element.from), at(element.to)) else { return };
        let power = (from - to) * amps;
        sum += power;
        size += power.abs();
        match &element.law {
            Law::Source { .. } => given -= power,
            _ => taken += power,
        }
        if let (Some(lost), false) =
            (lost(circuit, solution, index), matches!(element.law, Law::Source { .. }))
        {
            assert!(lost * amps >= -1e-9 * size, "{} gives power", element.name);
        }
    }
    assert!(sum.abs() <= 1e-8 * size, "{sum} W of {size} W are left over");
    assert!((given - taken).abs() <= 1e-8 * size, "{given} W given, {taken} W taken");
}

/// The supplies of a circuit.
fn sources(circuit: &Circuit) -> Vec<usize> {
    let is = |e: &Element| matches!(e.law, Law::Source { limit: None, .. });
    (0..circuit.elements.len()).filter(|&i| is(&circuit.elements[i])).collect()
}

fn with_volts(law: &Law, volts: f64) -> Law {
    match law {
        Law::Source { inner, limit, range, .. } => {
            Law::Source { volts: Num::exact(volts), inner: *inner, limit: *limit, range: *range }
        }
        other => other.clone(),
    }
}

/// Volts that a milliampere into one point lifts another by, all supplies at 0 V. A source at its limit is a source of
/// current. `None` where that has no way back.
fn lift(draft: &Draft, into: usize, at: usize) -> Option<f64> {
    let (circuit, mut state, _) = solved(draft);
    let (into, at) = (into % circuit.points.len(), at % circuit.points.len());
    for source in sources(&circuit) {
        state.changes.push(Change::Replace(source.into(), with_volts(&circuit.elements[source].law, 0.0)));
    }
    let limit = Some(Num::exact(1e-3));
    let law = Law::Source { volts: Num::exact(1e6), inner: Num::exact(0.0), limit, range: None };
    state.changes.push(Change::Add { from: COMMON, to: into.into(), law });
    let solution = solve(&circuit, &state);
    let current = solution.amps[circuit.elements.len()].known();
    (current == Some(1e-3)).then(|| solution.unloaded[at]).flatten()
}

/// So many cases, or as many as `PROPTEST_CASES` asks for.
fn config(cases: u32) -> ProptestConfig {
    let cases = std::env::var("PROPTEST_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(cases);
    ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() }
}

/// Two supplies of different volts side by side clash also where only a load ties them to ground.
#[test]
fn supplies_that_float_side_by_side_clash() {
    let drawn = |kind, from, to, pick| Drawn { kind, from, to, size: 0.0, gate: 0, pick };
    let drawn = vec![drawn(10, 6, 5, 36), drawn(2, 6, 0, 0), drawn(2, 5, 6, 0), drawn(10, 6, 5, 60)];
    let (circuit, mut state, alike) = solved(&(8, drawn, vec![0; 3], 1.0));
    assert!(!clashes(&alike));
    state.changes.push(Change::Replace(3.into(), with_volts(&circuit.elements[3].law, 6.0)));
    assert!(clashes(&solve(&circuit, &state)));
}

proptest! {
    #![proptest_config(config(250))]

    #[test]
    fn volts_around_a_loop_and_power_balance(draft in draft(STILL, 40)) {
        let (circuit, _, solution) = solved(&draft);
        if solution.chatters.is_empty() {
            second_law(&circuit, &solution);
            power_balance(&circuit, &solution);
        }
    }

    /// Superposition: each supply alone, the others at 0 V, in sum.
    #[test]
    fn supplies_superpose(draft in draft(LINEAR, 40)) {
        let (circuit, state, whole) = solved(&draft);
        let supplies = sources(&circuit);
        let alone: Vec<Solution> = supplies
            .iter()
            .map(|&alive| {
                let mut state = state.clone();
                for &other in supplies.iter().filter(|&&s| s != alive) {
                    state.changes.push(Change::Replace(other.into(), with_volts(&circuit.elements[other].law, 0.0)));
                }
                solve(&circuit, &state)
            })
            .collect();
        // A supply of 0 V beside one of 12 V is a short: nothing to add up.
        if clashes(&whole) || alone.iter().any(clashes) {
            return Ok(());
        }
        for index in 0..circuit.elements.len() {
            let parts: Vec<f64> = alone.iter().map(|s| amps(s, index)).collect();
            let (sum, size) = (parts.iter().sum::<f64>(), parts.iter().map(|a| a.abs()).sum::<f64>());
            prop_assert!((sum - amps(&whole, index)).abs() <= 1e-8 * (1e-3 + size), "{}", circuit.elements[index].name);
        }
        for point in 0..circuit.points.len() {
            let parts: Option<Vec<f64>> = alone.iter().map(|s| s.unloaded[point]).collect();
            if let (Some(parts), Some(volts)) = (parts, whole.unloaded[point]) {
                prop_assert!((parts.iter().sum::<f64>() - volts).abs() <= 1e-8 * (1.0 + volts.abs()));
            }
        }
    }

    /// Reciprocity: what a current into one point lifts another by, the same current into the other lifts the one by.
    #[test]
    fn transfer_is_mutual(draft in draft(LINEAR, 40), a in 1..12usize, b in 1..12usize) {
        if let (Some(there), Some(back)) = (lift(&draft, a, b), lift(&draft, b, a)) {
            prop_assert!((there - back).abs() <= 1e-9 * (1e-6 + there.abs()), "{there} {back}");
        }
    }

    /// A load that takes more takes no less current, keeps no more volts, and pulls no supply up (J. Rayleigh's law of
    /// monotone networks).
    #[test]
    fn a_growing_load_pulls_down(draft in draft(LINEAR, 40), pick in any::<usize>(), factor in 0.05..0.95f64) {
        let (circuit, state, before) = solved(&draft);
        let loads: Vec<usize> = (0..circuit.elements.len())
            .filter(|&i| circuit.elements[i].kind.is_load() && matches!(circuit.elements[i].law, Law::Resistance(_)))
            .collect();
        if loads.is_empty() || clashes(&before) {
            return Ok(());
        }
        let load = loads[pick % loads.len()];
        let Law::Resistance(ohms) = &circuit.elements[load].law else { unreachable!() };
        let mut heavier = state.clone();
        heavier.changes.push(Change::Replace(load.into(), Law::Resistance(Num::exact(ohms.nominal * factor))));
        let after = solve(&circuit, &heavier);
        let across = |s: &Solution, ohms: f64| (amps(s, load) * ohms).abs();
        let slack = 1e-9;
        prop_assert!(amps(&after, load).abs() >= amps(&before, load).abs() * (1.0 - slack) - slack);
        prop_assert!(across(&after, ohms.nominal * factor) <= across(&before, ohms.nominal) * (1.0 + slack) + slack);
        // One supply alone: it gives no less than before.
        if let [supply] = sources(&circuit)[..] {
            prop_assert!(amps(&after, supply) >= amps(&before, supply) * (1.0 - slack) - slack);
            if let (Some(was), Some(is)) = (
                before.unloaded[circuit.elements[supply].to.index()],
                after.unloaded[circuit.elements[supply].to.index()],
            ) && circuit.elements[supply].from == COMMON
            {
                prop_assert!(is <= was + slack);
            }
        }
    }

    /// The same state twice gives the same bits, whatever was solved in between.
    #[test]
    fn states_do_not_remember_each_other(draft in draft(STILL, 30), other in prop::collection::vec(0..3u8, 3)) {
        let (circuit, state, first) = solved(&draft);
        let mut elsewhere = state.clone();
        elsewhere.positions.copy_from_slice(&other);
        solve(&circuit, &elsewhere);
        let again = solve(&circuit, &state);
        prop_assert_eq!(format!("{first:?}"), format!("{again:?}"));
    }
}

/// What is proved does occur: loops around which something is lost, several supplies at once, points that a current
/// into another lifts.
#[test]
fn random_circuits_have_what_is_proved_of_them() {
    use proptest::{strategy::ValueTree, test_runner::TestRunner};
    let mut runner = TestRunner::deterministic();
    let (mut loops, mut several, mut lifted) = (0, 0, 0);
    for _ in 0..60 {
        let (circuit, _, solution) = solved(&draft(STILL, 40).new_tree(&mut runner).unwrap().current());
        loops += second_law(&circuit, &solution);
        let linear = draft(LINEAR, 40).new_tree(&mut runner).unwrap().current();
        let (circuit, _, solution) = solved(&linear);
        several += usize::from(sources(&circuit).len() > 1 && !clashes(&solution));
        lifted += usize::from(lift(&linear, 3, 4).is_some_and(|v| v > 1e-6));
    }
    assert!(
        loops > 150 && several >= 8 && lifted > 5,
        "{loops} loops, {several} of several supplies, {lifted} lifted"
    );
}

/// The items of a text: what begins at the left edge, with its body.
fn items(text: &str) -> Vec<String> {
    let mut items: Vec<String> = Vec::new();
    for line in text.lines() {
        match items.last_mut().filter(|_| line.is_empty() || line.starts_with([' ', '}'])) {
            Some(item) => item.push_str(line),
            None => items.push(line.to_owned()),
        }
        items.last_mut().unwrap().push('\n');
    }
    items
}

/// Items in any order, and wires written from either end, give the same circuit: by name, figure for figure.
#[test]
fn order_of_items_and_direction_of_wires_do_not_matter() {
    let mut compared = 0;
    for line in reference("circuits.jsonl").lines().step_by(5) {
        let json: serde_json::Value = serde_json::from_str(line).unwrap();
        let text = json["text"].as_str().unwrap();
        // What draws and leaves the page goes by the first supply's volts.
        if text.contains("supply upper") {
            continue;
        }
        let mut items = items(text);
        let scramble = json["seed"].as_u64().unwrap() | 1;
        items[1..].sort_by_cached_key(|item| {
            item.bytes().fold(scramble, |h, b| (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3))
        });
        let mut turned = Vec::new();
        for item in items.iter_mut() {
            let words: Vec<String> = item.split_whitespace().map(str::to_owned).collect();
            if words[0] == "wire" && words.iter().filter(|w| *w == "->").count() == 1 && turned.len() < 4 {
                *item = format!("wire {} {} -> {} {}\n", words[1], words[4], words[2], words[5..].join(" "));
                turned.push(words[1].clone());
            }
        }
        let other: String = items.concat();
        let solve_text = |text: &str| {
            let circuit = read("order", text).circuit;
            let state = State::scenario(&circuit, ScenarioId(0));
            let solution = solve(&circuit, &state);
            (circuit, solution)
        };
        let ((c, s), (d, t)) = (solve_text(text), solve_text(&other));
        assert_ne!(text, other);
        for (at, point) in c.points.iter().enumerate() {
            let there = d.points.iter().position(|p| p.name == point.name).unwrap();
            assert_eq!(s.node_states[at], t.node_states[there], "{}\n{text}\n{other}", point.name);
            match (s.volts[at], t.volts[there]) {
                (Some(a), Some(b)) => {
                    assert!((a - b).abs() <= 1e-9 * (1.0 + a.abs()), "{}: {a} {b}", point.name)
                }
                (a, b) => assert_eq!(a, b, "{}", point.name),
            }
        }
        for (at, element) in c.elements.iter().enumerate() {
            let Some(there) = d.elements.iter().position(|e| e.name == element.name) else { continue };
            let sign = if turned.iter().any(|w| element.name == **w) { -1.0 } else { 1.0 };
            let (a, b) = (s.amps[at].known().unwrap(), sign * t.amps[there].known().unwrap());
            assert!((a - b).abs() <= 1e-9 * (1.0 + a.abs()), "{}: {a} {b}", element.name);
            compared += 1;
        }
        assert_eq!(s.blown.len(), t.blown.len());
    }
    assert!(compared > 1500, "{compared} currents");
}
