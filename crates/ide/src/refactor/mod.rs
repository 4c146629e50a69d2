//! Changes of the text that leave the circuit as it is: a body made a part, a net given a name, a wire a number; and a
//! scenario next to the one that is shown.

mod extract;
mod net;
mod number;
mod scenario;

use crate::View;
use keyon_syntax::{Span, tree::PlacedItem};

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

/// The first of these names that nothing goes by.
fn free(view: &View<'_>, mut candidates: impl Iterator<Item = String>) -> Option<String> {
    let items = &view.source()?.parse.file.items;
    // What is damaged stands in no index, but its name is taken.
    let written = |name: &str| items.iter().filter_map(|p| p.item.kind.name()).any(|n| n.text == name);
    let part = |name: &str| view.elaboration.parts.iter().any(|p| p.name == name);
    candidates.find(|name| view.elaboration.circuit.lookup(name).is_empty() && !part(name) && !written(name))
}

/// The end of the line that an item's last token stands in.
fn line_end(view: &View<'_>, placed: &PlacedItem) -> u32 {
    let end = placed.item.span.moved(placed.start).end;
    let rest = view.text().get(end as usize..).unwrap_or_default();
    end + rest.find(['\n', '\r']).unwrap_or(rest.len()) as u32
}
