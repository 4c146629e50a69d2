//! What somebody sets by hand, or a level moves, in line with a load: a dimmer, a tank sender.

use super::{Facts, paths::state_of};
use keyon_circuit::{
    ids::*,
    model::{Element, ElementKind, Law},
};
use keyon_solve::{Cases, State, solve};

/// States of a device that are looked at with its setters elsewhere.
const SOME: usize = 64;

impl Facts<'_> {
    /// Whether a load works with every variable resistance and track at one end of its span, or at the other: it stands in the
    /// middle where nobody says otherwise, and a dimmer there dims.
    pub(super) fn works_at_an_end(&self, device: DeviceId, load: ElementId, cases: &Cases) -> bool {
        let sets = |e: &Element| matches!(e.kind, ElementKind::Variable | ElementKind::Track(_));
        if !self.circuit.elements.iter().any(sets) {
            return false;
        }
        cases.cases.iter().take(SOME).any(|case| {
            [false, true].into_iter().any(|high| {
                let state = self.setters_at(&case.solution.state, high);
                state_of(&solve(self.circuit, &state), device, load).operates()
            })
        })
    }

    /// A state with every variable resistance and track at the low end of its span, or at the high one.
    pub(super) fn setters_at(&self, state: &State, high: bool) -> State {
        let mut state = state.clone();
        for e in &self.circuit.elements {
            let (Law::Variable { stimulus, .. } | Law::Track { stimulus, .. }) = e.law else { continue };
            let span = self.circuit.stimuli.get(stimulus.index()).map(|s| s.span);
            if let (Some((low, top)), Some(at)) = (span, state.stimuli.get_mut(stimulus.index())) {
                *at = if high { top } else { low };
            }
        }
        state
    }
}
