//! Bodies whose `}` was forgotten: where they end all the same (2e of the grammar).

use super::{
    BodyKind, ProblemKind, Tokens,
    scan::{Scan, columns},
    words::can_head,
};
use crate::{lexer::TokenKind, step::step};

impl Scan<'_> {
    /// Closes bodies whose `}` was forgotten before the head at `at` (2e).
    pub(super) fn close_forgotten(&mut self, at: u32, word: &str) {
        while let Some(frame) = self.frames.last() {
            if self.indent > frame.column {
                return;
            }
            if can_head(frame.kind, word) {
                if frame.indented != Some(true) || frame.fits {
                    return;
                }
                let (kind, column) = (frame.kind, frame.column);
                if !self.cannot_go_on(at, kind, column) {
                    if let Some(frame) = self.frames.last_mut() {
                        frame.fits = true;
                    }
                    return;
                }
            }
            self.drop_frame();
        }
    }

    /// Closes the innermost body, whose `}` was forgotten.
    pub(super) fn drop_frame(&mut self) {
        let Some(frame) = self.frames.pop() else { return };
        match frame.implied {
            None => {
                self.problem(ProblemKind::OpenBody, frame.brace);
            }
            Some(problem) => {
                if let Some(problem) = self.problems.get_mut(problem) {
                    problem.kind = ProblemKind::BracesMissing;
                }
            }
        }
        if self.frames.is_empty() {
            self.end_item();
            self.leave_docs();
        }
    }

    /// `##` lines above an `allow` line of the body that has ended stay there.
    fn leave_docs(&mut self) {
        let Some(docs) = self.docs else { return };
        let end = self.statements.last().map_or(0, |s| s.tokens.end);
        let is_doc = |at: &u32| self.tokens.get(*at as usize).is_some_and(|t| t.kind == TokenKind::Doc);
        let start = (docs.start.max(end)..docs.end).inspect(|_| step()).find(is_doc);
        self.docs = start.map(|start| Tokens { start, end: docs.end });
    }

    /// Whether a line that cannot belong to such a body, or the file's end, comes before the body's `}`.
    fn cannot_go_on(&mut self, at: u32, kind: BodyKind, column: u32) -> bool {
        let mut depth = 0u32;
        let mut first = true;
        let mut indent = self.indent;
        for (i, token) in self.tokens.iter().enumerate().skip(at as usize) {
            step();
            match token.kind {
                TokenKind::Newline => (first, indent) = (true, 0),
                TokenKind::Blank if first => indent = columns(token.text(self.source), false),
                TokenKind::OpenBrace => depth += 1,
                TokenKind::CloseBrace if depth == 0 => return false,
                TokenKind::CloseBrace => depth -= 1,
                TokenKind::Word
                    if first
                        && indent <= column
                        && self.head(i as u32).is_some_and(|word| !can_head(kind, word)) =>
                {
                    return true;
                }
                _ => {}
            }
            if token.kind.is_significant() {
                first = false;
            }
        }
        self.looked_to_end = true;
        true
    }
}
