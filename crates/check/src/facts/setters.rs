//! What somebody sets by hand, or a level moves, in line with a load: a dimmer, a tank sender.

use super::{Facts, paths::state_of};
use keyon_circuit::{
    ids::*,
    model::{Element, ElementKind, Law},
};
use keyon_solve::{Cancelled, Cases, Solution, State, Survey, Worst, solve};
use std::sync::Arc;

/// States of a device that are looked at with its setters elsewhere.
const SOME: usize = 64;

impl<'a> Facts<'a> {
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

    /// The survey of the worst with every variable resistance at its low end, where there is any.
    fn turned_up(&self) -> Result<Option<&Survey<'a>>, Cancelled> {
        if let Some(known) = self.turned_up.get() {
            return Ok(known.as_ref());
        }
        let variable = self.circuit.elements.iter().any(|e| e.kind == ElementKind::Variable);
        let base = if variable { Some(self.variables_low(&self.mend(self.top())?)) } else { None };
        Ok(self.turned_up.get_or_init(|| base.map(|base| Survey::new(self.circuit, &base))).as_ref())
    }

    /// [`Facts::worst_above`] with what somebody can turn turned up as well: every variable resistance in its middle, or at its low
    /// end, whichever lets more through.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn worst_set_above(&self, element: ElementId, amps: f64) -> Result<Option<Arc<Worst>>, Cancelled> {
        let middle = self.worst_above(element, amps)?;
        let Some(survey) = self.turned_up()? else { return Ok(middle) };
        // Of a short there is enough to say already.
        if middle.as_ref().is_some_and(|w| w.unlimited.is_some()) || survey.current_bound(element) < amps {
            return Ok(middle);
        }
        let low = survey.worst_current(element, self.cancel)?;
        let more = low.amps.abs() > middle.as_ref().map_or(amps, |w| w.amps.abs()) * (1.0 + 1e-6);
        Ok(if more && low.unlimited.is_none() { Some(Arc::new(low)) } else { middle })
    }

    /// [`Facts::fewest`], and the variable resistances that have to stand where they do: all others are in their middle.
    pub fn fewest_set(&self, state: &State, holds: impl Fn(&Solution) -> bool) -> (Fewest, Solution) {
        let (away, mut solution) = self.fewest(state, &holds);
        let mut state = solution.state.clone();
        let mut set = Vec::new();
        for (i, stimulus) in self.circuit.stimuli.iter().enumerate() {
            let Some(at) = state.stimuli.get(i).copied().filter(|at| *at != stimulus.nominal) else {
                continue;
            };
            let put = |state: &mut State, value: f64| {
                if let Some(at) = state.stimuli.get_mut(i) {
                    *at = value;
                }
            };
            put(&mut state, stimulus.nominal);
            let tried = solve(self.circuit, &state);
            if holds(&tried) {
                solution = tried;
            } else {
                put(&mut state, at);
                set.push((StimulusId::from(i), at));
            }
        }
        (Fewest { away, set }, solution)
    }

    fn variables_low(&self, state: &State) -> State {
        let mut state = state.clone();
        for e in &self.circuit.elements {
            let Law::Variable { stimulus, .. } = e.law else { continue };
            let low = self.circuit.stimuli.get(stimulus.index()).map(|s| s.span.0);
            if let (Some(low), Some(at)) = (low, state.stimuli.get_mut(stimulus.index())) {
                *at = low;
            }
        }
        state
    }
}

/// What has to be set for something to show.
#[derive(Clone, Debug)]
pub struct Fewest {
    /// Controls away from rest.
    pub away: Vec<(ControlId, usize)>,
    /// Variable resistances, and their ohms.
    pub set: Vec<(StimulusId, f64)>,
}
