//! Where a statement's columns begin.

mod body;
mod clauses;
mod rows;
mod top;

use super::entries::{Statement, Word};
use crate::{lexer::TokenKind, step::step};

/// In what a statement stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Context {
    /// Outside all bodies.
    Top,
    /// A device, a part, a module.
    Device,
    /// A connector of a module.
    Housing,
    /// An in-line connector.
    Cavities,
    Gang,
    Scenario,
    Expect,
    Exercise,
    Readings,
    About,
    /// A thermistor's table.
    Table,
    Other,
}

impl Context {
    /// Whether a line's end in it is as good as a comma.
    pub(super) fn is_list(self) -> bool {
        matches!(self, Self::Cavities | Self::Scenario | Self::Table)
    }

    /// The body that the statement of these words opens.
    pub(super) fn opened_by(self, words: &[Word<'_>]) -> Self {
        let head = words.first().map_or("", |w| w.text);
        match (self, head) {
            (Self::Top, "device" | "part" | "module") => Self::Device,
            (Self::Top, "connector") => Self::Cavities,
            (Self::Top, "scenario") => Self::Scenario,
            (Self::Top, "expect") => Self::Expect,
            (Self::Top, "exercise") => Self::Exercise,
            (Self::Top, "readings") => Self::Readings,
            (Self::Top, "about") => Self::About,
            (Self::Device, "connector") => Self::Housing,
            (Self::Device, "gang") => Self::Gang,
            (Self::Top | Self::Device, "thermistor") => Self::Table,
            _ => Self::Other,
        }
    }
}

/// A column's beginning.
#[derive(Clone, Copy, Debug)]
pub(super) struct Cell {
    /// Index of its first word.
    pub(super) at: usize,
    /// Cells of one block with the same column and key begin at the same place.
    pub(super) column: u16,
    pub(super) key: u32,
    /// Least blanks before it.
    pub(super) gap: usize,
    /// Wider than this, it pushes nobody but its own line.
    pub(super) limit: usize,
}

/// A statement's kind, for the statements that share a block, and its cells in ascending columns.
pub(super) struct Cells {
    pub(super) block: Block,
    pub(super) cells: Vec<Cell>,
}

/// Neighbours of the same block are aligned. [`Block::ALONE`] never is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Block(pub(super) u32);

impl Block {
    pub(super) const ALONE: Self = Self(0);
}

/// Finds the columns of a statement, after putting its path before its value.
pub(super) fn cells(statement: &mut Statement<'_>) -> Cells {
    if statement.closes {
        return clauses::after_close(&statement.words);
    }
    let straight = statement.words.iter().all(|w| !w.break_before && w.comments.is_empty());
    if statement.context == Context::Top && straight {
        top::path_first(&mut statement.words);
    }
    let words = &statement.words;
    let mut found = match statement.context {
        Context::Top => top::cells(words),
        Context::Device => body::cells(words),
        Context::Housing => body::cavity(words),
        Context::Gang => rows::gang(words),
        Context::Expect => rows::claim(words),
        Context::Readings => rows::claim(words),
        Context::Exercise | Context::Scenario | Context::About => rows::pair(words),
        Context::Table => rows::table(words),
        Context::Cavities | Context::Other => Cells { block: Block::ALONE, cells: Vec::new() },
    };
    if statement.opens || !straight {
        found.block = Block::ALONE;
    }
    found
}

/// Builds a list of cells.
#[derive(Default)]
struct Builder {
    cells: Vec<Cell>,
}

impl Builder {
    fn cell(&mut self, at: usize, column: u16, gap: usize, limit: usize) {
        self.keyed(at, column, 0, gap, limit);
    }

    fn keyed(&mut self, at: usize, column: u16, key: u32, gap: usize, limit: usize) {
        if at > 0 {
            self.cells.push(Cell { at, column, key, gap, limit });
        }
    }

    fn block(self, block: u32) -> Cells {
        Cells { block: Block(block), cells: self.cells }
    }
}

/// A number for a word (FNV-1a), to tell blocks and clauses apart. Never 0.
fn mark(text: &str) -> u32 {
    extend(0x811c_9dc5, text)
}

/// The number of `text` after what `seed` stands for.
fn extend(seed: u32, text: &str) -> u32 {
    text.bytes().fold(seed, |hash, byte| (hash ^ u32::from(byte)).wrapping_mul(0x0100_0193)).max(1)
}

/// A look at a statement's words by index.
#[derive(Clone, Copy)]
struct View<'w, 'a>(&'w [Word<'a>]);

impl<'a> View<'_, 'a> {
    fn len(self) -> usize {
        self.0.len()
    }
    fn kind(self, at: usize) -> Option<TokenKind> {
        self.0.get(at).map(|w| w.kind)
    }
    fn text(self, at: usize) -> &'a str {
        self.0.get(at).map_or("", |w| w.text)
    }
    fn is(self, at: usize, kind: TokenKind) -> bool {
        self.kind(at) == Some(kind)
    }
    fn is_word(self, at: usize, text: &str) -> bool {
        self.is(at, TokenKind::Word) && self.text(at) == text
    }
    fn is_number(self, at: usize) -> bool {
        matches!(self.kind(at), Some(TokenKind::Int | TokenKind::Dec | TokenKind::Exp))
    }
    /// The index after a quantity that begins at `at` (a sign, a number, a unit), or `at`.
    fn after_quantity(self, at: usize) -> usize {
        let number = at + usize::from(matches!(self.kind(at), Some(TokenKind::Minus | TokenKind::Plus)));
        if self.is(number, TokenKind::Glued) {
            number + 1
        } else if self.is_number(number) {
            number
                + 1
                + usize::from(matches!(self.kind(number + 1), Some(TokenKind::Word | TokenKind::Percent)))
        } else {
            at
        }
    }
    /// The first index from `at` on, outside brackets that open there, for which `found` holds; else the end.
    fn find(self, at: usize, found: impl Fn(usize) -> bool) -> usize {
        let mut depth = 0usize;
        for i in at..self.len() {
            step();
            if depth == 0 && found(i) {
                return i;
            }
            match self.kind(i) {
                Some(TokenKind::OpenParen | TokenKind::OpenBrace) => depth += 1,
                Some(TokenKind::CloseParen | TokenKind::CloseBrace) => depth = depth.saturating_sub(1),
                _ => {}
            }
        }
        self.len()
    }
}
