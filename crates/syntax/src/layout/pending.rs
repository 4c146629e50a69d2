//! What is open while a text is scanned: bodies, a statement, an item.

use super::{BodyKind, ItemClass, Role, Tokens};
use crate::lexer::TokenKind;

/// An open body.
pub(super) struct Frame {
    pub(super) kind: BodyKind,
    /// Column of the statement that opened it.
    pub(super) column: u32,
    /// Its `{`, or the last token of its header where that was forgotten.
    pub(super) brace: u32,
    /// Whether its first statement is right of that column; `None` before there is one.
    pub(super) indented: Option<bool>,
    /// A look ahead has shown that all up to its `}` may belong to it.
    pub(super) fits: bool,
    /// A look ahead has found its `}` here, behind a line that cannot belong to it.
    pub(super) closes: Option<u32>,
    /// Its `{` was forgotten: the number of the problem that says so.
    pub(super) implied: Option<usize>,
}

/// The statement being read.
pub(super) struct Current {
    pub(super) start: u32,
    /// One past its last significant token.
    pub(super) end: u32,
    pub(super) last: TokenKind,
    pub(super) column: u32,
    pub(super) role: Role,
    pub(super) docs: Tokens,
    /// Open `(`; the outermost one's place.
    pub(super) parens: u32,
    pub(super) paren_at: u32,
    /// Open braces of `switches { X, Y }`; the outermost one's place.
    pub(super) braces: u32,
    pub(super) brace_at: u32,
    pub(super) depth: u32,
    pub(super) within: BodyKind,
    pub(super) broken: bool,
}

/// The item being read.
pub(super) struct Open {
    pub(super) start: u32,
    pub(super) first_statement: u32,
    pub(super) class: ItemClass,
    pub(super) docs: Tokens,
}

impl Current {
    pub(super) fn new(at: u32, kind: TokenKind, column: u32, depth: u32, within: BodyKind) -> Self {
        Self {
            start: at,
            end: at + 1,
            last: kind,
            column,
            role: Role::Plain,
            docs: Tokens::default(),
            parens: u32::from(kind == TokenKind::OpenParen),
            paren_at: at,
            braces: 0,
            brace_at: at,
            depth,
            within,
            broken: false,
        }
    }
}
