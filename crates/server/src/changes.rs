//! Counts what changes in the workspace, for answers that are held until something does.

use tokio::sync::watch;

/// The count, and who waits for the next change.
#[derive(Debug, Default)]
pub(crate) struct Changes(watch::Sender<u64>);

/// The session is over: nothing is held any more.
const END: u64 = u64::MAX;

impl Changes {
    /// Something has changed.
    pub(crate) fn count(&self) {
        self.0.send_modify(|count| *count = count.saturating_add(1));
    }

    /// Nothing will change any more.
    pub(crate) fn end(&self) {
        self.0.send_replace(END);
    }

    pub(crate) fn ended(&self) -> bool {
        *self.0.borrow() == END
    }

    pub(crate) fn watch(&self) -> watch::Receiver<u64> {
        self.0.subscribe()
    }
}
