//! A line on the terminal while something takes its time.

use keyon_solve::Cancel;
use std::{
    io::{IsTerminal, Write},
    sync::Mutex,
    time::{Duration, Instant},
};

/// Nothing is shown before this, nor more often.
const PATIENCE: Duration = Duration::from_millis(100);

/// Shows how far a computation is: on standard error, if that is a terminal, and not before a tenth of a second. The line
/// is wiped in the end. Nothing of it is ever part of an output.
pub(crate) struct Progress {
    shown: Option<Mutex<Shown>>,
}

struct Shown {
    last: Instant,
    wipe: bool,
}

impl Progress {
    pub(crate) fn new() -> Self {
        let shown = Shown { last: Instant::now(), wipe: false };
        Self { shown: std::io::stderr().is_terminal().then(|| Mutex::new(shown)) }
    }
}

impl Cancel for Progress {
    /// Never: whoever waits at a terminal ends the program.
    fn cancelled(&self) -> bool {
        false
    }

    fn progress(&self, done: u64, most: u64) {
        let Some(Ok(mut shown)) = self.shown.as_ref().map(Mutex::lock) else { return };
        if shown.last.elapsed() < PATIENCE {
            return;
        }
        (shown.last, shown.wipe) = (Instant::now(), true);
        let percent = u128::from(done) * 100 / u128::from(most.max(1));
        let mut err = std::io::stderr();
        // A terminal that is gone is no reason to stop.
        let _ = write!(err, "\r\x1b[Ktabulating: {percent} % (Ctrl-C ends it)");
        let _ = err.flush();
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if let Some(Ok(shown)) = self.shown.as_ref().map(Mutex::lock)
            && shown.wipe
        {
            let mut err = std::io::stderr();
            let _ = write!(err, "\r\x1b[K");
            let _ = err.flush();
        }
    }
}
