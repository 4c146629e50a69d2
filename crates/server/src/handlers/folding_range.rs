//! `textDocument/foldingRange`

use crate::snapshot::Snapshot;
use keyon_solve::Cancelled;
use tower_lsp::lsp_types::{FoldingRange, FoldingRangeKind, FoldingRangeParams};

pub(crate) fn run(
    snapshot: &Snapshot,
    _: FoldingRangeParams,
) -> Result<Option<Vec<FoldingRange>>, Cancelled> {
    let folds = keyon_ide::folds(&snapshot.cell.source);
    let fold = |fold: keyon_ide::Fold| {
        let range = snapshot.range(fold.span);
        (range.start.line < range.end.line).then(|| FoldingRange {
            start_line: range.start.line,
            end_line: range.end.line,
            kind: Some(if fold.comment { FoldingRangeKind::Comment } else { FoldingRangeKind::Region }),
            ..FoldingRange::default()
        })
    };
    Ok(Some(folds.into_iter().filter_map(fold).collect()))
}
