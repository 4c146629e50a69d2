//! Where other circuits of the workspace speak of what one file declares: a part of a library, and its pins and parameters.

use crate::{files, position::Lines, snapshot::Snapshot, workspace};
use keyon_ide::View;
use keyon_solve::Cancelled;
use keyon_syntax::Span;
use std::path::PathBuf;
use tower_lsp::lsp_types::Location;

/// Tells `each` the places in every other circuit, circuit by circuit. `declared` is the file's key and the bytes there;
/// `name` is how it is written.
pub(crate) fn elsewhere(
    snapshot: &Snapshot,
    roots: &[PathBuf],
    declared: &(String, Span),
    name: &str,
    each: &mut dyn FnMut(Vec<Location>),
) -> Result<(), Cancelled> {
    let (world, own) = (&snapshot.cell.files, &snapshot.cell.source);
    for part in workspace::files(roots, world, &*snapshot.token)?.into_iter().flatten() {
        let source = part.source;
        // The other circuits of the same note are others.
        let same = source.key == own.key && source.text == own.text;
        if same || !source.text.contains(name) {
            continue;
        }
        let elaboration = keyon_circuit::elaborate(&world.fresh(), &source);
        let view = View { elaboration: &elaboration, held: None, cancel: &*snapshot.token, memory: None };
        let place = |loc: keyon_circuit::model::Loc| {
            let file = elaboration.files.get(loc.file.index())?;
            let range = Lines::new(&file.text).range(&file.text, elaboration.span(loc), snapshot.encoding);
            Some(Location::new(files::uri(&file.key)?, range))
        };
        let uses = keyon_ide::uses_of(&view, (&declared.0, declared.1), name);
        each(uses.into_iter().filter_map(place).collect());
    }
    Ok(())
}
