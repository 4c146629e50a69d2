//! The colours that are written in wires, as swatches.

use crate::View;
use keyon_syntax::{Span, lexer, tree::ItemKind};

/// A colour in the text: its bytes, red, green, blue.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Swatch {
    #[allow(missing_docs)]
    pub span: Span,
    #[allow(missing_docs)]
    pub rgb: [u8; 3],
}

/// The colours of the view's file, each of base and tracer.
pub fn swatches(view: &View<'_>) -> Vec<Swatch> {
    let Some(source) = view.source() else { return Vec::new() };
    let mut out = Vec::new();
    for placed in &source.parse.file.items {
        if !matches!(placed.item.kind, ItemKind::Wire(_)) {
            continue;
        }
        let span = placed.item.span.moved(placed.start);
        let text = source.text.get(span.range()).unwrap_or("");
        // Behind the first blank: a wire may be named like a colour.
        for token in lexer::tokens(text).into_iter().filter(|t| t.kind == lexer::TokenKind::Word) {
            let word = text.get(token.span.range()).unwrap_or("");
            let shades = match keyon_present::wire_colour(word) {
                Some((base, tracer)) if word.chars().all(|c| c.is_ascii_uppercase()) => [Some(base), tracer],
                _ => continue,
            };
            let long = token.span.len() / shades.iter().flatten().count().max(1);
            for (i, shade) in shades.into_iter().flatten().enumerate() {
                let from = (span.start + token.span.start) as usize + i * long;
                if let Some(rgb) = rgb(shade) {
                    out.push(Swatch { span: Span::new(from, from + long), rgb });
                }
            }
        }
    }
    out
}

fn rgb(shade: &str) -> Option<[u8; 3]> {
    let byte = |at: usize| u8::from_str_radix(shade.get(at..at + 2)?, 16).ok();
    Some([byte(1)?, byte(3)?, byte(5)?])
}
