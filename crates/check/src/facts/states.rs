//! The states that matter.

use super::Facts;
use keyon_circuit::ids::*;
use keyon_solve::{Cancelled, Cases, Solution, State, cases_of_device, solve};
use std::sync::Arc;

impl Facts<'_> {
    /// Every case of a device, as drawn: supplies at their stated volts.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn device_cases(&self, device: DeviceId) -> Result<Arc<Cases>, Cancelled> {
        if let Some(known) = self.cases.borrow().get(&device) {
            return Ok(known.clone());
        }
        let cases = Arc::new(cases_of_device(self.circuit, &self.base(), device, self.cancel)?);
        self.cases.borrow_mut().insert(device, cases.clone());
        Ok(cases)
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
