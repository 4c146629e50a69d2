//! Expectations and exercises.

pub mod expectation_failed;

pub(super) const RULES: &[&crate::Rule] = &[&expectation_failed::RULE];
