//! The formatter.
//!
//! It works on tokens, so that comments keep their places and whatever cannot be read is left alone: an item with an
//! error is written out as it stands. What it decides is white space, and these few rewrites besides:
//!
//! - a value that stands before the path of a fuse, an element or a switch goes behind it (`10 A  A -> B` becomes
//!   `A -> B  10 A`);
//! - `±` and `+/-` become `+-`;
//! - in lists of cavities, settings and table rows a comma at the end of a line goes: the line's end says the same.
//!
//! Statements of one kind that follow one another without a blank line or a comment between them are a *block*, and
//! their columns are aligned. Nothing outside a block moves when a line of it changes.

mod align;
mod cells;
mod emit;
mod entries;
mod regions;
mod spacing;
#[cfg(test)]
mod tests;

use crate::Span;

/// The text in its canonical layout. Text that does not parse keeps its damaged items as they are.
pub fn format(text: &str) -> String {
    apply(text, &format_edits(text))
}

/// What [`format`] changes, as replacements of bytes: in order, not overlapping, each as small as white space allows.
pub fn format_edits(text: &str) -> Vec<(Span, String)> {
    let tokens = crate::lexer::tokens(text);
    let parse = crate::parse(text);
    let kept = regions::kept(text, &tokens, &parse);
    let entries = entries::entries(text, &tokens, &kept);
    let lines = align::lines(text, entries);
    emit::edits(text, &lines)
}

/// Makes the replacements.
fn apply(text: &str, edits: &[(Span, String)]) -> String {
    let mut out = String::with_capacity(text.len() + text.len() / 8);
    let mut at = 0;
    for (span, new) in edits {
        out.push_str(text.get(at..span.range().start).unwrap_or_default());
        out.push_str(new);
        at = span.range().end;
    }
    out.push_str(text.get(at..).unwrap_or_default());
    out
}
