//! The server as a client meets it: real messages over pipes.

mod capabilities;
mod client;
mod diagnostics;
mod edits;
mod features;
mod session;
