//! Returns and grounds that are shared.

pub mod fused_ground;
pub mod load_on_sensor_return;
pub mod module_ground_offset;
pub mod module_without_ground;
pub mod sensor_return_to_chassis;
pub mod shared_return_mismatch;
pub mod undeclared_shared_return;

pub(super) const RULES: &[&crate::Rule] = &[
    &undeclared_shared_return::RULE,
    &shared_return_mismatch::RULE,
    &load_on_sensor_return::RULE,
    &sensor_return_to_chassis::RULE,
    &module_without_ground::RULE,
    &fused_ground::RULE,
    &module_ground_offset::RULE,
];
