//! `textDocument/documentHighlight`

use crate::snapshot::Snapshot;
use keyon_solve::Cancelled;
use tower_lsp::lsp_types::{DocumentHighlight, DocumentHighlightKind, DocumentHighlightParams};

pub(crate) fn run(
    snapshot: &Snapshot,
    params: DocumentHighlightParams,
) -> Result<Option<Vec<DocumentHighlight>>, Cancelled> {
    let offset = snapshot.offset(params.text_document_position_params.position);
    let places = snapshot.view(|view| keyon_ide::highlight(view, offset));
    let mark = |(span, declares)| DocumentHighlight {
        range: snapshot.range(span),
        kind: Some(if declares { DocumentHighlightKind::WRITE } else { DocumentHighlightKind::READ }),
    };
    Ok((!places.is_empty()).then(|| places.into_iter().map(mark).collect()))
}
