//! Expectations, exercises, readings.

pub mod exercise_ambiguous;
pub mod exercise_giveaway;
pub mod expectation_failed;
pub mod ohms_on_live;
pub mod readings_unexplained;
pub mod symptom_false;
pub mod unsafe_probe;

pub(super) const RULES: &[&crate::Rule] = &[
    &expectation_failed::RULE,
    &symptom_false::RULE,
    &exercise_ambiguous::RULE,
    &readings_unexplained::RULE,
    &exercise_giveaway::RULE,
    &unsafe_probe::RULE,
    &ohms_on_live::RULE,
];
