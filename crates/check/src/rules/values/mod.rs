//! Values.

pub mod impossible_value;
pub mod wrong_dimension;

pub(super) const RULES: &[&crate::Rule] = &[&wrong_dimension::RULE, &impossible_value::RULE];
