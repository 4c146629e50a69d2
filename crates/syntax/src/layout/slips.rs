//! Brackets of the wrong kind, a line that was broken: read as they were meant.

use super::{
    AHEAD, BodyKind, ItemClass, ProblemKind,
    headers::Follower,
    pending::Open,
    scan::{Scan, columns},
    words::{ATTRIBUTE_WORDS, ROLE_WORDS, can_head},
};
use crate::{
    grammar::atoms::CLAUSE_WORDS,
    lexer::{Token, TokenKind},
    step::step,
};

/// The words that begin the rows of an exercise.
const EXERCISE_ROWS: [&str; 5] = ["in", "fault", "symptom", "probes", "ask"];

impl Scan<'_> {
    /// Whether the next line, which is no statement of its own, goes on with the one that ends at `at`: directly below it
    /// and further right, or begun with what begins no line.
    pub(super) fn goes_on(&self, at: u32, next: Follower) -> bool {
        let Some(current) = &self.current else { return false };
        let below = self.line_is_next(at, next.at);
        if !below || matches!(next.kind, TokenKind::CloseBrace | TokenKind::Other) {
            return false;
        }
        let fits = match current.within {
            BodyKind::File => {
                let text = self.word_at(next.at);
                let sound = matches!(self.item, Some(Open { class: ItemClass::Word(_), .. }));
                sound && self.item_class(next.at, text) == ItemClass::Junk
            }
            BodyKind::Device | BodyKind::Part | BodyKind::Module => self.head(next.at).is_none(),
            _ => false,
        };
        fits && self.reads_on(next)
    }

    /// Whether behind a comma that ends a line, in the rows of a block, the next line is a row of its own: the comma is one too
    /// many, or what was to stand behind it is missing.
    pub(super) fn row_follows(&self, at: u32) -> bool {
        let Some(current) = self.current.as_ref().filter(|c| c.last == TokenKind::Comma) else {
            return false;
        };
        if current.within == BodyKind::Gang {
            return self.position_follows(at);
        }
        if !matches!(current.within, BodyKind::Housing | BodyKind::Exercise) {
            return false;
        }
        let Some(next) = self.follower(at) else { return false };
        let rest = self.tokens.iter().skip(next.at as usize + 1).filter(|t| {
            step();
            !matches!(t.kind, TokenKind::Blank | TokenKind::Invisible)
        });
        let mut words = rest.map(|t| match t.kind {
            TokenKind::Word => t.text(self.source),
            _ => "",
        });
        let second = words.next().unwrap_or_default();
        match current.within {
            BodyKind::Exercise => EXERCISE_ROWS.contains(&self.word_at(next.at)) && !second.is_empty(),
            // `4 oil_in senses`, `4 unused`.
            _ => {
                second == "unused"
                    || (!second.is_empty() && ROLE_WORDS.contains(&words.next().unwrap_or_default()))
            }
        }
    }

    /// Whether the next line names a position and its stages, where pairs of a stage and its place could follow: so many words are
    /// odd.
    fn position_follows(&self, at: u32) -> bool {
        let Some(next) = self.follower(at) else { return false };
        let line = self.tokens.iter().skip(next.at as usize).take_while(|t| {
            step();
            t.kind != TokenKind::Newline
        });
        let words = line.filter(|t| matches!(t.kind, TokenKind::Word | TokenKind::Int | TokenKind::Glued));
        words.count() % 2 == 1
    }

    /// Whether a line that is no statement of its own begins like the rest of one.
    fn reads_on(&self, next: Follower) -> bool {
        let Some(current) = &self.current else { return false };
        // Outside bodies the margin alone counts: that is where the formatter puts all items.
        let right = next.column > if current.within == BodyKind::File { 0 } else { current.column };
        let lone = current.end <= current.start + 1;
        let arrow = |from: u32, to: Option<u32>| {
            let tokens = self.tokens.iter().skip(from as usize);
            let mut tokens = tokens.take(to.map_or(usize::MAX, |to| (to - from) as usize));
            tokens.find(|t| {
                step();
                matches!(self.kind_of(**t), TokenKind::Arrow | TokenKind::Newline)
            })
        };
        let is_arrow = |t: Option<&Token>| t.is_some_and(|t| self.kind_of(*t) == TokenKind::Arrow);
        let has_path = is_arrow(arrow(next.at, None));
        if has_path && is_arrow(arrow(current.start, Some(current.end))) {
            return false;
        }
        match next.kind {
            TokenKind::Int | TokenKind::Dec | TokenKind::Exp | TokenKind::Glued => right || !has_path,
            TokenKind::Text | TokenKind::Dots | TokenKind::PlusMinus | TokenKind::Colon => true,
            TokenKind::Word => {
                let text = self.word_at(next.at);
                let colour = text.len() == 2 && text.bytes().all(|b| b.is_ascii_uppercase());
                let clause = CLAUSE_WORDS.contains(&text)
                    || ATTRIBUTE_WORDS.contains(&text)
                    || matches!(text, "positions" | "uses" | "negative" | "live");
                right && (lone || has_path || colour || clause)
            }
            TokenKind::Path => right && (lone || has_path),
            TokenKind::OpenParen | TokenKind::Slash | TokenKind::Percent => right,
            _ => false,
        }
    }

    /// The word that a token is; empty if it is none.
    pub(super) fn word_at(&self, at: u32) -> &str {
        let token = self.tokens.get(at as usize).filter(|t| t.kind == TokenKind::Word);
        token.map(|t| t.text(self.source)).unwrap_or_default()
    }

    /// Whether nothing but one line's end and blanks stands between.
    fn line_is_next(&self, newline: u32, next: u32) -> bool {
        let between = self.tokens.get(newline as usize + 1..next as usize).unwrap_or_default();
        // At most a run of blanks: longer ones are not looked through.
        between.len() < 2 && between.iter().all(|t| t.kind == TokenKind::Blank)
    }

    /// At a line's end: a header that ends with `(` or `[` where its body should begin.
    pub(super) fn mend_paren(&mut self, at: u32) {
        let Some(current) = &self.current else { return };
        let last = current.end.saturating_sub(1);
        let Some(token) = self.tokens.get(last as usize) else { return };
        let paren = token.kind == TokenKind::OpenParen && current.parens == 1;
        let bracket = token.kind == TokenKind::Other && token.text(self.source) == "[";
        if (!paren && !bracket) || last <= current.start {
            return;
        }
        let Some(next) = self.follower(at + 1) else { return };
        let parens = current.parens;
        if let Some(current) = &mut self.current {
            current.parens = 0;
        }
        let kind = self.body_without_brace().filter(|kind| {
            // In `part p(` and `: relay(` a list goes on below.
            let owner = matches!(kind, BodyKind::Device | BodyKind::Part | BodyKind::Module);
            !owner || bracket || self.head(next.at).is_some_and(|word| can_head(*kind, word))
        });
        match kind {
            Some(kind) => self.open_at_end(kind, ProblemKind::OpenOther),
            None => {
                if let Some(current) = &mut self.current {
                    current.parens = parens;
                }
            }
        }
    }

    /// The first token of a line: a `)` or `]` alone on it, in a body, is the body's `}`.
    pub(super) fn mend_close(&mut self, at: u32, kind: TokenKind) -> TokenKind {
        let Some(token) = self.tokens.get(at as usize) else { return kind };
        let odd = token.kind == TokenKind::CloseParen
            || (token.kind == TokenKind::Other && token.text(self.source) == "]");
        let open = self.current.as_ref().is_some_and(|c| c.parens > 0 || c.braces > 0);
        if !odd || open || self.frames.is_empty() || !self.line_ends(at as usize + 1) {
            return kind;
        }
        self.problem(ProblemKind::CloseOther, at);
        TokenKind::CloseBrace
    }

    /// Whether a `}` is one too many: what follows stands right of what opened the body, and so does the `}`, or it is a line of just
    /// this body.
    pub(super) fn closes_too_early(&mut self, at: u32) -> bool {
        let Some(frame) = self.frames.last().filter(|f| f.indented != Some(false) && f.implied.is_none())
        else {
            return false;
        };
        if matches!(frame.kind, BodyKind::Table | BodyKind::Other) || !self.line_ends(at as usize + 1) {
            return false;
        }
        let Some(next) = self.follower(at + 1) else { return false };
        if next.kind == TokenKind::CloseBrace || next.column <= frame.column {
            return false;
        }
        let fits = match frame.kind {
            BodyKind::Housing | BodyKind::Gang => self.head(next.at).is_none(),
            kind => self.head(next.at).is_some_and(|word| can_head(kind, word)),
        };
        (self.indent > frame.column || fits) && self.closes_nothing_below(at)
    }

    /// Whether one more `}` than there are bodies to close stands behind the one at `at`, before the next item at the margin: without
    /// that nothing is one too many, however it is indented.
    fn closes_nothing_below(&mut self, at: u32) -> bool {
        let margin = self.frames.first().map_or(0, |frame| frame.column);
        let mut open = self.frames.len().saturating_sub(1);
        let (mut lines, mut column, mut first) = (0, 0, false);
        for token in self.tokens.iter().skip(at as usize + 1) {
            step();
            match token.kind {
                TokenKind::Newline => {
                    (lines, column, first) = (lines + 1, 0, true);
                    if lines > AHEAD {
                        return false;
                    }
                }
                TokenKind::Blank if first => column = columns(token.text(self.source), false),
                kind if kind.is_significant() => {
                    if first && column <= margin && kind != TokenKind::CloseBrace {
                        return false;
                    }
                    first = false;
                    match kind {
                        TokenKind::OpenBrace => open += 1,
                        TokenKind::CloseBrace if open == 0 => return true,
                        TokenKind::CloseBrace => open -= 1,
                        _ => {}
                    }
                }
                _ => {}
            }
        }
        self.looked_to_end = true;
        false
    }

    /// Whether a `}` belongs to `switches X, Y }` in a row, of which the `{` is missing: what follows stands below the row.
    pub(super) fn closes_switches(&self, at: u32) -> bool {
        let Some(current) = self.current.as_ref().filter(|c| c.within == BodyKind::Housing) else {
            return false;
        };
        let tokens = self.tokens.get(current.start as usize..at as usize).unwrap_or_default();
        let mut said = false;
        for token in tokens {
            step();
            if token.kind == TokenKind::OpenBrace {
                return false;
            }
            said |= token.kind == TokenKind::Word && token.text(self.source) == "switches";
        }
        let ends = said && self.line_ends(at as usize + 1);
        let Some(frame) = self.frames.last().filter(|_| ends) else { return false };
        self.follower(at + 1)
            .is_some_and(|next| next.column > frame.column || next.kind == TokenKind::CloseBrace)
    }

    /// A `{` directly behind the one that opened a body, `{ {`: belongs to the header and opens nothing.
    pub(super) fn second_brace(&mut self, at: u32) -> bool {
        let Some(frame) = self.frames.last().filter(|f| f.indented.is_none() && f.implied.is_none()) else {
            return false;
        };
        let between = self.tokens.get(frame.brace as usize + 1..at as usize).unwrap_or_default();
        if between.len() > 1 || between.iter().any(|t| t.kind != TokenKind::Blank) {
            return false;
        }
        if let Some(header) = self.statements.last_mut() {
            header.tokens.end = at + 1;
        }
        self.problem(ProblemKind::BraceTwice, at);
        true
    }
}
