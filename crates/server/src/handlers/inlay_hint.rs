//! `textDocument/inlayHint` and `inlayHint/resolve`

use crate::snapshot::Snapshot;
use keyon_solve::Cancelled;
use serde::{Deserialize, Serialize};
use tower_lsp::lsp_types::{InlayHint, InlayHintLabel, InlayHintParams, InlayHintTooltip, Url};

/// What a hint brings back when it is asked for its reasons.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct Asked {
    pub(crate) uri: Url,
    points: Vec<String>,
}

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
        data: serde_json::to_value(Asked {
            uri: snapshot.cell.uri.clone(),
            points: hint.points.into_iter().map(Into::into).collect(),
        })
        .ok(),
    };
    Ok(Some(hints.into_iter().map(hint).collect()))
}

/// The ways by which the hint's points come to what they carry.
pub(crate) fn resolve(
    snapshot: &Snapshot,
    (mut hint, asked): (InlayHint, Asked),
) -> Result<InlayHint, Cancelled> {
    let reason = snapshot.view(|view| keyon_ide::hint_reason(view, &asked.points))?;
    hint.tooltip = Some(InlayHintTooltip::String(reason));
    Ok(hint)
}
