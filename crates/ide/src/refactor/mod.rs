//! Changes of the text that leave the circuit as it is: a body made a part, a net given a name, a wire a number; and a
//! scenario next to the one that is shown.

mod extract;
mod net;
mod number;
mod scenario;

use crate::View;
use keyon_syntax::{Span, tree::PlacedItem};
use std::collections::BTreeSet;

/// A change that can be made at a place; all edits are of the view's file and do not overlap.
#[derive(Clone, Debug, PartialEq)]
pub struct Refactor {
    /// What it does.
    pub title: String,
    /// Whether it takes something out into a declaration of its own.
    pub extracts: bool,
    #[allow(missing_docs)]
    pub edits: Vec<(Span, String)>,
}

/// The changes that can be made at an offset.
pub fn refactors(view: &View<'_>, offset: u32) -> Vec<Refactor> {
    let mut out = Vec::new();
    out.extend(extract::part(view, offset));
    out.extend(net::splice(view, offset));
    out.extend(number::wire(view, offset));
    out.extend(scenario::beside(view, offset));
    out
}

/// The first free name of these, then numbered ones.
fn free(view: &View<'_>, mut candidates: impl Iterator<Item = String>) -> Option<String> {
    let circuit = &view.elaboration.circuit;
    let declared: BTreeSet<&str> = view
        .source()?
        .parse
        .file
        .items
        .iter()
        .filter_map(|p| p.item.kind.name())
        .map(|n| n.text.as_str())
        .collect();
    let parts: BTreeSet<&str> = view.elaboration.parts.iter().map(|p| p.name.as_str()).collect();
    candidates.find(|name| {
        !declared.contains(name.as_str()) && !parts.contains(name.as_str()) && circuit.lookup(name).is_empty()
    })
}

/// The end of the line that an item's last token stands in.
fn line_end(view: &View<'_>, placed: &PlacedItem) -> u32 {
    let end = placed.item.span.moved(placed.start).end;
    let rest = view.text().get(end as usize..).unwrap_or_default();
    end + rest.find(['\n', '\r']).unwrap_or(rest.len()) as u32
}

/// The line break of the file.
fn newline(view: &View<'_>) -> &'static str {
    if view.text().contains("\r\n") { "\r\n" } else { "\n" }
}
