//! Driver stages, coils, gangs.

pub mod coil_without_suppression;
pub mod contact_overload;
pub mod driver_overload;
pub mod drops_out_in_crank;
pub mod gang_short;
pub mod idle_driver;
pub mod opposed_drivers;
pub mod pulsed_relay;
pub mod reversed_suppression;
pub mod unpaired_gang;

pub(super) const RULES: &[&crate::Rule] = &[
    &unpaired_gang::RULE,
    &gang_short::RULE,
    &opposed_drivers::RULE,
    &driver_overload::RULE,
    &contact_overload::RULE,
    &coil_without_suppression::RULE,
    &reversed_suppression::RULE,
    &idle_driver::RULE,
    &pulsed_relay::RULE,
    &drops_out_in_crank::RULE,
];
