//! The files that a file uses.

use crate::View;
use keyon_circuit::Entity;
use keyon_syntax::{Span, tree::ItemKind};

/// The path of each `use` and the key of the file that it means; not of what comes with Keyon.
pub fn links(view: &View<'_>) -> Vec<(Span, String)> {
    let Some(source) = view.source() else { return Vec::new() };
    let elaboration = view.elaboration;
    let mut out = Vec::new();
    for placed in &source.parse.file.items {
        let ItemKind::Use(library) = &placed.item.kind else { continue };
        let span = library.path.span.moved(placed.start);
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
