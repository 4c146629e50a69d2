//! `textDocument/hover`

use crate::snapshot::Snapshot;
use keyon_solve::Cancelled;
use tower_lsp::lsp_types::{Hover, HoverContents, HoverParams, MarkupContent, MarkupKind};

pub(crate) fn run(snapshot: &Snapshot, params: HoverParams) -> Result<Option<Hover>, Cancelled> {
    let offset = snapshot.offset(params.text_document_position_params.position);
    let hover = snapshot.view(|view| keyon_ide::hover(view, offset))?;
    Ok(hover.map(|hover| Hover {
        contents: HoverContents::Markup(MarkupContent { kind: MarkupKind::Markdown, value: hover.markdown }),
        range: Some(snapshot.range(hover.span)),
    }))
}
