//! The states that matter.

use super::{Facts, swayed};
use keyon_circuit::{ids::*, model::Change};
use keyon_solve::{Cancelled, Cases, DEFAULT_LIMIT, Solution, State, Survey, Worst, solve, worst_base};
use std::sync::Arc;

/// States that are looked at where a few tell enough.
const SOME: usize = 64;

impl<'a> Facts<'a> {
    /// Controls at rest, sensors nominal, supplies as stated. Fuses stay whole: that one blows is a finding of its
    /// own, and not the reason of others.
    pub fn base(&self) -> State {
        worst_base(self.circuit, &self.rest(), false)
    }

    /// Nothing is measured where rules look: without a meter a state costs less.
    fn rest(&self) -> State {
        let mut rest = State::rest(self.circuit);
        rest.options.meter = f64::INFINITY;
        rest
    }

    /// The same with supplies at the top of their range (decision 34).
    pub fn top(&self) -> State {
        worst_base(self.circuit, &self.rest(), true)
    }

    /// A state in which nothing is shorted: what each short circuit is blamed on is opened. A short is a finding of its
    /// own, and what follows from it is none: most rules look at the circuit as it will be when the short is mended.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn mend(&self, mut state: State) -> Result<State, Cancelled> {
        state.changes.extend(self.shorts()?.iter().map(|short| Change::Open(short.blame)));
        Ok(state)
    }

    fn drawn(&self) -> &Survey<'a> {
        self.drawn.get_or_init(|| Survey::new(self.circuit, &self.base()))
    }

    fn mended(&self) -> Result<&Survey<'a>, Cancelled> {
        if self.shorts()?.is_empty() {
            return Ok(self.drawn());
        }
        let base = self.mend(self.base())?;
        Ok(self.mended.get_or_init(|| Survey::new(self.circuit, &base)))
    }

    fn highest(&self) -> Result<&Survey<'a>, Cancelled> {
        if let Some(known) = self.highest.get() {
            return Ok(known);
        }
        let top = self.mend(self.top())?;
        Ok(self.highest.get_or_init(|| Survey::new(self.circuit, &top)))
    }

    /// Every case of a device with no short circuit ([`Facts::mend`]), supplies at their stated volts; where sensors move
    /// relays, also at both ends of their spans.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn device_cases(&self, device: DeviceId) -> Result<Arc<Cases>, Cancelled> {
        if let Some(known) = self.cases.borrow().get(&device) {
            return Ok(known.clone());
        }
        let mut cases = self.mended()?.cases_of_device(device, DEFAULT_LIMIT, self.cancel)?;
        if self.swayed.get().is_none() {
            let base = self.mend(self.base())?;
            let _ = self.swayed.set(self.swayed_from(&base));
        }
        for survey in self.swayed.get().into_iter().flatten() {
            let more = survey.cases_of_device(device, DEFAULT_LIMIT, self.cancel)?;
            swayed::add(&mut cases, more, |c| self.all_positions(c));
        }
        let cases = Arc::new(cases);
        self.cases.borrow_mut().insert(device, cases.clone());
        Ok(cases)
    }

    /// The mask of all positions of a control.
    fn all_positions(&self, control: ControlId) -> u64 {
        let positions = self.circuit.controls.get(control.index()).map_or(1, |c| c.positions.len());
        u64::MAX >> (64 - positions.clamp(1, 64))
    }

    /// Every case of a device as it is drawn, short circuits and all; `None` where there are none, so that it would be
    /// the same again.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn shorted_cases(&self, device: DeviceId) -> Result<Option<Cases>, Cancelled> {
        if self.shorts()?.is_empty() {
            return Ok(None);
        }
        self.drawn().cases_of_device(device, DEFAULT_LIMIT, self.cancel).map(Some)
    }

    /// Every case of these points' node states and of whether these elements conduct, as drawn.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn cases_of(&self, points: &[PointId], elements: &[ElementId]) -> Result<Cases, Cancelled> {
        self.drawn().cases_of(points, elements, DEFAULT_LIMIT, self.cancel)
    }

    /// Cases of a point's volts with no short circuit, the first few where there are very many.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn some_volts_of(&self, point: PointId) -> Result<Cases, Cancelled> {
        self.mended()?.cases_of_point(point, SOME, self.cancel)
    }

    /// The same with one stimulus at a value of its own.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn some_volts_with(
        &self,
        point: PointId,
        stimulus: StimulusId,
        value: f64,
    ) -> Result<Cases, Cancelled> {
        let mut base = self.mend(self.base())?;
        if let Some(known) = base.stimuli.get_mut(stimulus.index()) {
            *known = value;
        }
        Survey::new(self.circuit, &base).cases_of_point(point, SOME, self.cancel)
    }

    /// The most that an element ever carries with no short circuit, supplies at the top of their range.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn worst(&self, element: ElementId) -> Result<Arc<Worst>, Cancelled> {
        if let Some(known) = self.worst.borrow().get(&element) {
            return Ok(known.clone());
        }
        let worst = Arc::new(self.highest()?.worst_current(element, self.cancel)?);
        self.worst.borrow_mut().insert(element, worst.clone());
        Ok(worst)
    }

    /// Amps that a piece of wiring never carries more of, by a bound.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn at_most(&self, element: ElementId) -> Result<f64, Cancelled> {
        Ok(self.highest()?.current_bound(element))
    }

    /// The same, if it may be more than this many amps: most pieces of wiring are cleared by a bound, without a search.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn worst_above(&self, element: ElementId, amps: f64) -> Result<Option<Arc<Worst>>, Cancelled> {
        if !self.worst.borrow().contains_key(&element) && self.highest()?.current_bound(element) < amps {
            return Ok(None);
        }
        self.worst(element).map(Some)
    }

    /// The controls that have to leave rest for `holds` to stay true, beginning from a state in which it is: as few as
    /// going back to rest one by one finds. With the state they give.
    pub fn fewest(
        &self,
        state: &State,
        holds: impl Fn(&Solution) -> bool,
    ) -> (Vec<(ControlId, usize)>, Solution) {
        let mut state = state.clone();
        let mut solution = solve(self.circuit, &state);
        for control in (0..state.positions.len()).rev() {
            let Some(position) = state.positions.get(control).copied().filter(|&p| p != 0) else { continue };
            if let Some(at) = state.positions.get_mut(control) {
                *at = 0;
            }
            let tried = solve(self.circuit, &state);
            if holds(&tried) {
                solution = tried;
            } else if let Some(at) = state.positions.get_mut(control) {
                *at = position;
            }
        }
        let away = state.positions.iter().enumerate().filter(|(_, p)| **p != 0);
        (away.map(|(c, &p)| (c.into(), usize::from(p))).collect(), solution)
    }
}
