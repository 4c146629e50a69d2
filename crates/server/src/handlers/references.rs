//! `textDocument/references`: in the circuit and what it uses, then in the other circuits of the workspace.

use super::elsewhere::elsewhere;
use crate::{snapshot::Snapshot, stream::Stream};
use keyon_solve::Cancelled;
use std::{collections::HashSet, path::PathBuf, sync::Arc};
use tower_lsp::lsp_types::{Location, ReferenceParams};

/// What is asked: the roots of the workspace, and where pieces of the answer go.
pub(crate) type Asked = (ReferenceParams, Vec<PathBuf>, Arc<Stream>);

pub(crate) fn run(
    snapshot: &Snapshot,
    (params, roots, stream): Asked,
) -> Result<Option<Vec<Location>>, Cancelled> {
    let offset = snapshot.offset(params.text_document_position.position);
    let declaration = params.context.include_declaration;
    let mut seen = HashSet::new();
    let mut places = Vec::new();
    let mut add = |found: Vec<Location>| {
        let key = |place: &Location| (place.uri.clone(), place.range.start.line, place.range.start.character);
        let new: Vec<Location> = found.into_iter().filter(|place| seen.insert(key(place))).collect();
        if stream.is_wanted() && !new.is_empty() {
            stream.send(new);
        } else {
            places.extend(new);
        }
    };
    let own = snapshot.view(|view| {
        let locs = keyon_ide::references(view, offset, declaration);
        let found = locs.into_iter().filter_map(|loc| snapshot.location(view.elaboration, loc)).collect();
        // Where it is declared is left out elsewhere too, if it is not wanted.
        let declared_here = keyon_ide::definition(view, offset).into_iter();
        let declared_here = declared_here.filter_map(|loc| snapshot.location(view.elaboration, loc)).next();
        let old = keyon_ide::prepare_rename(view, offset).map(|(_, old)| old);
        (found, declared_here, keyon_ide::declared_at(view, offset).zip(old))
    });
    let (found, place, declared) = own;
    add(found);
    if let Some((declared, name)) = declared {
        elsewhere(snapshot, &roots, &declared, &name, &mut |mut found| {
            found.retain(|one| declaration || Some(one) != place.as_ref());
            add(found);
        })?;
    }
    Ok((stream.is_wanted() || !places.is_empty()).then_some(places))
}
