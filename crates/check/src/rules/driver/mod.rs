//! Driver stages, coils, gangs.

pub(super) const RULES: &[&crate::Rule] = &[];
