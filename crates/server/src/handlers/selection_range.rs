//! `textDocument/selectionRange`

use crate::snapshot::Snapshot;
use keyon_solve::Cancelled;
use tower_lsp::lsp_types::{SelectionRange, SelectionRangeParams};

pub(crate) fn run(
    snapshot: &Snapshot,
    params: SelectionRangeParams,
) -> Result<Option<Vec<SelectionRange>>, Cancelled> {
    let one = |position| {
        let offset = snapshot.offset(position);
        let spans = snapshot.view(|view| keyon_ide::selection(view, offset));
        let mut outer: Option<SelectionRange> = None;
        for span in spans.into_iter().rev() {
            outer = Some(SelectionRange { range: snapshot.range(span), parent: outer.map(Box::new) });
        }
        let here = snapshot.position(offset);
        outer.unwrap_or(SelectionRange { range: tower_lsp::lsp_types::Range::new(here, here), parent: None })
    };
    Ok(Some(params.positions.into_iter().map(one).collect()))
}
