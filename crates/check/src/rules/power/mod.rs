//! Feed paths, returns, fuses, drops.

pub mod always_operates;
pub mod never_operates;
pub mod no_feed_path;
pub mod no_return_path;
pub mod weak_device;

mod common;

pub(super) const RULES: &[&crate::Rule] = &[
    &no_feed_path::RULE,
    &no_return_path::RULE,
    &never_operates::RULE,
    &always_operates::RULE,
    &weak_device::RULE,
];
