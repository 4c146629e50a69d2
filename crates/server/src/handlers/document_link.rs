//! `textDocument/documentLink`

use crate::{files, snapshot::Snapshot};
use keyon_solve::Cancelled;
use tower_lsp::lsp_types::{DocumentLink, DocumentLinkParams};

pub(crate) fn run(
    snapshot: &Snapshot,
    _: DocumentLinkParams,
) -> Result<Option<Vec<DocumentLink>>, Cancelled> {
    let links = snapshot.view(keyon_ide::links);
    let link = |(span, key): (keyon_syntax::Span, String)| {
        // Built-in parts are no file.
        let target = files::uri(&key).filter(|uri| uri.scheme() == "file")?;
        Some(DocumentLink { range: snapshot.range(span), target: Some(target), tooltip: None, data: None })
    };
    Ok(Some(links.into_iter().filter_map(link).collect()))
}
