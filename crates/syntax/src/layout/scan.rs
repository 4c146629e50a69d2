//! The scan that finds items and statements.

use super::headers::Follower;
use super::pending::{Current, Frame, Open};
use super::words::{body_of, can_head, known_word};
use super::{BodyKind, ItemClass, ItemLayout, Layout, Problem, ProblemKind, Role, Statement, Tokens};
use crate::{
    lexer::{Token, TokenKind, stands_for},
    step::step,
};

/// Correct text nests three deep.
const DEEPEST: usize = 8;

pub(super) fn scan(source: &str, tokens: Vec<Token>) -> Layout {
    let mut scan = Scan {
        source,
        tokens: &tokens,
        items: Vec::with_capacity(tokens.len() / 24),
        statements: Vec::with_capacity(tokens.len() / 16),
        problems: Vec::new(),
        frames: Vec::new(),
        item: None,
        current: None,
        docs: None,
        indent: 0,
        line_open: false,
        line_bare: true,
        too_deep: false,
        looked_to_end: false,
        slips: false,
        after_close: false,
    };
    scan.run();
    let Scan { items, statements, problems, looked_to_end, slips, .. } = scan;
    Layout { tokens, items, statements, problems, slips, looked_to_end }
}

pub(super) struct Scan<'a> {
    pub(super) source: &'a str,
    pub(super) tokens: &'a [Token],
    items: Vec<ItemLayout>,
    pub(super) statements: Vec<Statement>,
    pub(super) problems: Vec<Problem>,
    pub(super) frames: Vec<Frame>,
    pub(super) item: Option<Open>,
    pub(super) current: Option<Current>,
    /// `##` lines that wait for what they belong to.
    pub(super) docs: Option<Tokens>,
    /// Column of the line's first token.
    pub(super) indent: u32,
    /// Whether the line has a significant token already.
    line_open: bool,
    /// Whether the line has nothing but blanks.
    line_bare: bool,
    too_deep: bool,
    pub(super) looked_to_end: bool,
    slips: bool,
    /// A body was closed on the line being read.
    after_close: bool,
}

impl Scan<'_> {
    fn run(&mut self) {
        let mut at = 0;
        while let Some(token) = self.tokens.get(at as usize).copied() {
            step();
            let kind = self.kind_of(token);
            self.slips |= token.kind == TokenKind::Lookalike;
            match kind {
                TokenKind::Blank => {
                    if self.line_bare && !self.line_open {
                        self.indent = columns(token.text(self.source), token.span.start == 0);
                    }
                }
                TokenKind::Invisible => self.slips = true,
                TokenKind::Comment => self.line_bare = false,
                TokenKind::Doc => {
                    self.line_bare = false;
                    if self.current.is_none() {
                        let start = self.docs.map_or(at, |docs| docs.start);
                        self.docs = Some(Tokens { start, end: at + 1 });
                    }
                }
                TokenKind::Newline => {
                    if let Some(brace) = self.newline(at) {
                        let between = self.tokens.get(at as usize..brace as usize).unwrap_or_default();
                        self.slips |= between.iter().any(|t| t.kind == TokenKind::Invisible);
                        at = brace;
                        continue;
                    }
                    // After `;` the line goes on, and so does its column.
                    if token.kind == TokenKind::Newline {
                        self.indent = 0;
                    }
                }
                _ => self.significant(at, kind),
            }
            at += 1;
        }
        self.end_statement();
        while !self.frames.is_empty() {
            self.drop_frame();
        }
        self.end_item();
    }

    /// What a token is, or was meant to be.
    pub(super) fn kind_of(&self, token: Token) -> TokenKind {
        match token.kind {
            TokenKind::Lookalike => stands_for(token.text(self.source)),
            kind => kind,
        }
    }

    /// A line's end. Gives the place of the `{` or `->` that begins the next line of the statement, if one does.
    fn newline(&mut self, at: u32) -> Option<u32> {
        if self.line_bare && !self.line_open {
            // A blank line parts a doc comment from what follows.
            self.docs = None;
        }
        self.line_open = false;
        self.line_bare = true;
        self.after_close = false;
        self.mend_paren(at);
        let current = self.current.as_ref()?;
        let goes_on = matches!(current.last, TokenKind::Comma | TokenKind::Arrow);
        if current.parens > 0 || (goes_on && !self.row_follows(at + 1)) {
            return None;
        }
        if current.role == Role::Plain
            && !goes_on
            && let Some(next) = self.follower(at + 1)
        {
            if next.kind == TokenKind::OpenBrace {
                return Some(next.at);
            }
            if next.kind == TokenKind::Arrow {
                self.problem(ProblemKind::ArrowBelow, next.at);
                self.indent = next.column;
                return Some(next.at);
            }
            if self.open_forgotten(next) {
                return None;
            }
            if self.goes_on(at, next) {
                self.problem(ProblemKind::LineBroken, next.at);
                self.indent = next.column;
                return Some(next.at);
            }
        }
        self.end_statement();
        None
    }

    /// The first significant token from the line that begins at `at`.
    pub(super) fn follower(&self, at: u32) -> Option<Follower> {
        let mut column = 0;
        for (at, token) in self.tokens.iter().enumerate().skip(at as usize) {
            step();
            match token.kind {
                TokenKind::Newline => column = 0,
                TokenKind::Blank => column = columns(token.text(self.source), false),
                TokenKind::Invisible => {}
                kind if kind.is_significant() => {
                    return Some(Follower { at: at as u32, kind: self.kind_of(*token), column });
                }
                _ => {}
            }
        }
        None
    }

    fn significant(&mut self, at: u32, kind: TokenKind) {
        let first = !self.line_open;
        self.line_open = true;
        self.line_bare = false;
        let kind = if first { self.mend_close(at, kind) } else { kind };
        if first && self.current.is_some() {
            let afresh =
                self.head(at).is_some_and(|_| self.current.as_ref().is_some_and(|c| self.indent <= c.column));
            if afresh {
                self.end_statement();
            }
        }
        let switches = kind == TokenKind::CloseBrace && self.closes_switches(at);
        match (&mut self.current, kind) {
            (None, _) => self.begin(at, kind, first),
            (Some(current), TokenKind::CloseBrace) if current.braces > 0 => {
                current.braces -= 1;
                self.push(at, kind);
            }
            (Some(_), TokenKind::CloseBrace) if switches => self.push(at, kind),
            (Some(_), TokenKind::CloseBrace) => {
                if !self.open_before(at) {
                    self.end_statement();
                    self.close(at);
                }
            }
            (Some(_), TokenKind::OpenBrace) => self.open(at),
            (Some(current), TokenKind::OpenParen) => {
                if current.parens == 0 {
                    current.paren_at = at;
                }
                current.parens += 1;
                self.push(at, kind);
            }
            (Some(current), TokenKind::CloseParen) => {
                current.parens = current.parens.saturating_sub(1);
                self.push(at, kind);
            }
            (Some(_), _) => self.push(at, kind),
        }
    }

    fn push(&mut self, at: u32, kind: TokenKind) {
        if let Some(current) = &mut self.current {
            current.end = at + 1;
            current.last = kind;
        }
    }

    /// The first token of a statement.
    pub(super) fn begin(&mut self, at: u32, kind: TokenKind, first: bool) {
        if kind == TokenKind::CloseBrace && !self.frames.is_empty() {
            if first {
                self.end_implied_inside();
            }
            if self.closes_too_early(at) {
                self.problem(ProblemKind::CloseExtra, at);
                return;
            }
            return self.close(at);
        }
        if kind == TokenKind::OpenBrace && self.second_brace(at) {
            return;
        }
        if first {
            self.end_implied();
        }
        let after_close = std::mem::take(&mut self.after_close);
        let mut foreign = false;
        if first && let Some(word) = self.head(at) {
            foreign = self.close_forgotten(at, word);
        }
        let docs = self.docs.take().unwrap_or_default();
        let text = self.tokens.get(at as usize).filter(|t| t.kind == TokenKind::Word);
        let text = text.map(|t| t.text(self.source)).unwrap_or_default();
        let mut role = if foreign { Role::Foreign } else { Role::Plain };
        if let Some(frame) = self.frames.last_mut() {
            frame.indented.get_or_insert(!first || self.indent > frame.column);
            let allow = known_word(text) == Some("allow") && can_head(frame.kind, "allow");
            let cavity = frame.kind == BodyKind::Housing;
            if allow && !foreign && self.head(at).is_some() && !(cavity && self.two_words_follow(at)) {
                role = Role::Allow;
                // What stands above an `allow` line is about the statement below it.
                self.docs = Some(docs).filter(|docs| !docs.is_empty());
            }
        } else {
            role = self.begin_item(at, docs, text);
        }
        let named = matches!(kind, TokenKind::Word | TokenKind::Int | TokenKind::Glued);
        if after_close && (named || self.frames.is_empty()) && kind != TokenKind::CloseBrace {
            self.problem(ProblemKind::LineEndMissing, at);
        }
        let within = self.frames.last().map_or(BodyKind::File, |f| f.kind);
        let mut current = Current::new(at, kind, self.indent, self.frames.len() as u32, within);
        current.role = role;
        if !self.frames.is_empty() && role != Role::Allow {
            current.docs = docs;
        }
        self.current = Some(current);
        if kind == TokenKind::OpenBrace {
            self.open(at);
        }
    }

    /// The first token of a statement outside all bodies.
    fn begin_item(&mut self, at: u32, docs: Tokens, text: &str) -> Role {
        let class = self.item_class(at, text);
        let start = if docs.is_empty() { at } else { docs.start };
        let allows = matches!(self.item, Some(Open { class: ItemClass::Stray, .. }));
        if !allows {
            let joins = class == ItemClass::Junk
                && docs.is_empty()
                && matches!(self.item, Some(Open { class: ItemClass::Junk, .. }));
            if joins {
                return Role::Plain;
            }
            self.end_item();
            self.too_deep = false;
            let first_statement = self.statements.len() as u32;
            self.item = Some(Open { start, first_statement, class, docs });
        } else if let Some(item) = &mut self.item {
            item.class = class;
            if item.docs.is_empty() {
                item.docs = docs;
            } else if !docs.is_empty() {
                item.docs.end = docs.end;
            }
        }
        if class == ItemClass::Stray { Role::Allow } else { Role::Plain }
    }

    /// A `{` in a statement.
    fn open(&mut self, at: u32) {
        let Some(current) = &mut self.current else { return };
        let word = |i: u32| {
            let token = self.tokens.get(i as usize).filter(|t| t.kind == TokenKind::Word);
            token.map(|t| t.text(self.source)).unwrap_or_default()
        };
        let last = word(current.end.saturating_sub(1));
        let row = matches!(current.within, BodyKind::Housing | BodyKind::Inline | BodyKind::Other);
        if current.braces > 0 || (row && last == "switches" && current.start + 1 < current.end) {
            if current.braces == 0 {
                current.brace_at = at;
            }
            current.braces += 1;
            return self.push(at, TokenKind::OpenBrace);
        }
        let within = current.within;
        let first = match (&self.item, within) {
            (Some(Open { class: ItemClass::Word(word), .. }), BodyKind::File) => word,
            _ => known_word(word(current.start)).unwrap_or_default(),
        };
        let kind = body_of(within, first, last);
        let column = current.column;
        if kind == BodyKind::Other && self.split_joined() {
            return self.open(at);
        }
        self.push(at, TokenKind::OpenBrace);
        self.finish(Some(kind));
        if self.frames.len() >= DEEPEST && !self.too_deep {
            self.too_deep = true;
            self.problem(ProblemKind::TooDeep, at);
        }
        self.frames.push(Frame {
            kind,
            column,
            brace: at,
            indented: None,
            fits: false,
            closes: None,
            implied: None,
        });
    }

    /// The `}` of the innermost body.
    pub(super) fn close(&mut self, at: u32) {
        let Some(frame) = self.frames.pop() else {
            // A stray one outside all bodies.
            return self.begin(at, TokenKind::CloseBrace, false);
        };
        self.docs = None;
        let mut current =
            Current::new(at, TokenKind::CloseBrace, frame.column, self.frames.len() as u32, frame.kind);
        current.role = Role::Close;
        self.current = Some(current);
        // Behind a table the statement goes on to the line's end.
        if frame.kind != BodyKind::Table {
            self.after_close = true;
            self.end_statement();
        }
    }

    pub(super) fn end_statement(&mut self) {
        if self.current.is_some() {
            self.finish(None);
            let junk = matches!(self.item, Some(Open { class: ItemClass::Junk, .. }));
            let allow = matches!(self.statements.last(), Some(Statement { role: Role::Allow, .. }));
            if self.frames.is_empty() && !junk && !allow {
                self.end_item();
            }
        }
    }

    /// Stores the statement.
    pub(super) fn finish(&mut self, opens: Option<BodyKind>) {
        let Some(mut current) = self.current.take() else { return };
        if current.parens > 0 {
            self.problem(ProblemKind::OpenParen, current.paren_at);
            current.broken = true;
        }
        if current.braces > 0 {
            self.problem(ProblemKind::OpenBody, current.brace_at);
            current.broken = true;
        }
        self.statements.push(Statement {
            tokens: Tokens { start: current.start, end: current.end },
            docs: current.docs,
            depth: current.depth,
            within: current.within,
            role: current.role,
            opens,
            broken: current.broken,
        });
    }

    pub(super) fn end_item(&mut self) {
        let Some(item) = self.item.take() else { return };
        let end = self.statements.last().map_or(item.start, |s| s.tokens.end);
        self.items.push(ItemLayout {
            tokens: Tokens { start: item.start, end },
            statements: item.first_statement..self.statements.len() as u32,
            class: item.class,
            docs: item.docs,
        });
    }

    /// Notes a problem; gives its number.
    pub(super) fn problem(&mut self, kind: ProblemKind, token: u32) -> usize {
        let item = self.items.len() as u32;
        self.problems.push(Problem { kind, token, item });
        self.problems.len() - 1
    }
}

/// Columns that a line's leading blanks take: a tab counts as four, a byte order mark at the very start nothing.
pub(super) fn columns(blanks: &str, file_start: bool) -> u32 {
    let blanks = if file_start { blanks.trim_start_matches('\u{FEFF}') } else { blanks };
    blanks.chars().map(|c| if c == '\t' { 4 } else { 1 }).sum()
}
