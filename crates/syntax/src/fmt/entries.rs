//! Tokens to entries: statements with their depth, lines of comment, and what is kept as it stands.

use super::cells::Context;
use crate::{
    Span,
    lexer::{Token, TokenKind},
    step::{step, steps},
};

/// One thing that begins a line.
pub(super) struct Entry<'a> {
    /// Whether an empty line stands before it.
    pub(super) blank_before: bool,
    pub(super) kind: EntryKind<'a>,
}

pub(super) enum EntryKind<'a> {
    /// Whole lines that stay as they are.
    Kept(Span),
    /// A comment or a doc line on a line of its own.
    Comment {
        span: Span,
        depth: usize,
    },
    Statement(Statement<'a>),
}

/// A statement, to the `{` that opens its body if that has several lines; or the `}` that closes one, with what follows.
pub(super) struct Statement<'a> {
    pub(super) words: Vec<Word<'a>>,
    pub(super) depth: usize,
    /// In what body it stands.
    pub(super) context: Context,
    /// The comment at the end of its line.
    pub(super) trailing: Option<Span>,
    /// It ends with the `{` of a body that goes on below.
    pub(super) opens: bool,
    /// It begins with the `}` of a body that began above.
    pub(super) closes: bool,
}

/// A token of a statement.
pub(super) struct Word<'a> {
    pub(super) kind: TokenKind,
    pub(super) span: Span,
    /// As it is to be written.
    pub(super) text: &'a str,
    /// It stands on a line below the word before it.
    pub(super) break_before: bool,
    /// Comments between the word before it and this one, and whether each has a line of its own.
    pub(super) comments: Vec<(Span, bool)>,
}

/// Groups the tokens outside the `kept` stretches.
pub(super) fn entries<'a>(text: &'a str, tokens: &[Token], kept: &[Span]) -> Vec<Entry<'a>> {
    let mut scan = Scan {
        text,
        out: Vec::new(),
        current: None,
        pending: Vec::new(),
        bodies: Vec::new(),
        parens: 0,
        inline: 0,
        newlines: 0,
    };
    let braces = Braces::new(tokens, kept);
    let mut kept = kept.iter().peekable();
    let mut at = 0;
    while let Some(&token) = tokens.get(at) {
        step();
        if let Some(&&span) = kept.peek()
            && token.span.start >= span.start
        {
            kept.next();
            scan.keep(span);
            let inside = tokens.iter().skip(at).take_while(|t| t.span.start < span.end).count();
            steps(inside);
            at += inside;
            continue;
        }
        match token.kind {
            TokenKind::Blank => {}
            TokenKind::Newline => scan.newline(braces.follows(at)),
            TokenKind::Comment | TokenKind::Doc => scan.comment(token.span),
            TokenKind::OpenBrace if braces.multi_line(at) => scan.open(token),
            TokenKind::CloseBrace if scan.inline == 0 && !scan.bodies.is_empty() => scan.close(token),
            _ => scan.word(token),
        }
        at += 1;
    }
    scan.finish();
    scan.out
}

/// What is known beforehand of the `{` in a list of tokens.
struct Braces {
    /// For each token, whether it is a `{` whose partner stands on a line below.
    multi_line: Vec<bool>,
    /// For each token, whether the next significant one after it is a `{`.
    follows: Vec<bool>,
}

impl Braces {
    fn new(tokens: &[Token], kept: &[Span]) -> Self {
        let mut multi_line = vec![false; tokens.len()];
        let mut open: Vec<(usize, usize)> = Vec::new();
        let mut line = 0;
        let mut kept = kept.iter().peekable();
        for (at, token) in tokens.iter().enumerate() {
            while kept.next_if(|span| span.end <= token.span.start).is_some() {
                open.clear();
            }
            match token.kind {
                TokenKind::Newline => line += 1,
                TokenKind::OpenBrace => open.push((at, line)),
                TokenKind::CloseBrace => {
                    if let Some((opened, on)) = open.pop()
                        && let Some(flag) = multi_line.get_mut(opened)
                    {
                        *flag = on != line;
                    }
                }
                _ => {}
            }
        }
        let mut next = false;
        let mut follows: Vec<bool> = tokens
            .iter()
            .rev()
            .map(|token| {
                let after = next;
                if token.kind.is_significant() {
                    next = token.kind == TokenKind::OpenBrace;
                }
                after
            })
            .collect();
        follows.reverse();
        Self { multi_line, follows }
    }

    fn multi_line(&self, at: usize) -> bool {
        self.multi_line.get(at).copied().unwrap_or(false)
    }

    fn follows(&self, at: usize) -> bool {
        self.follows.get(at).copied().unwrap_or(false)
    }
}

struct Scan<'a> {
    text: &'a str,
    out: Vec<Entry<'a>>,
    current: Option<(bool, Statement<'a>)>,
    /// Comments since the last word of `current`.
    pending: Vec<(Span, bool)>,
    /// The bodies that are open, and the number of entries when each was opened.
    bodies: Vec<(Context, usize)>,
    parens: usize,
    /// Bodies open on the current line.
    inline: usize,
    /// Line ends since the last word or comment.
    newlines: usize,
}

impl<'a> Scan<'a> {
    fn context(&self) -> Context {
        self.bodies.last().map_or(Context::Top, |b| b.0)
    }

    fn keep(&mut self, span: Span) {
        self.finish();
        self.bodies.clear();
        self.out.push(Entry { blank_before: self.newlines > 1, kind: EntryKind::Kept(span) });
        self.newlines = 0;
    }

    fn newline(&mut self, next_is_open: bool) {
        self.newlines += 1;
        let list = self.context().is_list() && self.inline == 0 && self.parens == 0;
        let Some((_, statement)) = &mut self.current else { return };
        let last = statement.words.last().map(|w| w.kind);
        if list && last == Some(TokenKind::Comma) && statement.words.len() > 1 {
            statement.words.pop();
            self.finish();
            return;
        }
        let continues =
            self.parens > 0 || matches!(last, Some(TokenKind::Comma | TokenKind::Arrow)) || next_is_open;
        if !continues {
            self.finish();
        }
    }

    fn comment(&mut self, span: Span) {
        let own_line = self.newlines > 0;
        let blank_before = self.newlines > 1;
        self.newlines = 0;
        if self.current.is_some() {
            self.pending.push((span, own_line));
            return;
        }
        if !own_line
            && let Some(Entry { kind: EntryKind::Statement(statement), .. }) = self.out.last_mut()
            && statement.trailing.is_none()
        {
            statement.trailing = Some(span);
            return;
        }
        let depth = self.bodies.len();
        self.out.push(Entry { blank_before, kind: EntryKind::Comment { span, depth } });
    }

    /// Adds a word to the current statement, which begins with it if there is none.
    fn word(&mut self, token: Token) {
        let text = match token.kind {
            TokenKind::PlusMinus => "+-",
            _ => token.text(self.text),
        };
        let mut word = Word {
            kind: token.kind,
            span: token.span,
            text,
            break_before: self.newlines > 0,
            comments: std::mem::take(&mut self.pending),
        };
        let (depth, context) = (self.bodies.len(), self.context());
        let blank = self.newlines > 1;
        match &mut self.current {
            Some((_, statement)) => statement.words.push(word),
            None => {
                word.break_before = false;
                let statement = Statement {
                    words: vec![word],
                    depth,
                    context,
                    trailing: None,
                    opens: false,
                    closes: false,
                };
                self.current = Some((blank, statement));
            }
        }
        self.newlines = 0;
        match token.kind {
            TokenKind::OpenParen => self.parens += 1,
            TokenKind::CloseParen => self.parens = self.parens.saturating_sub(1),
            TokenKind::OpenBrace => self.inline += 1,
            TokenKind::CloseBrace => self.inline = self.inline.saturating_sub(1),
            _ => {}
        }
    }

    /// A `{` with several lines to its body.
    fn open(&mut self, token: Token) {
        self.word(token);
        let inner = match &mut self.current {
            Some((_, statement)) => {
                statement.opens = true;
                // Pulled up to the line of its statement, unless a line of comment stands between.
                steps(statement.words.last().map_or(0, |brace| brace.comments.len()));
                if let Some(brace) = statement.words.last_mut()
                    && brace.comments.iter().all(|(_, own_line)| !own_line)
                    && brace.comments.len() < 2
                {
                    brace.break_before = false;
                    statement.trailing = brace.comments.pop().map(|(span, _)| span);
                }
                statement.context.opened_by(&statement.words)
            }
            None => Context::Other,
        };
        self.finish();
        self.bodies.push((inner, self.out.len()));
        (self.parens, self.inline) = (0, 0);
    }

    /// The `}` of a body with several lines.
    fn close(&mut self, token: Token) {
        self.finish();
        let began = self.bodies.pop().map_or(0, |(_, began)| began);
        self.newlines = 0;
        if self.out.len() == began
            && let Some(Entry { kind: EntryKind::Statement(statement), .. }) = self.out.last()
            && statement.opens
            && statement.trailing.is_none()
            && let Some(Entry { blank_before, kind: EntryKind::Statement(mut statement) }) = self.out.pop()
        {
            // Nothing in it.
            statement.opens = false;
            self.current = Some((blank_before, statement));
            self.word(token);
        } else {
            self.word(token);
            if let Some((blank, statement)) = &mut self.current {
                *blank = false;
                statement.closes = true;
            }
        }
        (self.parens, self.inline) = (0, 0);
    }

    /// Ends the current statement.
    fn finish(&mut self) {
        (self.parens, self.inline) = (0, 0);
        let pending = std::mem::take(&mut self.pending);
        let Some((blank_before, mut statement)) = self.current.take() else { return };
        let depth = statement.depth;
        let mut own = Vec::new();
        for (span, own_line) in pending {
            step();
            if !own_line && statement.trailing.is_none() {
                statement.trailing = Some(span);
            } else {
                own.push(span);
            }
        }
        self.out.push(Entry { blank_before, kind: EntryKind::Statement(statement) });
        self.out.extend(
            own.into_iter()
                .map(|span| Entry { blank_before: false, kind: EntryKind::Comment { span, depth } }),
        );
    }
}
