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
use keyon_solve::{Never, State, table, worst_base};

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
