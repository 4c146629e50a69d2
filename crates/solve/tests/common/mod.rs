//! From text to a circuit, for the tests.

#![allow(dead_code)]

pub(crate) mod agrees;
pub(crate) mod brute;
pub(crate) mod csv;

use keyon_circuit::{Elaboration, Source, World, elaborate, ids::*, model::Circuit};
use std::{path::PathBuf, sync::Arc};

/// Files beside one another in a folder.
pub(crate) struct Folder(pub(crate) PathBuf);

impl World for Folder {
    fn library(&self, _from: &str, path: &str) -> Option<Source> {
        let at = self.0.join(path);
        std::fs::read_to_string(&at).ok().map(|text| source(path, &text))
    }
}

pub(crate) fn source(key: &str, text: &str) -> Source {
    Source { key: key.into(), text: text.into(), parse: Arc::new(keyon_syntax::parse(text)) }
}

/// Elaborates a text that has to be without a mistake.
pub(crate) fn read(key: &str, text: &str) -> Elaboration {
    read_in(&Folder(corpus().join("circuits")), key, text)
}

pub(crate) fn read_in(world: &dyn World, key: &str, text: &str) -> Elaboration {
    let source = source(key, text);
    assert!(source.parse.errors.is_empty(), "{key}: {:#?}\n{text}", source.parse.errors);
    let elaboration = elaborate(world, &source);
    let mistakes: Vec<_> =
        elaboration.problems.iter().filter(|p| p.rule != "unused-name" && !p.mild).collect();
    assert!(mistakes.is_empty(), "{key}: {mistakes:#?}\n{text}");
    elaboration
}

pub(crate) fn corpus() -> PathBuf {
    PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../../corpus"))
}

pub(crate) fn reference(name: &str) -> String {
    let path = PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference")).join(name);
    std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

pub(crate) fn point(circuit: &Circuit, name: &str) -> PointId {
    let at = circuit.points.iter().position(|p| p.name == name);
    at.unwrap_or_else(|| panic!("no point {name}")).into()
}

pub(crate) fn element(circuit: &Circuit, name: &str) -> ElementId {
    let at = circuit.elements.iter().position(|e| e.name == name);
    at.unwrap_or_else(|| {
        let names: Vec<_> = circuit.elements.iter().map(|e| e.name.as_str()).collect();
        panic!("no element {name} among {names:?}")
    })
    .into()
}

pub(crate) fn device(circuit: &Circuit, name: &str) -> DeviceId {
    let at = circuit.devices.iter().position(|d| d.name == name);
    at.unwrap_or_else(|| panic!("no device {name}")).into()
}
