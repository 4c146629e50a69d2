//! `textDocument/diagnostic` and `workspace/diagnostic`: for clients that ask instead of being told.

use crate::{
    board::Board,
    diagnostics::{self, Features},
    files::{self, Files},
    position::Encoding,
    snapshot::{Cell, Snapshot},
    token::Token,
    workspace,
};
use keyon_solve::{Cancel, Cancelled};
use std::{
    collections::{BTreeMap, HashMap},
    hash::{DefaultHasher, Hasher},
    path::PathBuf,
    sync::Arc,
};
use tower_lsp::lsp_types::{
    Diagnostic, DocumentDiagnosticParams, DocumentDiagnosticReport, DocumentDiagnosticReportKind,
    FullDocumentDiagnosticReport, PreviousResultId, RelatedFullDocumentDiagnosticReport,
    RelatedUnchangedDocumentDiagnosticReport, UnchangedDocumentDiagnosticReport, Url,
    WorkspaceDiagnosticReport, WorkspaceDocumentDiagnosticReport, WorkspaceFullDocumentDiagnosticReport,
    WorkspaceUnchangedDocumentDiagnosticReport,
};

/// One document, and what its check found in the libraries that it uses.
pub(crate) fn document(
    snapshot: &Snapshot,
    (params, features): (DocumentDiagnosticParams, Features),
) -> Result<DocumentDiagnosticReport, Cancelled> {
    let cell = &snapshot.cell;
    let checked = cell.checked(&*snapshot.token)?;
    cell.also.iter().try_for_each(|other| other.checked(&*snapshot.token).map(drop))?;
    let mut found = diagnostics::of_document(cell, &checked, snapshot.encoding, &features);
    let own = found.remove(&cell.source.key).unwrap_or_default();
    let mut related = HashMap::new();
    for (key, items) in found {
        let Some(uri) = files::uri(&key) else { continue };
        let report = FullDocumentDiagnosticReport { result_id: None, items };
        related.insert(uri, DocumentDiagnosticReportKind::Full(report));
    }
    let related_documents = (!related.is_empty()).then_some(related);
    let id = id(&own);
    Ok(if params.previous_result_id.as_ref() == Some(&id) {
        DocumentDiagnosticReport::Unchanged(RelatedUnchangedDocumentDiagnosticReport {
            related_documents,
            unchanged_document_diagnostic_report: UnchangedDocumentDiagnosticReport { result_id: id },
        })
    } else {
        DocumentDiagnosticReport::Full(RelatedFullDocumentDiagnosticReport {
            related_documents,
            full_document_diagnostic_report: FullDocumentDiagnosticReport { result_id: Some(id), items: own },
        })
    })
}

/// Every file of the workspace folders, each with what any circuit that uses it says of it.
pub(crate) fn all(
    world: &Files,
    encoding: Encoding,
    token: &Token,
    (roots, previous, features): (Vec<PathBuf>, Vec<PreviousResultId>, Features),
) -> Result<WorkspaceDiagnosticReport, Cancelled> {
    let previous: HashMap<Url, String> = previous.into_iter().map(|p| (p.uri, p.value)).collect();
    let mut board = Board::default();
    let mut shown: BTreeMap<_, Vec<Diagnostic>> = BTreeMap::new();
    for source in workspace::sources(&roots, world, token)? {
        if token.cancelled() {
            return Err(Cancelled);
        }
        let Some(uri) = files::uri(&source.key) else { continue };
        let key = source.key.clone();
        let files = Files {
            buffers: Arc::clone(&world.buffers),
            disk: Arc::clone(&world.disk),
            asked: Default::default(),
        };
        let cell = Cell::new(uri, source, files, Arc::default());
        let checked = cell.checked(token)?;
        let found = diagnostics::by_file(&cell, &checked, encoding, &features);
        shown.entry(key.clone()).or_default();
        shown.extend(board.put(&key, found, None));
    }
    let items = shown.into_iter().filter_map(|(key, items)| {
        let (uri, id) = (files::uri(&key)?, id(&items));
        Some(if previous.get(&uri) == Some(&id) {
            WorkspaceDocumentDiagnosticReport::Unchanged(WorkspaceUnchangedDocumentDiagnosticReport {
                uri,
                version: None,
                unchanged_document_diagnostic_report: UnchangedDocumentDiagnosticReport { result_id: id },
            })
        } else {
            WorkspaceDocumentDiagnosticReport::Full(WorkspaceFullDocumentDiagnosticReport {
                uri,
                version: None,
                full_document_diagnostic_report: FullDocumentDiagnosticReport { result_id: Some(id), items },
            })
        })
    });
    Ok(WorkspaceDiagnosticReport { items: items.collect() })
}

/// Goes by what is said, so that it is the same whenever the same is said.
fn id(items: &[Diagnostic]) -> String {
    let mut hasher = DefaultHasher::new();
    hasher.write(&serde_json::to_vec(items).unwrap_or_default());
    format!("{:016x}", hasher.finish())
}
