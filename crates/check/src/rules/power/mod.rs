//! Feed paths, returns, fuses, drops.

pub mod always_operates;
pub mod blocked_diode;
pub mod fuse_fed_both_sides;
pub mod fuse_over_wire;
pub mod fuse_under_load;
pub mod key_off_draw;
pub mod never_operates;
pub mod no_feed_path;
pub mod no_return_path;
pub mod over_voltage;
pub mod stall_over_fuse;
pub mod supplies_joined;
pub mod supply_to_ground;
pub mod unfused_feed;
pub mod unprotected_length;
pub mod unusual_fuse;
pub mod voltage_drop;
pub mod weak_device;

mod common;
mod lost_return;

pub(super) const RULES: &[&crate::Rule] = &[
    &no_feed_path::RULE,
    &no_return_path::RULE,
    &never_operates::RULE,
    &always_operates::RULE,
    &weak_device::RULE,
    &blocked_diode::RULE,
    &over_voltage::RULE,
    &supply_to_ground::RULE,
    &supplies_joined::RULE,
    &unfused_feed::RULE,
    &unprotected_length::RULE,
    &fuse_over_wire::RULE,
    &fuse_under_load::RULE,
    &fuse_fed_both_sides::RULE,
    &unusual_fuse::RULE,
    &stall_over_fuse::RULE,
    &voltage_drop::RULE,
    &key_off_draw::RULE,
];
