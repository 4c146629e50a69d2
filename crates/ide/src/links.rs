//! The files that a file uses.

use crate::View;
use keyon_circuit::{Entity, Source};
use keyon_syntax::{Span, tree::ItemKind};

/// The path of each `use` as it is written, with its bytes, quotes included.
pub fn uses(source: &Source) -> impl Iterator<Item = (Span, &str)> {
    source.parse.file.items.iter().filter_map(|placed| match &placed.item.kind {
        ItemKind::Use(library) => Some((library.path.span.moved(placed.start), library.path.text.as_str())),
        _ => None,
    })
}

/// The path of each `use` and the key of the file that it means; not of what comes with Keyon.
pub fn links(view: &View<'_>) -> Vec<(Span, String)> {
    let Some(source) = view.source() else { return Vec::new() };
    let elaboration = view.elaboration;
    let mut out = Vec::new();
    for (span, _) in uses(source) {
        let meant = elaboration.names.iter().find_map(|name| match name.entity {
            Entity::Library(file) if name.loc.file.index() == 0 => {
                let at = elaboration.span(name.loc);
                (at.start >= span.start && at.end <= span.end).then_some(file)
            }
            _ => None,
        });
        let key = meant.and_then(|f| elaboration.files.get(f.index())).map(|f| f.key.to_string());
        out.extend(key.map(|key| (span, key)));
    }
    out
}
