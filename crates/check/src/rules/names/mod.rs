//! Names.

pub mod duplicate_name;
pub mod unknown_name;
pub mod unused_name;

pub(super) const RULES: &[&crate::Rule] = &[&unknown_name::RULE, &duplicate_name::RULE, &unused_name::RULE];
