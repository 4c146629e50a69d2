//! `textDocument/definition` and `textDocument/declaration`

use crate::snapshot::Snapshot;
use keyon_solve::Cancelled;
use tower_lsp::lsp_types::{GotoDefinitionParams, GotoDefinitionResponse, Location};

pub(crate) fn run(
    snapshot: &Snapshot,
    params: GotoDefinitionParams,
) -> Result<Option<GotoDefinitionResponse>, Cancelled> {
    let offset = snapshot.offset(params.text_document_position_params.position);
    let places: Vec<Location> = snapshot.view(|view| {
        let locs = keyon_ide::definition(view, offset);
        locs.into_iter().filter_map(|loc| snapshot.location(view.elaboration, loc)).collect()
    });
    Ok((!places.is_empty()).then_some(GotoDefinitionResponse::Array(places)))
}
