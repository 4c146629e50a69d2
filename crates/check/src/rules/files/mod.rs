//! Text and `allow` lines.

pub mod library_cycle;
pub mod stray_doc;
pub mod syntax;
pub mod unused_allow;

pub(super) const RULES: &[&crate::Rule] =
    &[&syntax::RULE, &unused_allow::RULE, &library_cycle::RULE, &stray_doc::RULE];
