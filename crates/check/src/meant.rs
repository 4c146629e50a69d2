//! What an `expect` block says is meant: a device that it expects to be weak is so on purpose.

use crate::{Finding, rules::power::weak_device};
use keyon_circuit::{
    ids::DeviceId,
    model::{Assertion, Circuit, Owner, Probe},
};

/// Whether somebody has written down what a finding tells: with nothing unplugged or failed, the device is expected to be weak.
/// (One that is not gets a finding of its own for that.)
pub(crate) fn is_meant(circuit: &Circuit, finding: &Finding) -> bool {
    if finding.rule != weak_device::RULE.name() {
        return false;
    }
    let as_built = circuit.expects.iter().filter(|expect| expect.changes.is_empty());
    let rows = as_built.flat_map(|expect| &expect.rows).filter(|row| row.settings.changes.is_empty());
    let weak = rows.filter(|row| matches!(&row.assertion, Assertion::State(state) if state == "weak"));
    let mut devices = weak.filter_map(|row| device_of(circuit, row.probe));
    devices.any(|id| circuit.devices.get(id.index()).is_some_and(|device| device.loc == finding.loc))
}

/// The device that a row looks at, as a whole or at one of its elements.
fn device_of(circuit: &Circuit, probe: Probe) -> Option<DeviceId> {
    match probe {
        Probe::Device(id) => Some(id),
        Probe::Element(id) => match circuit.elements.get(id.index())?.owner {
            Owner::Device(id) => Some(id),
            _ => None,
        },
        _ => None,
    }
}
