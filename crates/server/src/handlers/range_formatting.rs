//! `textDocument/rangeFormatting` and `textDocument/onTypeFormatting`

use crate::snapshot::Snapshot;
use keyon_solve::Cancelled;
use keyon_syntax::Span;
use tower_lsp::lsp_types::{DocumentOnTypeFormattingParams, DocumentRangeFormattingParams, TextEdit};

pub(crate) fn run(
    snapshot: &Snapshot,
    params: DocumentRangeFormattingParams,
) -> Result<Option<Vec<TextEdit>>, Cancelled> {
    Ok(Some(within(snapshot, snapshot.span(params.range))))
}

/// The line above a new line, and the block that a brace closes.
pub(crate) fn on_type(
    snapshot: &Snapshot,
    params: DocumentOnTypeFormattingParams,
) -> Result<Option<Vec<TextEdit>>, Cancelled> {
    let offset = snapshot.offset(params.text_document_position.position) as usize;
    let text = snapshot.text();
    let before = text.get(..offset).unwrap_or_default();
    let start = match params.ch.as_str() {
        // From the line that opens the block on.
        "}" => before
            .rfind('{')
            .and_then(|at| before.get(..at))
            .and_then(|t| t.rfind('\n'))
            .map_or(0, |at| at + 1),
        _ => {
            let above = before.trim_end_matches([' ', '\t']).trim_end_matches(['\n', '\r']);
            above.rfind('\n').map_or(0, |at| at + 1)
        }
    };
    // Not the line that is being written.
    let end = if params.ch == "}" { offset } else { before.rfind('\n').unwrap_or(start) };
    Ok(Some(within(snapshot, Span::new(start, end.max(start)))))
}

/// The edits of the whole layout that lie within a stretch.
fn within(snapshot: &Snapshot, span: Span) -> Vec<TextEdit> {
    if snapshot.cell.is_note {
        return Vec::new();
    }
    let edits = keyon_ide::format(snapshot.text()).into_iter();
    edits
        .filter(|(at, _)| at.start >= span.start && at.end <= span.end.max(span.start) + 1)
        .map(|(at, text)| TextEdit::new(snapshot.range(at), text))
        .collect()
}
