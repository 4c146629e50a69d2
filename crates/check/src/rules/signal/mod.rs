//! Sensors, inputs, references.

pub(super) const RULES: &[&crate::Rule] = &[];
