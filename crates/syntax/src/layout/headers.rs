//! Headers of blocks whose `{` was forgotten: the lines that follow are the block's rows all the same.

use super::{
    BodyKind, ItemClass, ProblemKind, Role,
    pending::{Current, Frame, Open},
    scan::Scan,
    words::{BODY_ONLY_WORDS, body_of, can_head, is_item_word, known_word},
};
use crate::{lexer::TokenKind, step::step};

/// The first token of the line that follows, and its column.
#[derive(Clone, Copy)]
pub(super) struct Follower {
    pub(super) at: u32,
    pub(super) kind: TokenKind,
    pub(super) column: u32,
}

impl Scan<'_> {
    /// At the end of a header that has no `{`: opens its body if the next line is plainly its first row.
    pub(super) fn open_forgotten(&mut self, next: Follower) -> bool {
        let Some(kind) = self.body_without_brace().filter(|kind| self.is_row(*kind, next)) else {
            return false;
        };
        self.open_at_end(kind, ProblemKind::BraceMissing);
        true
    }

    /// A `}` outside all bodies that ends a line such as `scenario s "S" key run }`: opens the body behind the name and
    /// the title, so that the `}` has something to close.
    pub(super) fn open_before(&mut self, close: u32) -> bool {
        if !self.frames.is_empty() {
            return false;
        }
        let Some(kind) = self.body_without_brace() else { return false };
        let Some((start, end)) = self.current.as_ref().map(|c| (c.start, c.end)) else { return false };
        let cut = self.header_end(kind, start, end);
        let row = (cut..end).find(|at| {
            step();
            self.tokens.get(*at as usize).is_some_and(|t| t.kind.is_significant())
        });
        if let Some(current) = &mut self.current {
            current.end = cut;
        }
        self.open_at_end(kind, ProblemKind::BraceMissing);
        if let Some(row) = row {
            let first = self.tokens.get(row as usize).map_or(TokenKind::Other, |t| t.kind);
            let mut current = Current::new(row, first, self.indent, 1, kind);
            (current.end, current.parens) = (end, 0);
            self.current = Some(current);
            self.end_statement();
        }
        self.close(close);
        true
    }

    /// Ends the statement as one that opens a body, and says what is wrong there.
    pub(super) fn open_at_end(&mut self, kind: BodyKind, what: ProblemKind) {
        let Some(current) = &self.current else { return };
        let (column, last) = (current.column, current.end.saturating_sub(1));
        self.finish(Some(kind));
        let problem = self.problem(what, last);
        self.frames.push(Frame {
            kind,
            column,
            brace: last,
            indented: None,
            fits: false,
            closes: None,
            implied: (what == ProblemKind::BraceMissing).then_some(problem),
        });
    }

    /// A body whose `{` was forgotten ends where a line is no further right than its header.
    pub(super) fn end_implied(&mut self) {
        while let Some(frame) = self.frames.last()
            && frame.implied.is_some()
            && frame.indented == Some(true)
            && self.indent <= frame.column
        {
            step();
            self.drop_frame();
        }
    }

    /// The same before a `}` that begins its line and stands left of the header: it closes a body further out.
    pub(super) fn end_implied_inside(&mut self) {
        while self.frames.len() > 1
            && self.frames.last().is_some_and(|f| f.implied.is_some() && self.indent < f.column)
        {
            step();
            self.drop_frame();
        }
    }

    /// The body that the statement being read should open, but has not opened.
    pub(super) fn body_without_brace(&self) -> Option<BodyKind> {
        let current = self.current.as_ref().filter(|c| c.role == Role::Plain)?;
        if current.parens > 0 || current.braces > 0 {
            return None;
        }
        let word = |at: u32| {
            let token = self.tokens.get(at as usize).filter(|t| t.kind == TokenKind::Word);
            token.map(|t| t.text(self.source)).unwrap_or_default()
        };
        let first = match (&self.item, current.within) {
            (Some(Open { class: ItemClass::Word(word), .. }), BodyKind::File) => word,
            _ => known_word(word(current.start)).unwrap_or_default(),
        };
        // The last word, also before a bracket of the wrong kind.
        let tokens = self.tokens.get(current.start as usize..current.end as usize).unwrap_or_default();
        let mut back = tokens.iter().rev().filter(|t| {
            step();
            t.kind != TokenKind::Blank
        });
        let last = back.next();
        let odd = last.is_some_and(|t| matches!(t.kind, TokenKind::OpenParen | TokenKind::Other));
        let last = if odd { back.next() } else { last };
        let last = last.filter(|t| t.kind == TokenKind::Word).map(|t| t.text(self.source));
        let kind = body_of(current.within, first, last.unwrap_or_default());
        if kind == BodyKind::Other {
            return None;
        }
        // `device key : key_switch` has its body elsewhere.
        let called = || {
            tokens.iter().any(|t| {
                step();
                t.kind == TokenKind::Colon
            })
        };
        (!matches!(first, "device" | "module") || !called()).then_some(kind)
    }

    /// Whether the next line can only be a row of such a body, seen from its header.
    fn is_row(&self, kind: BodyKind, next: Follower) -> bool {
        let Some(current) = &self.current else { return false };
        let outer = self.frames.last().map(|f| (f.kind, f.column));
        if next.kind == TokenKind::CloseBrace {
            return outer.is_none_or(|(_, column)| next.column == current.column && column < current.column);
        }
        let token = self.tokens.get(next.at as usize);
        let text = token.filter(|t| t.kind == TokenKind::Word).map(|t| t.text(self.source));
        let word = text.and_then(known_word);
        let owner = matches!(kind, BodyKind::Device | BodyKind::Part | BodyKind::Module);
        if owner && text.is_none() {
            return false;
        }
        if next.column > current.column {
            let starts_item = word.is_some_and(|w| is_item_word(w) && self.head(next.at).is_some());
            return !starts_item || word.is_some_and(|w| can_head(kind, w));
        }
        match (outer, word, text) {
            (Some(_), None, _) => matches!(kind, BodyKind::Housing | BodyKind::Gang),
            (None, Some(word), _) => BODY_ONLY_WORDS.contains(&word) && can_head(kind, word),
            (None, None, Some(text)) => !owner && self.item_class(next.at, text) == ItemClass::Junk,
            _ => false,
        }
    }

    /// Where the header of `scenario s "S" key run` ends: one past the last token of its name, title and `in SCENARIO`.
    fn header_end(&self, kind: BodyKind, start: u32, end: u32) -> u32 {
        let mut significant = (start..end).filter_map(|at| {
            let token = self.tokens.get(at as usize).filter(|t| t.kind.is_significant())?;
            Some((at, token.kind, token.text(self.source)))
        });
        let mut cut = significant.next().map_or(end, |(at, ..)| at + 1);
        let mut rest = significant.peekable();
        let is_name = |kind: TokenKind| matches!(kind, TokenKind::Word | TokenKind::Path);
        if kind != BodyKind::About
            && let Some((at, ..)) = rest.next_if(|(_, kind, text)| is_name(*kind) && *text != "in")
        {
            cut = at + 1;
        }
        if let Some((at, ..)) = rest.next_if(|(_, kind, _)| *kind == TokenKind::Text) {
            cut = at + 1;
        }
        let placed = matches!(kind, BodyKind::Expect | BodyKind::Exercise | BodyKind::Readings);
        if placed && rest.next_if(|(_, _, text)| *text == "in").is_some() {
            cut = rest.next().map_or(end, |(at, ..)| at + 1);
        }
        cut
    }
}
