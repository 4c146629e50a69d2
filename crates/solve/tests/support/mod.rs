//! Circuits from text, and figures by name.
#![allow(dead_code)]

pub(crate) mod random;

use keyon_circuit::{Elaboration, Source, World, elaborate, model::Circuit};
use keyon_solve::{Amps, Solution, State, solve};
use std::sync::Arc;

struct NoLibraries;

impl World for NoLibraries {
    fn library(&self, _: &str, _: &str) -> Option<Source> {
        None
    }
}

/// Elaborates a text; problems fail the test.
#[track_caller]
pub(crate) fn circuit(text: &str) -> Elaboration {
    let source =
        Source { key: "test.keyon".into(), text: text.into(), parse: Arc::new(keyon_syntax::parse(text)) };
    assert!(source.parse.errors.is_empty(), "{:#?}", source.parse.errors);
    let elaboration = elaborate(&NoLibraries, &source);
    let errors: Vec<&str> = elaboration.problems.iter().map(|p| p.message.as_str()).collect();
    assert!(errors.is_empty(), "{errors:#?}");
    elaboration
}

/// A circuit in a state.
pub(crate) struct Solved {
    pub(crate) elaboration: Elaboration,
    pub(crate) solution: Solution,
}

/// Solves a text with settings as a command line has them (`key run`, `open 431` is given with `changes`).
#[track_caller]
pub(crate) fn solved(text: &str, settings: &[&str]) -> Solved {
    solved_with(text, settings, |_, _| {})
}

/// The same with a hand on the state.
#[track_caller]
pub(crate) fn solved_with(
    text: &str,
    settings: &[&str],
    adjust: impl FnOnce(&Circuit, &mut State),
) -> Solved {
    let elaboration = circuit(text);
    let mut state = State::rest(&elaboration.circuit);
    for setting in settings {
        state = state.with(&elaboration.parse_setting(setting).unwrap());
    }
    adjust(&elaboration.circuit, &mut state);
    let solution = solve(&elaboration.circuit, &state);
    Solved { elaboration, solution }
}

impl Solved {
    pub(crate) fn circuit(&self) -> &Circuit {
        &self.elaboration.circuit
    }
    #[track_caller]
    pub(crate) fn point(&self, name: &str) -> usize {
        self.circuit().points.iter().position(|p| p.name == name).unwrap_or_else(|| panic!("no point {name}"))
    }
    #[track_caller]
    pub(crate) fn element(&self, name: &str) -> usize {
        let found = self.circuit().elements.iter().position(|e| e.name == name);
        found.unwrap_or_else(|| panic!("no element {name} in {:?}", self.names()))
    }
    pub(crate) fn names(&self) -> Vec<&str> {
        self.circuit().elements.iter().map(|e| e.name.as_str()).collect()
    }
    #[track_caller]
    pub(crate) fn state(&self, point: &str) -> &'static str {
        self.solution.node_states[self.point(point)].words()
    }
    /// As a meter reads it.
    #[track_caller]
    pub(crate) fn volts(&self, point: &str) -> f64 {
        self.solution.volts[self.point(point)].unwrap_or(f64::NAN)
    }
    #[track_caller]
    pub(crate) fn unloaded(&self, point: &str) -> Option<f64> {
        self.solution.unloaded[self.point(point)]
    }
    /// Not a number where it is unlimited.
    #[track_caller]
    pub(crate) fn amps(&self, element: &str) -> f64 {
        match self.solution.amps[self.element(element)] {
            Amps::Known(amps) => amps,
            Amps::Unlimited => f64::NAN,
        }
    }
    #[track_caller]
    pub(crate) fn device(&self, name: &str) -> &keyon_solve::DeviceState {
        let at = self.circuit().devices.iter().position(|d| d.name == name);
        &self.solution.devices[at.unwrap_or_else(|| panic!("no device {name}"))]
    }
    #[track_caller]
    pub(crate) fn does(&self, device: &str) -> &'static str {
        self.device(device).state.words()
    }
    pub(crate) fn path(&self, point: &str, source: bool) -> String {
        let point = keyon_circuit::ids::PointId::from(self.point(point));
        let path = if source {
            self.solution.path_to_source(self.circuit(), point)
        } else {
            self.solution.path_to_ground(self.circuit(), point)
        };
        let Some(path) = path else { return "none".into() };
        let names = path.steps.iter().map(|(e, _)| self.circuit().elements[e.index()].name.as_str());
        names.collect::<Vec<_>>().join(" · ")
    }
}
