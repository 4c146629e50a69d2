//! `textDocument/diagnostic` and `workspace/diagnostic`: for clients that ask instead of being told.

use crate::{
    board::Board,
    diagnostics::{self, Features},
    files::{self, Files},
    parts::{self, Part},
    position::Encoding,
    shelf::{Found, Shelf},
    snapshot::Snapshot,
    stream::Stream,
    token::Token,
    workspace,
};
use keyon_solve::{Cancel, Cancelled};
use smol_str::SmolStr;
use std::{
    collections::{BTreeMap, HashMap},
    hash::{DefaultHasher, Hasher},
    path::{Path, PathBuf},
    sync::Arc,
};
use tower_lsp::lsp_types::{
    Diagnostic, DocumentDiagnosticParams, DocumentDiagnosticReport, DocumentDiagnosticReportKind,
    DocumentDiagnosticReportPartialResult, FullDocumentDiagnosticReport, RelatedFullDocumentDiagnosticReport,
    RelatedUnchangedDocumentDiagnosticReport, UnchangedDocumentDiagnosticReport, Url,
    WorkspaceDiagnosticReport, WorkspaceDocumentDiagnosticReport, WorkspaceFullDocumentDiagnosticReport,
    WorkspaceUnchangedDocumentDiagnosticReport,
};

/// One document, and what its check found in the libraries that it uses.
pub(crate) fn document(
    snapshot: &Snapshot,
    (params, features, stream): (DocumentDiagnosticParams, Features, Arc<Stream>),
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
    let related = (!related.is_empty()).then_some(related);
    let id = id(&own);
    let known = params.previous_result_id.as_ref() == Some(&id);
    if stream.is_wanted() {
        // The document first, then what its check says of others; the answer only ends it: what was sent holds.
        stream.send(if known { unchanged(id.clone(), None) } else { full(id.clone(), own, None) });
        if related.is_some() {
            stream.send(DocumentDiagnosticReportPartialResult { related_documents: related });
        }
        return Ok(unchanged(id, None));
    }
    Ok(if known { unchanged(id, related) } else { full(id, own, related) })
}

type Related = Option<HashMap<Url, DocumentDiagnosticReportKind>>;

fn unchanged(result_id: String, related_documents: Related) -> DocumentDiagnosticReport {
    DocumentDiagnosticReport::Unchanged(RelatedUnchangedDocumentDiagnosticReport {
        related_documents,
        unchanged_document_diagnostic_report: UnchangedDocumentDiagnosticReport { result_id },
    })
}

fn full(id: String, items: Vec<Diagnostic>, related_documents: Related) -> DocumentDiagnosticReport {
    DocumentDiagnosticReport::Full(RelatedFullDocumentDiagnosticReport {
        related_documents,
        full_document_diagnostic_report: FullDocumentDiagnosticReport { result_id: Some(id), items },
    })
}

/// What a client asks of all files.
#[derive(Debug)]
pub(crate) struct All {
    /// The ids of the reports that the client has.
    pub(crate) previous: HashMap<Url, String>,
    pub(crate) features: Features,
    pub(crate) stream: Stream,
    pub(crate) shelf: Arc<Shelf>,
}

/// Every file of the workspace folders, each with what any circuit that uses it says of it; and whether anything is new to
/// the client. Where it takes pieces, reports go out as soon as they are known.
pub(crate) fn all(
    world: &Files,
    encoding: Encoding,
    token: &Token,
    (asked, roots): (Arc<All>, Vec<PathBuf>),
) -> Result<(WorkspaceDiagnosticReport, bool), Cancelled> {
    let mut board = Board::default();
    let mut shown: BTreeMap<SmolStr, Vec<Diagnostic>> = BTreeMap::new();
    let mut sent: HashMap<SmolStr, String> = HashMap::new();
    for parts in workspace::files(&roots, world, token)? {
        let Some(key) = parts.first().map(|part| part.source.key.clone()) else { continue };
        // Libraries wait for what the circuits that use them find there.
        let circuit = parts.iter().any(|part| keyon_ide::is_circuit(&part.source));
        let found = check(world, encoding, token, &asked, parts)?;
        shown.entry(key.clone()).or_default();
        shown.extend(board.put(&key, Found::clone(&found), None));
        if let (true, true, Some(items)) = (circuit, asked.stream.is_wanted(), shown.get(&key)) {
            let report = report(world, &asked, &key, items);
            if let Some((report, true)) = report {
                sent.insert(key, id(items));
                asked.stream.send(WorkspaceDiagnosticReport { items: vec![report] });
            }
        }
    }
    let mut news = !sent.is_empty();
    let rest = shown.iter().filter(|(key, items)| sent.get(*key).is_none_or(|before| *before != id(items)));
    let reports = rest.filter_map(|(key, items)| report(world, &asked, key, items));
    // What is no longer there has to go from the client's list.
    let gone = asked.previous.keys().filter_map(|uri| {
        let key = files::key(uri);
        let there =
            shown.contains_key(&key) || world.buffers.contains_key(&key) || Path::new(key.as_str()).exists();
        (!there && uri.scheme() == "file").then_some(())?;
        report_at(&asked, uri.clone(), None, &[])
    });
    let items: Vec<WorkspaceDocumentDiagnosticReport> = reports
        .chain(gone)
        .map(|(report, new)| {
            news |= new;
            report
        })
        .collect();
    // Held back until there is something new: then nobody has to hear that all is as it was.
    if asked.stream.is_wanted() {
        if news && !items.is_empty() {
            asked.stream.send(WorkspaceDiagnosticReport { items });
        }
        return Ok((WorkspaceDiagnosticReport { items: Vec::new() }, news));
    }
    Ok((WorkspaceDiagnosticReport { items }, news))
}

/// What a check of a file finds, as it was found before if nothing has changed since.
fn check(
    world: &Files,
    encoding: Encoding,
    token: &Token,
    asked: &All,
    parts: Vec<Part>,
) -> Result<Arc<Found>, Cancelled> {
    if token.cancelled() {
        return Err(Cancelled);
    }
    let key = parts.first().map(|part| part.source.key.clone()).unwrap_or_default();
    if let Some(found) = asked.shelf.get(world, &key) {
        return Ok(found);
    }
    let Some(uri) = files::uri(&key) else { return Ok(Arc::default()) };
    let Some(cell) = parts::cell(&uri, parts, &mut Vec::new(), None, &|| world.fresh()) else {
        return Ok(Arc::default());
    };
    let checked = cell.checked(token)?;
    cell.also.iter().try_for_each(|other| other.checked(token).map(drop))?;
    let found = Arc::new(diagnostics::of_document(&cell, &checked, encoding, &asked.features));
    if let Some(hung_on) = cell.asked() {
        asked.shelf.put(world, key, hung_on, Arc::clone(&found));
    }
    Ok(found)
}

/// The report of a file, and whether it is new to the client.
fn report(
    world: &Files,
    asked: &All,
    key: &SmolStr,
    items: &[Diagnostic],
) -> Option<(WorkspaceDocumentDiagnosticReport, bool)> {
    let version = world.buffers.get(key).map(|buffer| i64::from(buffer.version));
    report_at(asked, files::uri(key)?, version, items)
}

fn report_at(
    asked: &All,
    uri: Url,
    version: Option<i64>,
    items: &[Diagnostic],
) -> Option<(WorkspaceDocumentDiagnosticReport, bool)> {
    let id = id(items);
    Some(if asked.previous.get(&uri) == Some(&id) {
        let report = WorkspaceUnchangedDocumentDiagnosticReport {
            uri,
            version,
            unchanged_document_diagnostic_report: UnchangedDocumentDiagnosticReport { result_id: id },
        };
        (WorkspaceDocumentDiagnosticReport::Unchanged(report), false)
    } else {
        let report = FullDocumentDiagnosticReport { result_id: Some(id), items: items.to_vec() };
        let report =
            WorkspaceFullDocumentDiagnosticReport { uri, version, full_document_diagnostic_report: report };
        (WorkspaceDocumentDiagnosticReport::Full(report), true)
    })
}

/// Goes by what is said, so that it is the same whenever the same is said.
fn id(items: &[Diagnostic]) -> String {
    let mut hasher = DefaultHasher::new();
    hasher.write(&serde_json::to_vec(items).unwrap_or_default());
    format!("{:016x}", hasher.finish())
}
