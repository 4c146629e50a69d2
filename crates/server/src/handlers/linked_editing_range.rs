//! `textDocument/linkedEditingRange`

use crate::snapshot::Snapshot;
use keyon_solve::Cancelled;
use tower_lsp::lsp_types::{LinkedEditingRangeParams, LinkedEditingRanges};

/// A name and all its places in this file: they change together.
pub(crate) fn run(
    snapshot: &Snapshot,
    params: LinkedEditingRangeParams,
) -> Result<Option<LinkedEditingRanges>, Cancelled> {
    let offset = snapshot.offset(params.text_document_position_params.position);
    let ranges = snapshot.view(|view| {
        let (_, old) = keyon_ide::prepare_rename(view, offset)?;
        let written = |span: &keyon_syntax::Span| snapshot.text().get(span.range()) == Some(old.as_str());
        let places = keyon_ide::highlight(view, offset);
        let spans: Vec<_> = places.into_iter().map(|(span, _)| span).filter(written).collect();
        (spans.len() > 1).then(|| spans.into_iter().map(|span| snapshot.range(span)).collect())
    });
    let word_pattern = Some(r"[\p{L}_0-9][\p{L}\p{M}_0-9]*".to_owned());
    Ok(ranges.map(|ranges| LinkedEditingRanges { ranges, word_pattern }))
}
