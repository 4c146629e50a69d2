//! Current where none is meant.

pub(in crate::rules) mod by_design;
pub mod chattering_relay;
pub mod sneak_path;

pub(super) const RULES: &[&crate::Rule] = &[&sneak_path::RULE, &chattering_relay::RULE];
