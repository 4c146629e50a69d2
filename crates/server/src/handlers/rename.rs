//! `textDocument/prepareRename` and `textDocument/rename`

use super::elsewhere::elsewhere;
use crate::snapshot::Snapshot;
use keyon_solve::Cancelled;
use std::{collections::HashMap, path::PathBuf};
use tower_lsp::lsp_types::{
    Location, PrepareRenameResponse, RenameParams, TextDocumentPositionParams, TextEdit, Url, WorkspaceEdit,
};

pub(crate) fn prepare(
    snapshot: &Snapshot,
    params: TextDocumentPositionParams,
) -> Result<Option<PrepareRenameResponse>, Cancelled> {
    let offset = snapshot.offset(params.position);
    let found = snapshot.view(|view| keyon_ide::prepare_rename(view, offset));
    Ok(found.map(|(span, placeholder)| PrepareRenameResponse::RangeWithPlaceholder {
        range: snapshot.range(span),
        placeholder,
    }))
}

/// The edits, or why there are none. Other files of the workspace that use what is renamed are changed too.
pub(crate) fn run(
    snapshot: &Snapshot,
    (params, roots): (RenameParams, Vec<PathBuf>),
) -> Result<Result<Option<WorkspaceEdit>, String>, Cancelled> {
    let offset = snapshot.offset(params.text_document_position.position);
    let new = params.new_name;
    if snapshot.view(|view| keyon_ide::prepare_rename(view, offset)).is_none() {
        return Ok(Ok(None));
    }
    let found = snapshot.view(|view| {
        let locs = keyon_ide::rename(view, offset, &new)?;
        let places: Vec<Location> =
            locs.into_iter().filter_map(|loc| snapshot.location(view.elaboration, loc)).collect();
        let old = keyon_ide::prepare_rename(view, offset).map(|(_, old)| old).unwrap_or_default();
        Ok::<_, String>((places, old, keyon_ide::declared_at(view, offset)))
    });
    let (mut places, old, declared) = match found {
        Ok(found) => found,
        Err(why) => return Ok(Err(why)),
    };
    if let Some(declared) = declared {
        elsewhere(snapshot, &roots, &declared, &old, &mut |found| places.extend(found))?;
    }
    let mut changes: HashMap<Url, Vec<TextEdit>> = HashMap::new();
    for place in places {
        let edits = changes.entry(place.uri).or_default();
        let edit = TextEdit::new(place.range, new.clone());
        if !edits.contains(&edit) {
            edits.push(edit);
        }
    }
    Ok(Ok(Some(WorkspaceEdit::new(changes))))
}
