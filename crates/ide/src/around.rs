//! From small to large: the word, the statement, the item, the file.

use crate::{View, place::item_at};
use keyon_syntax::{Span, lexer};

/// The stretches around an offset, the smallest first; each holds the one before.
pub fn selection(view: &View<'_>, offset: u32) -> Vec<Span> {
    let text = view.text();
    let mut out: Vec<Span> = Vec::new();
    let mut push = |span: Span| {
        let grows = out
            .last()
            .is_none_or(|last| span.start <= last.start && span.end >= last.end && span.len() > last.len());
        if grows && span.start <= offset && offset <= span.end {
            out.push(span);
        }
    };
    let line_start = text.get(..offset as usize).and_then(|t| t.rfind(['\n', '\r'])).map_or(0, |at| at + 1);
    let rest = text.get(line_start..).unwrap_or("");
    let line = rest.split(['\n', '\r']).next().unwrap_or("");
    for token in lexer::tokens(line).into_iter().filter(|t| t.kind.is_significant()) {
        let span = token.span.moved(line_start as u32);
        if span.touches(offset) {
            // Of a path first the part between the dots.
            let word = text.get(span.range()).unwrap_or("");
            let at = (offset - span.start) as usize;
            let from = word.get(..at).and_then(|w| w.rfind('.')).map_or(0, |d| d + 1);
            let to = word.get(at..).and_then(|w| w.find('.')).map_or(word.len(), |d| at + d);
            push(Span::new(span.start as usize + from, span.start as usize + to));
            push(span);
            break;
        }
    }
    let trimmed = line.trim();
    if !trimmed.is_empty() {
        let from = line_start + line.len() - line.trim_start().len();
        push(Span::new(from, from + trimmed.len()));
    }
    if let Some(placed) = item_at(view, offset) {
        if let Some(pinout) = placed.item.kind.pinout() {
            for span in pinout.housings.iter().map(|h| h.span).chain(pinout.gangs.iter().map(|g| g.span)) {
                push(span.moved(placed.start));
            }
        }
        push(placed.item.statement.moved(placed.start));
        push(placed.item.span.moved(placed.start));
    }
    push(Span::new(0, text.len()));
    out
}
