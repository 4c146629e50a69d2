//! Tokens to items and statements: keyword at line start, columns, brackets; no grammar (section 2 of
//! `grammar/keyon.ebnf`). One linear scan that reads any text.

mod forgotten;
mod headers;
mod heads;
mod joined;
mod pending;
mod scan;
mod slips;
#[cfg(test)]
mod tests;
mod words;

use crate::lexer::{Token, TokenKind};
pub(crate) use forgotten::AHEAD;
pub use words::{
    ATTRIBUTE_WORDS, BODY_ONLY_WORDS, BodyKind, COLOUR_LETTERS, ELEMENT_WORDS, ITEM_WORDS, is_item_word,
};
pub(crate) use words::{ROLE_WORDS, known_word};

/// A text's tokens grouped into items and statements.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Layout {
    /// They tile the text.
    pub tokens: Vec<Token>,
    /// In source order, without overlap.
    pub items: Vec<ItemLayout>,
    /// The statements of all items in source order.
    pub statements: Vec<Statement>,
    /// Forgotten brackets and the like, in source order.
    pub problems: Vec<Problem>,
    /// Whether there are tokens that are slips wherever they stand: lookalikes, invisible characters.
    pub(crate) slips: bool,
    /// Whether a forgotten `}` was looked for up to the end of the text: what was appended there could change it.
    pub(crate) looked_to_end: bool,
}

/// A run of tokens: indices into [`Layout::tokens`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Tokens {
    /// The first.
    pub start: u32,
    /// One past the last.
    pub end: u32,
}

impl Tokens {
    /// As a range, to index with.
    pub fn range(self) -> std::ops::Range<usize> {
        self.start as usize..self.end as usize
    }
    /// Whether there is none.
    pub fn is_empty(self) -> bool {
        self.start >= self.end
    }
}

/// One item: where its tokens and statements are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ItemLayout {
    /// From its first `##` or `allow` line to its last significant token.
    pub tokens: Tokens,
    /// Indices into [`Layout::statements`]: `allow` lines first, then its own statement, then those of its bodies.
    pub statements: std::ops::Range<u32>,
    /// What it is.
    pub class: ItemClass,
    /// The `##` lines that belong to it; empty if there are none.
    pub docs: Tokens,
}

/// What kind of lines an item consists of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ItemClass {
    /// Begins with this item word, perhaps written with capitals or misspelt.
    Word(&'static str),
    /// `allow` lines with no item after them.
    Stray,
    /// Lines that begin no item, nor anything like one.
    Junk,
}

/// One statement: the item's own, an `allow` line, one of a body, or the `}` that closes a body.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Statement {
    /// From its first significant token to its last; the `{` of a body that it opens included.
    pub tokens: Tokens,
    /// The `##` lines that belong to it (in a body; an item's are at the item); empty if there are none.
    pub docs: Tokens,
    /// How many bodies are open around it; 0 for the item's own statement. A `}` stands at the depth of the statement
    /// that opened its body.
    pub depth: u32,
    /// The body it stands in; for a `}` the one that it closes.
    pub within: BodyKind,
    /// What it is.
    pub role: Role,
    /// The body it opens.
    pub opens: Option<BodyKind>,
    /// A bracket of it is missing ([`Layout::problems`] says so): what cannot be read in it needs no error of its own.
    pub broken: bool,
}

/// What a statement is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// The item's own, or one in a body.
    Plain,
    /// `allow RULE "reason"`: belongs to what follows.
    Allow,
    /// The `}` of a body, with what follows it on the line if the body is a table.
    Close,
    /// A line that begins an item, in the middle of a body that goes on below it.
    Foreign,
}

/// What is wrong with the brackets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Problem {
    #[allow(missing_docs)]
    pub kind: ProblemKind,
    /// Index of the token at fault.
    pub token: u32,
    /// Index of the item it belongs to.
    pub item: u32,
}

impl ProblemKind {
    /// Whether what is meant is plain all the same, so that nothing of the item is lost.
    pub(crate) fn is_plain(self) -> bool {
        !matches!(self, Self::OpenParen | Self::OpenBody | Self::TooDeep | Self::CloseExtra)
    }
}

/// The kinds of [`Problem`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ProblemKind {
    /// This `(` has no `)`.
    OpenParen,
    /// This `{` has no `}`.
    OpenBody,
    /// A block's `{` is missing behind this, the last token of its header; its rows are read all the same.
    BraceMissing,
    /// Both braces of the block are missing there.
    BracesMissing,
    /// This `->` begins a line; the statement of the line above goes on with it.
    ArrowBelow,
    /// This goes on with the statement of the line above.
    LineBroken,
    /// This bracket stands where a `{` belongs.
    OpenOther,
    /// This bracket stands where a `}` belongs.
    CloseOther,
    /// This `{` follows another one.
    BraceTwice,
    /// This `}` would close a body that goes on below it.
    CloseExtra,
    /// An item begins here in the middle of another one's line.
    LinesJoined,
    /// Bodies are nested deeper than anything needs: at this `{`, said once an item.
    TooDeep,
    /// This stands behind a `}` on its line.
    LineEndMissing,
}

/// Cuts a text into tokens, items and statements. Never fails.
pub fn layout(source: &str) -> Layout {
    scan::scan(source, crate::lexer::tokens(source))
}

/// The same, with a list of tokens that is needed no more.
pub(crate) fn layout_with(source: &str, spare: Vec<Token>) -> Layout {
    scan::scan(source, crate::lexer::tokens_in(source, spare))
}

impl Layout {
    /// The significant tokens of a statement, of its bodies none.
    pub fn significant(&self, tokens: Tokens) -> impl DoubleEndedIterator<Item = Token> + '_ {
        self.tokens
            .get(tokens.range())
            .unwrap_or_default()
            .iter()
            .copied()
            .filter(|t| t.kind.is_significant())
    }
    /// The comment behind a statement on its last line, if there is one: an index into [`Layout::tokens`].
    pub fn comment_behind(&self, statement: &Statement) -> Option<u32> {
        let mut at = statement.tokens.end;
        loop {
            match self.tokens.get(at as usize)?.kind {
                TokenKind::Comment => return Some(at),
                TokenKind::Blank | TokenKind::Invisible | TokenKind::Lookalike => at += 1,
                _ => return None,
            }
        }
    }
}
