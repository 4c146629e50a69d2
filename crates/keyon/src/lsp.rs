//! `keyon lsp`.

use crate::output::{Failure, Outcome};

pub(crate) fn run() -> Result<Outcome, Failure> {
    Err(Failure::Message("the language server is not there yet".to_owned()))
}
