//! Wires, cavities, splices, colours, numbers.

pub(super) const RULES: &[&crate::Rule] = &[];
