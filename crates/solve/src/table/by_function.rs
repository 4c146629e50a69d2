//! What devices do as functions of the controls, for all states at once.

use crate::{
    Cancel, Cancelled,
    cases::Survey,
    lanes::{self, Work},
    plan::Plan,
};
use keyon_circuit::ids::*;

pub(crate) use crate::lanes::Function;

/// Makes the functions of one circuit's devices.
pub(super) struct Functions<'s, 'c, 'p> {
    survey: &'s Survey<'c>,
    masks: &'s [u64],
    /// Nothing where it is too meshed, or nothing was asked.
    work: Option<Work<'p>>,
}

impl<'s, 'c, 'p> Functions<'s, 'c, 'p> {
    /// Works out the circuit for controls in these positions, if devices are asked for.
    pub(super) fn new(
        survey: &'s Survey<'c>,
        plan: &'p Plan<'p>,
        masks: &'s [u64],
        devices: &[DeviceId],
    ) -> Self {
        let work = if devices.is_empty() {
            None
        } else {
            let base = survey.solve(&survey.positions(masks));
            let amps: Vec<f64> = base.amps.iter().map(|a| a.known().unwrap_or(f64::INFINITY)).collect();
            Work::new(plan, masks, Some(&amps))
        };
        Self { survey, masks, work }
    }

    /// What a device does; `None` where it is not a matter of potentials alone.
    pub(super) fn device(
        &mut self,
        device: DeviceId,
        cancel: &dyn Cancel,
    ) -> Result<Option<Function>, Cancelled> {
        let circuit = self.survey.circuit;
        let (Some(work), Some(d)) = (self.work.as_mut(), circuit.devices.get(device.index())) else {
            return Ok(None);
        };
        lanes::device(work, circuit, self.masks, d, cancel)
    }
}
