//! Two items on one line, and a `}` too many inside a block.

use super::{
    BodyKind, ItemClass, ProblemKind,
    pending::Open,
    scan::Scan,
    words::{BODY_ONLY_WORDS, body_of, can_head},
};
use crate::{lexer::TokenKind, step::step};

impl Scan<'_> {
    /// At a `{` in the line of an item that has no body: ends that item before the last word on the line that begins one
    /// with a body, and begins this one.
    pub(super) fn split_joined(&mut self) -> bool {
        let sound = matches!(self.item, Some(Open { class: ItemClass::Word(_), .. }));
        let Some(current) = self.current.as_ref().filter(|c| sound && c.within == BodyKind::File) else {
            return false;
        };
        let (start, end, last) = (current.start, current.end, current.last);
        let opens = |at: &u32| {
            step();
            body_of(BodyKind::File, self.word_at(*at), "") != BodyKind::Other
        };
        let Some(at) = (start + 1..end).rev().find(opens) else { return false };
        let before = (start..at).rev().find(|before| {
            step();
            self.tokens.get(*before as usize).is_some_and(|t| t.kind.is_significant())
        });
        // One that is first on its line was no slip of this kind: the line above goes on with it.
        if self.breaks_between(before.map_or(start, |before| before + 1), at) {
            return false;
        }
        if let Some(current) = &mut self.current {
            current.end = before.map_or(at, |before| before + 1);
        }
        self.end_statement();
        self.begin(at, TokenKind::Word, false);
        self.problem(ProblemKind::LinesJoined, at);
        if let Some(current) = &mut self.current {
            (current.end, current.last) = (end, last);
        }
        true
    }

    /// Whether the `}` at `at`, first on its line and right of the block's header, is one too many: what follows can only
    /// belong to the block.
    pub(super) fn closes_too_early(&self, at: u32) -> bool {
        let [frame] = self.frames.as_slice() else { return false };
        let owner = matches!(frame.kind, BodyKind::Device | BodyKind::Part | BodyKind::Module);
        if !owner || self.indent <= frame.column || !self.line_ends(at as usize + 1) {
            return false;
        }
        let Some(next) = self.follower(at + 1) else { return false };
        if next.kind == TokenKind::CloseBrace {
            return true;
        }
        let word = self.word_at(next.at);
        if word == "connector" {
            return can_head(frame.kind, word) && self.is_housing(next.at);
        }
        BODY_ONLY_WORDS.contains(&word) && can_head(frame.kind, word) && self.head(next.at).is_some()
    }

    /// Whether the first row of the connector that begins at `at` is a cavity with its name, as in a module.
    fn is_housing(&self, at: u32) -> bool {
        let mut brace = (at..).take_while(|at| {
            step();
            self.tokens.get(*at as usize).is_some_and(|t| t.kind != TokenKind::Newline)
        });
        let is_open =
            |at: &u32| self.tokens.get(*at as usize).is_some_and(|t| t.kind == TokenKind::OpenBrace);
        let Some(brace) = brace.find(is_open) else { return false };
        let Some(row) = self.follower(brace + 1) else { return false };
        let second = self.follower(row.at + 1);
        second.is_some_and(|s| s.kind == TokenKind::Word && !self.breaks_between(row.at, s.at))
    }

    fn breaks_between(&self, from: u32, to: u32) -> bool {
        let between = self.tokens.get(from as usize..to as usize).unwrap_or_default();
        between.iter().any(|t| {
            step();
            t.kind == TokenKind::Newline
        })
    }
}
