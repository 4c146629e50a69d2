//! `keyon check` as a gate: formats, settings, baseline, cache, what changed since a revision.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "../common/mod.rs"]
mod common;

mod baseline;
mod cache;
mod compare;
mod export;
mod formats;
mod settings;
mod since;
mod watch;
