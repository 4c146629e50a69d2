//! `textDocument/formatting`

use crate::snapshot::Snapshot;
use keyon_solve::Cancelled;
use tower_lsp::lsp_types::{DocumentFormattingParams, TextEdit};

/// The layout has no options: everyone's files look alike.
pub(crate) fn run(
    snapshot: &Snapshot,
    _: DocumentFormattingParams,
) -> Result<Option<Vec<TextEdit>>, Cancelled> {
    if snapshot.cell.is_note {
        return Ok(None);
    }
    let edits = keyon_ide::format(snapshot.text());
    Ok(Some(edits.into_iter().map(|(span, text)| TextEdit::new(snapshot.range(span), text)).collect()))
}
