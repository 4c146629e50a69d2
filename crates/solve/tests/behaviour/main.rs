//! What circuits do, one kind of element a file.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod charging;
mod diodes;
mod fuses;
mod meter;
mod pulses;
mod ratings;
mod relays;
mod sensors;
mod shared_fuses;
#[path = "../support/mod.rs"]
mod support;
mod ways;

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * b.abs().max(1e-3)
}

#[track_caller]
fn assert_close(a: f64, b: f64) {
    assert!(close(a, b), "{a} is not {b}");
}
