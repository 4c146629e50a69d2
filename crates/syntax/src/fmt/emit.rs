//! Lines to replacements of bytes.

use super::align::Line;
use crate::{Span, step::steps};

/// A stretch of the old text and what stands there in the new one.
struct Chunk {
    span: Span,
    text: String,
    /// White space before it.
    gap: String,
}

/// The edits that turn `text` into `lines`.
pub(super) fn edits(text: &str, lines: &[Line<'_>]) -> Vec<(Span, String)> {
    let newline = line_end(text);
    let mark = if text.starts_with('\u{FEFF}') { "\u{FEFF}" } else { "" };
    let chunks = chunks(lines, newline, mark);
    let mut out = Vec::new();
    let mut at = 0;
    for chunk in &chunks {
        let between = Span { start: at, end: chunk.span.start };
        replace(text, between, &with_line_ends_of(text, between, &chunk.gap, newline), &mut out);
        replace(text, chunk.span, &chunk.text, &mut out);
        at = chunk.span.end;
    }
    let rest = Span { start: at, end: text.len() as u32 };
    let end = if chunks.is_empty() { mark.to_owned() } else { with_line_ends_of(text, rest, "\n", newline) };
    replace(text, rest, &end, &mut out);
    out
}

/// The line end that most lines of the text have (of as many, the shorter), for those that are added.
fn line_end(text: &str) -> &'static str {
    let both = text.matches("\r\n").count();
    let feeds = text.matches('\n').count() - both;
    let returns = text.matches('\r').count() - both;
    match both.max(feeds).max(returns) {
        most if most == feeds => "\n",
        most if most == both => "\r\n",
        _ => "\r",
    }
}

/// `gap` with the line ends that stand in `span` of the text, as far as there are enough.
fn with_line_ends_of(text: &str, span: Span, gap: &str, newline: &str) -> String {
    let mut rest = text.get(span.range()).unwrap_or_default();
    let mut out = String::with_capacity(gap.len() + 2);
    for c in gap.chars() {
        if c != '\n' {
            out.push(c);
            continue;
        }
        rest = rest.trim_start_matches(|c| c != '\r' && c != '\n');
        let end = ["\r\n", "\n", "\r"].into_iter().find(|end| rest.starts_with(end));
        rest = rest.get(end.map_or(0, str::len)..).unwrap_or_default();
        out.push_str(end.unwrap_or(newline));
    }
    out
}

fn replace(text: &str, span: Span, new: &str, out: &mut Vec<(Span, String)>) {
    if text.get(span.range()) != Some(new) {
        out.push((span, new.to_owned()));
    }
}

/// One chunk a piece; pieces that change places become one chunk.
fn chunks(lines: &[Line<'_>], newline: &str, mark: &str) -> Vec<Chunk> {
    let mut out: Vec<Chunk> = Vec::new();
    for (number, line) in lines.iter().enumerate() {
        for (i, piece) in line.pieces.iter().enumerate() {
            let mut gap = String::new();
            if i == 0 {
                match number {
                    0 => gap.push_str(mark),
                    _ if line.blank_before => gap.push_str("\n\n"),
                    _ => gap.push('\n'),
                }
                gap.push_str(&" ".repeat(line.indent.unwrap_or(0)));
            } else {
                gap.push_str(&" ".repeat(piece.gap));
            }
            let mut chunk = Chunk { span: piece.span, text: piece.text.to_owned(), gap };
            steps(chunk.text.len() + chunk.gap.len());
            while let Some(before) = out.pop_if(|before| before.span.end > chunk.span.start) {
                steps(chunk.text.len() + chunk.gap.len());
                let gap = chunk.gap.replace('\n', newline);
                chunk = Chunk {
                    span: before.span.to(chunk.span),
                    text: before.text + &gap + &chunk.text,
                    gap: before.gap,
                };
            }
            out.push(chunk);
        }
    }
    out
}
