//! `textDocument/references`

use crate::snapshot::Snapshot;
use keyon_solve::Cancelled;
use tower_lsp::lsp_types::{Location, ReferenceParams};

pub(crate) fn run(snapshot: &Snapshot, params: ReferenceParams) -> Result<Option<Vec<Location>>, Cancelled> {
    let offset = snapshot.offset(params.text_document_position.position);
    let declaration = params.context.include_declaration;
    let places: Vec<Location> = snapshot.view(|view| {
        let locs = keyon_ide::references(view, offset, declaration);
        locs.into_iter().filter_map(|loc| snapshot.location(view.elaboration, loc)).collect()
    });
    Ok((!places.is_empty()).then_some(places))
}
