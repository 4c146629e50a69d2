//! Ends the process when the editor that started it is gone, also where it left the pipes open.

use std::{path::PathBuf, time::Duration};

/// Watches the process of this id from a thread of its own. Where the system gives no way to look, the end of
/// input has to do.
pub(crate) fn watch(parent: u32) {
    let entry = PathBuf::from(format!("/proc/{parent}"));
    if !entry.exists() {
        return; // no such file system, or a process in another container
    }
    let watch = move || {
        while entry.exists() {
            std::thread::sleep(Duration::from_secs(5));
        }
        std::process::exit(1);
    };
    let _ = std::thread::Builder::new().name("parent".into()).spawn(watch);
}
