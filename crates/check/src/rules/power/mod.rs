//! Feed paths, returns, fuses, drops.

pub mod no_feed_path;

pub(super) const RULES: &[&crate::Rule] = &[&no_feed_path::RULE];
