//! Which stretches of a text are left as they are.

use crate::{
    Parse, Span,
    lexer::{Token, TokenKind},
    step::{step, steps},
};

/// Stretches of whole lines, in order and apart from each other, that hold something that could not be read: damaged
/// items, what shares a line with them, and the comments that follow them directly.
pub(super) fn kept(text: &str, tokens: &[Token], parse: &Parse) -> Vec<Span> {
    let lines = Lines::new(text, tokens);
    let items: Vec<Span> = parse.file.items.iter().map(|i| i.item.span.moved(i.start)).collect();
    let mut bad: Vec<bool> = parse.file.items.iter().map(|i| i.item.damaged).collect();
    let mut loose = Vec::new();
    for error in &parse.errors {
        // The last item that begins at or before the error, and perhaps the one before it.
        let after = items.partition_point(|span| span.start <= error.span.start);
        let hit = after.checked_sub(1).filter(|&i| items.get(i).is_some_and(|s| error.span.start <= s.end));
        match hit.and_then(|i| bad.get_mut(i)) {
            Some(flag) => *flag = true,
            None => loose.push(lines.whole(error.span)),
        }
    }
    for token in tokens.iter().filter(|t| t.kind.is_error()) {
        loose.push(lines.whole(token.span));
    }
    // Items that do not stand on lines of their own are kept with their neighbours.
    let wholes: Vec<Span> = items.iter().map(|&span| lines.whole(span)).collect();
    for i in 1..items.len() {
        let shared = matches!((wholes.get(i - 1), wholes.get(i)), (Some(a), Some(b)) if b.start < a.end);
        if shared {
            bad.iter_mut().skip(i - 1).take(2).for_each(|flag| *flag = true);
        }
    }
    let mut found = loose;
    found.extend(wholes.iter().zip(&bad).filter(|(_, bad)| **bad).map(|(span, _)| *span));
    // A loose error's line may cut into a sound item.
    let mut merged = merge(found);
    let cut = |span: &Span, merged: &[Span]| {
        let next = merged.partition_point(|m| m.end <= span.start);
        merged.get(next).is_some_and(|m| m.start < span.end && !(m.start <= span.start && span.end <= m.end))
    };
    let torn: Vec<Span> = wholes.iter().filter(|span| cut(span, &merged)).copied().collect();
    merged.extend(torn);
    let merged = merge(merged);
    merge(merged.into_iter().map(|span| lines.with_comments(span, tokens, &items)).collect())
}

fn merge(mut spans: Vec<Span>) -> Vec<Span> {
    spans.sort();
    let mut out: Vec<Span> = Vec::with_capacity(spans.len());
    steps(spans.len());
    for span in spans {
        match out.last_mut() {
            Some(last) if span.start <= last.end => last.end = last.end.max(span.end),
            _ => out.push(span),
        }
    }
    out
}

/// Where lines begin and end.
struct Lines {
    /// First byte of each line.
    starts: Vec<u32>,
    /// One past the last byte of each line, its line end not counted.
    ends: Vec<u32>,
}

impl Lines {
    fn new(text: &str, tokens: &[Token]) -> Self {
        // A byte order mark is no part of the first line.
        let mark = if text.starts_with('\u{FEFF}') { '\u{FEFF}'.len_utf8() as u32 } else { 0 };
        let (mut starts, mut ends) = (vec![mark], Vec::new());
        for token in tokens.iter().filter(|t| t.kind == TokenKind::Newline) {
            ends.push(token.span.start);
            starts.push(token.span.end);
        }
        ends.push(text.len() as u32);
        Self { starts, ends }
    }

    fn line(&self, offset: u32) -> usize {
        self.starts.partition_point(|&start| start <= offset).saturating_sub(1)
    }

    /// The lines on which `span` stands.
    fn whole(&self, span: Span) -> Span {
        let last = span.end.max(span.start + 1) - 1;
        let start = self.starts.get(self.line(span.start)).copied().unwrap_or(span.start);
        let end = self.ends.get(self.line(last)).copied().unwrap_or(span.end);
        Span { start, end: end.max(start) }
    }

    /// `span` and the lines right below it that hold nothing but a comment that belongs to no item.
    fn with_comments(&self, mut span: Span, tokens: &[Token], items: &[Span]) -> Span {
        let mut line = self.line(span.end) + 1;
        while let (Some(&start), Some(&end)) = (self.starts.get(line), self.ends.get(line)) {
            step();
            let from = tokens.partition_point(|t| t.span.start < start);
            let first = tokens.iter().skip(from).find(|t| t.kind != TokenKind::Blank);
            let comment = first
                .filter(|t| t.span.start < end && matches!(t.kind, TokenKind::Comment | TokenKind::Doc))
                .filter(|t| {
                    let after = items.partition_point(|item| item.start <= t.span.start);
                    let above = after.checked_sub(1).and_then(|i| items.get(i));
                    above.is_none_or(|item| item.end <= t.span.start)
                });
            if comment.is_none() {
                break;
            }
            span.end = end;
            line += 1;
        }
        span
    }
}
