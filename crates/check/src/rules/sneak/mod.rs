//! Current where none is meant.

pub(super) const RULES: &[&crate::Rule] = &[];
