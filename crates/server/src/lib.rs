//! The language server: the protocol and nothing else. What it answers comes from `keyon-ide`.
//!
//! Three parts, each in one place: [`serve`] reads messages and begins their handlers in order; the handlers of
//! [`backend`] put a message into the queue of the [`main_loop`], which alone owns the documents; workers of
//! the [`pool`] answer from snapshots.

mod backend;
mod board;
mod bulk;
mod capabilities;
mod changes;
mod circuits;
mod diagnostics;
mod document;
mod files;
mod frame;
mod glance;
mod handlers;
mod main_loop;
mod outbox;
mod parent;
mod parse;
mod parts;
mod pool;
mod position;
mod serve;
mod session;
mod shelf;
mod snapshot;
mod stream;
mod token;
mod workspace;

use changes::Changes;
use main_loop::{MainLoop, Message};
use outbox::{Outbox, Refreshes};
use session::Backend;
use std::{
    io::{BufReader, Read, Write},
    sync::{Arc, mpsc},
    time::Duration,
};
use tower_lsp::LspService;

/// How to run.
#[derive(Clone, Copy, Debug, Default)]
pub struct Options {
    /// How long the text must be left alone before it is checked. None as a rule: a check takes as long as a keystroke at the most,
    /// and the next keystroke ends it.
    pub debounce: Duration,
}

/// Serves one client until it says `exit` or its end of the stream closes. Gives the process's exit code: 0 after a
/// proper `shutdown`, else 1.
///
/// # Errors
/// When a thread or the runtime cannot be started.
pub fn run(
    input: impl Read + Send + 'static,
    output: impl Write + Send + 'static,
    options: Options,
) -> std::io::Result<i32> {
    let (outbox, to_client) = Outbox::new();
    let (queue, inbox) = mpsc::channel();
    let changes = Arc::new(Changes::default());
    let main_loop = MainLoop::new(inbox, queue.clone(), outbox.clone(), Arc::clone(&changes));
    let main = std::thread::Builder::new()
        .name("main-loop".into())
        .stack_size(8 << 20)
        .spawn(move || main_loop.run())?;

    // Reading and writing block, and have threads of their own.
    let (frames_in, frames) = tokio::sync::mpsc::unbounded_channel();
    std::thread::Builder::new().name("reader".into()).spawn(move || {
        let mut input = BufReader::new(input);
        while let Ok(Some(frame)) = frame::read(&mut input) {
            if frames_in.send(frame).is_err() {
                break;
            }
        }
    })?;
    let (out, messages) = mpsc::channel::<Vec<u8>>();
    let (written, all_written) = mpsc::channel::<()>();
    std::thread::Builder::new().name("writer".into()).spawn(move || {
        let mut output = output;
        let _written = written;
        for message in messages {
            if frame::write(&mut output, &message).is_err() {
                break;
            }
        }
    })?;

    let refreshes = Arc::new(Refreshes::default());
    let runtime = tokio::runtime::Builder::new_current_thread().enable_time().build()?;
    let stop = queue.clone();
    let proper = runtime.block_on(async {
        let (service, socket) = LspService::build(|client| {
            tokio::spawn(outbox::run(client, to_client, Arc::clone(&refreshes)));
            Backend::new(queue, outbox, refreshes, options.debounce, out.clone(), Arc::clone(&changes))
        })
        .custom_method("keyon/table", Backend::table)
        .custom_method("keyon/hold", Backend::hold)
        .custom_method("keyon/explain", Backend::explain)
        .custom_method("keyon/draw", Backend::draw)
        .custom_method("keyon/locate", Backend::locate)
        .custom_method("keyon/rules", Backend::rules)
        .finish();
        serve::serve(service, socket, frames, out, &changes).await
    });
    let _ = stop.send(Message::Stop);
    let _ = main.join();
    drop(runtime);
    // A client that does not read must not keep the process.
    let _ = all_written.recv_timeout(Duration::from_secs(2));
    Ok(i32::from(!proper))
}
