//! Many states at once against one state at a time.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod common;
mod support;

use common::brute::solve_at;
use keyon_circuit::{ids::*, model::Circuit};
use keyon_solve::{Never, State, Tracer};
use proptest::{prelude::*, test_runner::Config};
use support::random::{Draft, build, draft};

/// What a comparison saw.
#[derive(Clone, Copy, Debug, Default)]
struct Seen {
    states: u64,
    doubtful: u64,
}

/// Every state of these controls, traced and solved.
fn compare(circuit: &Circuit, base: &State, controls: &[ControlId]) -> Result<Seen, String> {
    let tracer = Tracer::new(circuit, base, controls).ok_or("too meshed")?;
    let mut seen = Seen::default();
    let mut wrong = None;
    let mut look = |traced: &keyon_solve::Traced<'_>| {
        for at in 0..traced.count {
            seen.states += 1;
            let number = traced.first + at as u64;
            let mut positions = base.positions.clone();
            for (control, position) in tracer.positions(number) {
                positions[control.index()] = position;
            }
            if traced.state(PointId(0), at).is_none() {
                seen.doubtful += 1;
                continue;
            }
            if wrong.is_some() {
                continue;
            }
            let solution = solve_at(circuit, base, &positions);
            for point in (0..circuit.points.len()).map(PointId::from) {
                let (traced, solved) = (traced.state(point, at), solution.node_states[point.index()]);
                if traced != Some(solved) {
                    let name = &circuit.points[point.index()].name;
                    wrong = Some(format!("{name} is {solved:?}, traced {traced:?} in {positions:?}"));
                    break;
                }
            }
        }
    };
    tracer.trace(&Never, &mut look).expect("never cancelled");
    wrong.map_or(Ok(seen), Err)
}

fn random(draft: &Draft, keep_fuses: bool) -> Result<Seen, String> {
    let (points, drawn, positions, _) = draft;
    let (circuit, mut base) = build(*points, drawn, positions, 1.0);
    base.options.keep_fuses = keep_fuses;
    let controls: Vec<ControlId> = (0..circuit.controls.len()).map(ControlId::from).collect();
    compare(&circuit, &base, &controls)
}

/// `PROPTEST_CASES` for a long run.
fn cases() -> u32 {
    std::env::var("PROPTEST_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(150)
}

/// Everything there is.
const ALL: &[u8] = &[0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 10, 11, 12, 13, 14, 14, 14, 15, 16, 17, 17];
/// Wiring, loads, contacts, one kind of supply, ground.
const PLAIN: &[u8] = &[0, 1, 2, 4, 10, 13, 14, 14, 14, 14, 17];

proptest! {
    #![proptest_config(Config { cases: cases(), failure_persistence: None, ..Config::default() })]

    #[test]
    fn random_circuits_are_traced_as_they_are_solved(draft in draft(ALL, 24), keep in any::<bool>()) {
        if let Err(wrong) = random(&draft, keep) {
            prop_assert!(false, "{wrong}");
        }
    }

    #[test]
    fn plain_wiring_leaves_no_doubt(mut draft in draft(PLAIN, 24)) {
        // Supplies on ground only, contacts that controls move.
        for d in &mut draft.1 {
            d.gate %= 6;
            d.pick |= usize::from(d.kind == 10);
            if d.kind == 10 && d.to % draft.0 == 0 {
                d.kind = 2;
            }
        }
        match random(&draft, true) {
            Ok(seen) => prop_assert_eq!(seen.doubtful, 0),
            Err(wrong) => prop_assert!(false, "{}", wrong),
        }
    }
}

/// The corpus: eight controls at a time vary, the others rest. How much is left in doubt is counted.
#[test]
fn the_corpus_is_traced_as_it_is_solved() {
    let mut all = Seen::default();
    for entry in std::fs::read_dir(common::corpus().join("circuits")).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let text = std::fs::read_to_string(&path).unwrap();
        let source = common::source(&name, &text);
        let world = common::Folder(common::corpus().join("circuits"));
        let elaboration = keyon_circuit::elaborate(&world, &source);
        let circuit = &elaboration.circuit;
        let controls: Vec<ControlId> = (0..circuit.controls.len()).map(ControlId::from).collect();
        for chosen in controls.chunks(5) {
            for keep in [false, true] {
                let mut base = State::rest(circuit);
                base.options.keep_fuses = keep;
                let seen = compare(circuit, &base, chosen).unwrap_or_else(|e| panic!("{name}: {e}"));
                all.states += seen.states;
                all.doubtful += seen.doubtful;
            }
        }
    }
    assert!(all.states > 500, "{all:?}");
    assert!(all.doubtful * 2 < all.states, "{all:?}");
}
