//! What leaves the program: text to standard output in one piece, complaints to standard error.

use std::io::{ErrorKind, IsTerminal, Write};

/// How a command ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Outcome {
    /// Exit 0.
    Sound,
    /// Exit 1: it ran, and what it looked at is not as it should be.
    Findings,
    /// Exit 2: a part of it could not run; complaints are out already.
    Incomplete,
}

impl Outcome {
    /// What the program exits with.
    pub(crate) fn code(self) -> u8 {
        match self {
            Self::Sound => 0,
            Self::Findings => 1,
            Self::Incomplete => 2,
        }
    }
}

/// Why a command could not run.
#[derive(Clone, Debug)]
pub(crate) enum Failure {
    /// Whoever read our output has gone: nothing to say, nobody to say it to.
    Pipe,
    /// What is wrong and what to do.
    Message(String),
}

impl From<String> for Failure {
    fn from(message: String) -> Self {
        Self::Message(message)
    }
}

/// Writes to standard output.
pub(crate) fn print(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Ok(()) => Ok(()),
        Err(error) if error.kind() == ErrorKind::BrokenPipe => Err(Failure::Pipe),
        Err(error) => Err(Failure::Message(format!("cannot write to standard output: {error}"))),
    }
}

/// Writes a JSON value and a line feed.
/// Why something is not made.
pub(crate) fn refused(refused: keyon_present::cautions::Refused, what: &str) -> Failure {
    use keyon_present::cautions::Refused;
    Failure::Message(match refused {
        Refused::Restricted => format!(
            "no {what} from this tool: restraint systems and supplies above 60 V DC are work for trained, licensed people"
        ),
        Refused::Cancelled => "the computation was stopped".to_owned(),
    })
}

/// Writes to a file, or prints.
pub(crate) fn deliver(to: Option<&std::path::Path>, bytes: &[u8]) -> Result<(), Failure> {
    match to {
        Some(path) => Ok(std::fs::write(path, bytes)
            .map_err(|error| format!("cannot write `{}`: {error}", path.display()))?),
        None => print(&String::from_utf8_lossy(bytes)),
    }
}

pub(crate) fn print_json(value: &serde_json::Value) -> Result<(), Failure> {
    print(&format!("{value:#}\n"))
}

/// Writes a complaint to standard error; if that is closed there is nothing left to do.
pub(crate) fn complain(message: &str) {
    let _ = writeln!(std::io::stderr().lock(), "keyon: {message}");
}

/// Whether findings may be coloured: on a terminal that can, unless `NO_COLOR` is set.
pub(crate) fn colour() -> bool {
    let set = |name: &str| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    let dumb = std::env::var_os("TERM").is_some_and(|term| term == "dumb");
    std::io::stdout().is_terminal() && !set("NO_COLOR") && !dumb
}
