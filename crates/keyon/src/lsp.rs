//! `keyon lsp`.

use crate::output::{Failure, Outcome};

/// How long freed memory is kept for what comes next, by the allocator's own name for it, and milliseconds. A check ends before
/// anything is given back by its default of a second; a server would hold for good what an edit took for a moment.
const PURGE: (&str, &str) = ("MIMALLOC_PURGE_DELAY", "20");

/// Begins anew as the same process with freed memory given back soon: the allocator reads it when the process begins.
#[cfg(unix)]
fn give_back_soon() {
    use std::os::unix::process::CommandExt;
    let (name, delay) = PURGE;
    if std::env::var_os(name).is_some() {
        return;
    }
    let mut args = std::env::args_os();
    if let (Ok(own), Some(called)) = (std::env::current_exe(), args.next()) {
        // Returns only where that does not work: then it goes on as it is.
        let _ = std::process::Command::new(own).arg0(called).args(args).env(name, delay).exec();
    }
}

#[cfg(not(unix))]
fn give_back_soon() {
    let _ = PURGE;
}

pub(crate) fn run() -> Result<Outcome, Failure> {
    give_back_soon();
    match keyon_server::run(std::io::stdin(), std::io::stdout(), keyon_server::Options::default()) {
        Ok(0) => Ok(Outcome::Sound),
        // The client went without `shutdown`: the protocol asks for 1.
        Ok(_) => Ok(Outcome::Findings),
        Err(error) => Err(Failure::Message(format!("cannot start the language server: {error}"))),
    }
}
