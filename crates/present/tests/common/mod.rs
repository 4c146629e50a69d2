//! Circuits from text, without libraries.

use keyon_circuit::{Source, World, elaborate, model::Circuit};
use std::sync::Arc;

struct NoLibraries;

impl World for NoLibraries {
    fn library(&self, _: &str, _: &str) -> Option<Source> {
        None
    }
}

pub(crate) fn circuit(text: &str) -> Circuit {
    let parse = Arc::new(keyon_syntax::parse(text));
    elaborate(&NoLibraries, &Source { key: "a.keyon".into(), text: text.into(), parse }).circuit
}
