//! Two items on one line.

use super::{BodyKind, ItemClass, ProblemKind, pending::Open, scan::Scan, words::body_of};
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

    fn breaks_between(&self, from: u32, to: u32) -> bool {
        let between = self.tokens.get(from as usize..to as usize).unwrap_or_default();
        between.iter().any(|t| {
            step();
            t.kind == TokenKind::Newline
        })
    }
}
