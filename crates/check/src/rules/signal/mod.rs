//! Sensors, inputs, references.

pub mod floating_input;
pub mod reference_overload;
pub mod reference_without_return;
pub mod reversed_sensor;
pub mod signal_out_of_range;
pub mod signal_without_reference;
pub mod split_reference;
mod steady;
pub mod stuck_input;
pub mod supply_on_input;

pub(super) const RULES: &[&crate::Rule] = &[
    &signal_without_reference::RULE,
    &reference_without_return::RULE,
    &floating_input::RULE,
    &signal_out_of_range::RULE,
    &supply_on_input::RULE,
    &stuck_input::RULE,
    &split_reference::RULE,
    &reference_overload::RULE,
    &reversed_sensor::RULE,
];
