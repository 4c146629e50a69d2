//! Truth tables of the corpus against combinations solved one by one.
//!
//! Here wires have resistance and supplies an inside one, so groups do touch one another by some millivolts (decision
//! 29): the words have to agree all the same.

#![allow(clippy::expect_used, clippy::panic)]

mod common;

use common::{
    brute::{combinations, differs, solve_at},
    corpus, read,
};
use keyon_solve::{Never, State, Survey, table, worst_base};

#[test]
fn tables_of_the_corpus() {
    let mut compared = 0;
    for entry in std::fs::read_dir(corpus().join("circuits")).expect("the corpus is there") {
        let path = entry.expect("a file").path();
        let name = path.file_name().expect("a name").to_string_lossy().into_owned();
        let circuit = read(&name, &std::fs::read_to_string(&path).expect("text")).circuit;
        // What another group's current does to a shared fuse is not a table's business.
        let base = worst_base(&circuit, &State::rest(&circuit), false);
        let table = table(&circuit, &base, &[], &[], &[], &Never).expect("never cancelled");
        let all = combinations(&circuit, 40);
        for group in &table.groups {
            assert_eq!(group.cut, None, "{name}");
        }
        for positions in &all {
            let solution = solve_at(&circuit, &base, positions);
            for group in &table.groups {
                compared += group.devices.len();
                if let Err(wrong) = differs(&circuit, group, &solution, f64::INFINITY) {
                    panic!("{name}: {wrong} at {positions:?}");
                }
            }
        }
    }
    assert!(compared > 1000, "{compared} words compared");
}

/// A device behind a module with two bridges depends on its own driver and the key alone.
#[test]
fn bridges_do_not_tie_a_harness_together() {
    let circuit = read("orchard_sprayer.keyon", &corpus_text("orchard_sprayer.keyon")).circuit;
    let rate = circuit.devices.iter().position(|d| d.name == "rate").expect("the rate valve");
    let base = State::rest(&circuit);
    let table = table(&circuit, &base, &[rate.into()], &[], &[], &Never).expect("never cancelled");
    let [group] = table.groups.as_slice() else { panic!("one device, one group") };
    let names: Vec<&str> = group.controls.iter().map(|c| circuit.controls[c.index()].name.as_str()).collect();
    assert_eq!(names, ["key", "rate_1", "rate_2", "rate_3"]);
    assert_eq!(group.cut, None);
}

/// What clears a wire without a search must never clear one that carries more.
#[test]
fn bounds_of_currents_hold() {
    let mut compared = 0;
    for entry in std::fs::read_dir(corpus().join("circuits")).expect("the corpus is there") {
        let path = entry.expect("a file").path();
        let name = path.file_name().expect("a name").to_string_lossy().into_owned();
        let circuit = read(&name, &corpus_text(&name)).circuit;
        let base = worst_base(&circuit, &State::rest(&circuit), true);
        let survey = Survey::new(&circuit, &base);
        let bounds: Vec<f64> = (0..circuit.elements.len()).map(|e| survey.current_bound(e.into())).collect();
        for positions in combinations(&circuit, 60) {
            let solution = solve_at(&circuit, &base, &positions);
            if !solution.clashes.is_empty() {
                continue;
            }
            for (e, bound) in bounds.iter().enumerate() {
                let amps = solution.amps[e].known().map_or(0.0, f64::abs);
                assert!(
                    amps <= bound * (1.0 + 1e-9) + 1e-9,
                    "{name}: {} {amps} A over {bound}",
                    circuit.elements[e].name
                );
                compared += usize::from(bound.is_finite() && amps > 0.0);
            }
        }
    }
    assert!(compared > 500, "{compared} currents compared with a finite bound");
}

fn corpus_text(name: &str) -> String {
    std::fs::read_to_string(corpus().join("circuits").join(name)).expect("text")
}
