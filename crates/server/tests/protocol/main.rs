//! The server as a client meets it: real messages over pipes.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod asked;
mod capabilities;
mod client;
mod diagnostics;
mod edits;
mod features;
mod navigation;
mod notes;
mod pieces;
mod session;
mod settings;
