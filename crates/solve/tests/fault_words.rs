//! A fault of the catalogue is what its words say when somebody writes them.

#![allow(clippy::expect_used, clippy::panic)]

mod common;

use common::{corpus, read};
use keyon_circuit::model::Change;
use keyon_solve::fault::single_faults;

#[test]
fn the_words_of_a_fault_are_read_as_that_fault() {
    let mut compared = 0;
    for entry in std::fs::read_dir(corpus().join("circuits")).expect("the corpus is there") {
        let path = entry.expect("a file").path();
        let name = path.file_name().expect("a name").to_string_lossy().into_owned();
        let elaboration = read(&name, &std::fs::read_to_string(&path).expect("text"));
        for fault in single_faults(&elaboration.circuit) {
            let read = elaboration.parse_fault(&fault.words);
            let read = read.unwrap_or_else(|error| panic!("{name}: {}: {error}", fault.words));
            let ends = |changes: &[Change]| {
                let mut said: Vec<String> = changes.iter().map(|change| format!("{change:?}")).collect();
                said.sort();
                said
            };
            // Two points that contacts alone part are one place to a short.
            if fault.joins.is_none() {
                assert_eq!(ends(&read), ends(&fault.changes), "{name}: {}", fault.words);
            } else {
                assert_eq!(read.len(), 1, "{name}: {}", fault.words);
                assert_eq!(ends(&read), ends(&fault.changes), "{name}: {}", fault.words);
            }
            compared += 1;
        }
    }
    assert!(compared > 1000, "{compared} faults");
}
