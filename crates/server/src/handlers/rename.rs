//! `textDocument/prepareRename` and `textDocument/rename`

use crate::{files, snapshot::Snapshot, workspace};
use keyon_ide::View;
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
    if let Some((key, span)) = declared {
        let world = &snapshot.cell.files;
        for source in workspace::sources(&roots, world, &*snapshot.token)? {
            if source.key == snapshot.cell.source.key || !source.text.contains(old.as_str()) {
                continue;
            }
            let elaboration = keyon_circuit::elaborate(world, &source);
            let view = View { elaboration: &elaboration, held: None, cancel: &*snapshot.token };
            for loc in keyon_ide::uses_of(&view, (&key, span), &old) {
                let Some(file) = elaboration.files.get(loc.file.index()) else { continue };
                let lines = crate::position::Lines::new(&file.text);
                let range = lines.range(&file.text, elaboration.span(loc), snapshot.encoding);
                places.extend(files::uri(&file.key).map(|uri| Location::new(uri, range)));
            }
        }
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
