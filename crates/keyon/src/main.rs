//! Keyon.
fn main() {}
