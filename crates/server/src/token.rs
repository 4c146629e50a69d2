//! Why work may stop early.

use keyon_solve::Cancel;
use std::sync::atomic::{AtomicU8, Ordering};

/// Shared by a piece of work and whoever may want it stopped.
#[derive(Debug, Default)]
pub(crate) struct Token(AtomicU8);

const DROPPED: u8 = 1;
const OUTDATED: u8 = 2;

impl Token {
    /// Nobody waits for the answer any more.
    pub(crate) fn drop_it(&self) {
        self.0.fetch_or(DROPPED, Ordering::Relaxed);
    }
    /// The text it was asked about has changed.
    pub(crate) fn outdate(&self) {
        self.0.fetch_or(OUTDATED, Ordering::Relaxed);
    }
}

impl Cancel for Token {
    fn cancelled(&self) -> bool {
        self.0.load(Ordering::Relaxed) != 0
    }
}

/// Stops the work when dropped: the request was cancelled, or its connection is gone.
#[derive(Debug)]
pub(crate) struct StopOnDrop(pub(crate) std::sync::Arc<Token>);

impl Drop for StopOnDrop {
    fn drop(&mut self) {
        self.0.drop_it();
    }
}
