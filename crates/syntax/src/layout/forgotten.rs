//! Bodies whose `}` was forgotten: where they end all the same (2e of the grammar).

use super::{
    BodyKind, ProblemKind, Tokens,
    scan::{Scan, columns},
    words::can_head,
};
use crate::{lexer::TokenKind, step::step};

/// So many lines are taken for one slip of who pasted them.
const PASTED: u32 = 24;
/// So many lines are looked at, and so many items at most depend on what stands below them.
pub(crate) const AHEAD: usize = 64;

impl Scan<'_> {
    /// Closes bodies whose `}` was forgotten before the head at `at` (2e). Gives whether the head stands in the middle of a
    /// body that goes on below it.
    pub(super) fn close_forgotten(&mut self, at: u32, word: &str) -> bool {
        while let Some(frame) = self.frames.last() {
            if self.indent > frame.column {
                return false;
            }
            if can_head(frame.kind, word) {
                if frame.indented != Some(true) || frame.fits {
                    return false;
                }
                let (kind, column) = (frame.kind, frame.column);
                if !self.cannot_go_on(at, kind, column) {
                    if let Some(frame) = self.frames.last_mut() {
                        frame.fits = true;
                    }
                    return false;
                }
            } else if !self.fits_further_out(word) && self.is_pasted_into(at) {
                return true;
            }
            self.drop_frame();
        }
        false
    }

    /// Whether the line may belong to a body further out: a `connector` in one that was not closed.
    fn fits_further_out(&self, word: &str) -> bool {
        let outer = self.frames.split_last().map_or(&[][..], |(_, outer)| outer);
        outer.iter().any(|frame| can_head(frame.kind, word))
    }

    /// Whether the innermost body goes on behind a line that cannot belong to it: further in than that line stand more of its
    /// rows, and then its `}`. So does one that was pasted into it.
    fn is_pasted_into(&mut self, at: u32) -> bool {
        let Some(frame) = self.frames.last() else { return false };
        if frame.indented == Some(false) || frame.implied.is_some() {
            return false;
        }
        if frame.closes.is_some_and(|close| at < close) {
            return true;
        }
        // So many lines may have been pasted at the end of a body, with no row behind them.
        let most = if frame.indented.is_some() { 3 } else { 0 };
        let (kind, column) = (frame.kind, frame.column);
        match self.close_behind(at, kind, column, most) {
            Some(close) => {
                if let Some(frame) = self.frames.last_mut() {
                    frame.closes = Some(close);
                }
                true
            }
            None => false,
        }
    }

    /// The `}` of such a body, if behind the lines from `at` on that cannot belong to it nothing but its rows comes before; at most
    /// so many lines where there are no rows.
    /// Only a few lines are looked at: more have not been pasted into it by mistake.
    fn close_behind(&mut self, at: u32, kind: BodyKind, column: u32, most: u32) -> Option<u32> {
        let (mut depth, mut lines, mut rows, mut all) = (0u32, 0u32, false, 0);
        let (mut first, mut indent) = (true, self.indent);
        for (i, token) in self.tokens.iter().enumerate().skip(at as usize) {
            step();
            match token.kind {
                TokenKind::Newline => (first, indent) = (true, 0),
                TokenKind::Blank if first => indent = columns(token.text(self.source), false),
                TokenKind::CloseBrace if depth == 0 => return (rows || lines <= most).then_some(i as u32),
                TokenKind::CloseBrace => depth -= 1,
                kind_here => {
                    if first && kind_here.is_significant() {
                        let margin = indent <= column;
                        let foreign = margin && self.head(i as u32).is_some_and(|word| !can_head(kind, word));
                        if foreign && (rows || depth > 0) {
                            return None;
                        }
                        rows |= !margin && depth == 0;
                        lines += u32::from(!rows);
                        all += 1;
                        if lines > PASTED || all > AHEAD {
                            return None;
                        }
                    }
                    depth += u32::from(kind_here == TokenKind::OpenBrace);
                }
            }
            if token.kind.is_significant() {
                first = false;
            }
        }
        self.looked_to_end = true;
        None
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
