//! The command line: files in, text or JSON out, exit codes. Whatever another program could want to call is in the
//! crates below.

mod args;
mod check;
mod compare;
mod draw;
mod explain;
mod export;
mod files;
mod fix;
mod fmt;
mod git;
mod load;
mod lsp;
mod new;
mod notes;
mod output;
mod page;
mod pdf;
mod pinout;
mod playground;
mod png;
mod probe;
mod progress;
mod report;
mod schema;
mod sheet;
mod state;
mod subjects;
mod sweep;
mod table;
mod trace;
mod world;

use args::{Args, Command};
use clap::Parser;
use output::Failure;
use std::process::ExitCode;

/// A check makes and drops many small lists: this takes a third of the time that the system's allocator does.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> ExitCode {
    let args = Args::parse();
    let result = match args.command {
        Command::Check(args) => check::run(&args),
        Command::Compare(args) => compare::run(&args),
        Command::Export(args) => export::run(&args),
        Command::Schema(args) => schema::run(&args),
        Command::State(args) => state::run(&args),
        Command::Table(args) => table::run(&args),
        Command::Trace(args) => trace::run(&args),
        Command::Sweep(args) => sweep::run(&args),
        Command::Draw(args) => draw::run(&args),
        Command::Pinout(args) => pinout::run(&args),
        Command::Probe(args) => probe::run(&args),
        Command::Sheet(args) => sheet::run(&args),
        Command::Notes(args) => notes::run(&args),
        Command::Page(args) => page::run(&args),
        Command::Playground(args) => playground::run(&args),
        Command::Fmt(args) => fmt::run(&args),
        Command::Explain(args) => explain::run(&args),
        Command::Lsp(_) => lsp::run(),
        Command::New(args) => new::run(&args),
    };
    match result {
        Ok(outcome) => ExitCode::from(outcome.code()),
        Err(Failure::Pipe) => ExitCode::SUCCESS,
        Err(Failure::Message(message)) => {
            output::complain(&message);
            ExitCode::from(2)
        }
    }
}
