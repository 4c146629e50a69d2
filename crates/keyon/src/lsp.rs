//! `keyon lsp`.

use crate::output::{Failure, Outcome};

pub(crate) fn run() -> Result<Outcome, Failure> {
    match keyon_server::run(std::io::stdin(), std::io::stdout(), keyon_server::Options::default()) {
        Ok(0) => Ok(Outcome::Sound),
        // The client went without `shutdown`: the protocol asks for 1.
        Ok(_) => Ok(Outcome::Findings),
        Err(error) => Err(Failure::Message(format!("cannot start the language server: {error}"))),
    }
}
