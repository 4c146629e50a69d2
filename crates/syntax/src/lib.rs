//! Text to tokens to a tree; no name has a meaning here. See `DEVELOPERS.md` for the house rules.

pub mod fmt;
mod grammar;
pub mod layout;
pub mod lexer;
pub mod line;
mod nearest;
pub mod notes;
mod parse;
mod span;
mod step;
pub mod tree;
pub mod unit;

pub use nearest::nearest;
pub use parse::{Edit, Parse, parse, reparse};
pub use span::Span;

/// Text that does not fit the grammar, or a typographic slip that was read all the same.
#[derive(Clone, Debug, PartialEq)]
pub struct SyntaxError {
    /// Absolute.
    pub span: Span,
    /// What is wrong and what was expected there, for a person.
    pub message: String,
    /// What to do.
    pub help: Option<String>,
    /// A replacement of bytes that mends it: what it does, where (absolute), the new text.
    pub fix: Option<(String, Span, String)>,
}
