//! `textDocument/inlayHint`

use crate::snapshot::Snapshot;
use keyon_solve::Cancelled;
use tower_lsp::lsp_types::{InlayHint, InlayHintLabel, InlayHintParams, InlayHintTooltip};

pub(crate) fn run(snapshot: &Snapshot, params: InlayHintParams) -> Result<Option<Vec<InlayHint>>, Cancelled> {
    let span = snapshot.span(params.range);
    let hints = snapshot.view(|view| keyon_ide::hints(view, span))?;
    let hint = |hint: keyon_ide::Hint| InlayHint {
        position: snapshot.position(hint.offset),
        label: InlayHintLabel::String(hint.label),
        kind: None,
        text_edits: None,
        tooltip: Some(InlayHintTooltip::String(hint.tooltip)),
        padding_left: Some(true),
        padding_right: None,
        data: None,
    };
    Ok(Some(hints.into_iter().map(hint).collect()))
}
