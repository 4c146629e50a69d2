//! Returns and grounds that are shared.

pub(super) const RULES: &[&crate::Rule] = &[];
