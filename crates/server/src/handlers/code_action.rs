//! `textDocument/codeAction`: the fixes that findings carry.

use crate::snapshot::{Snapshot, location};
use keyon_solve::Cancelled;
use std::collections::HashMap;
use tower_lsp::lsp_types::{
    CodeAction, CodeActionKind, CodeActionOrCommand, CodeActionParams, Diagnostic, NumberOrString, TextEdit,
    Url, WorkspaceEdit,
};

pub(crate) fn run(
    snapshot: &Snapshot,
    params: CodeActionParams,
) -> Result<Option<Vec<CodeActionOrCommand>>, Cancelled> {
    let wanted = |kind: &CodeActionKind| {
        params.context.only.as_ref().is_none_or(|only| {
            only.iter().any(|only| {
                kind.as_str() == only.as_str() || kind.as_str().starts_with(&format!("{}.", only.as_str()))
            })
        })
    };
    if !wanted(&CodeActionKind::QUICKFIX) {
        return Ok(Some(Vec::new()));
    }
    let checked = snapshot.cell.checked(&*snapshot.token)?;
    let span = snapshot.span(params.range);
    let mut out = Vec::new();
    for action in keyon_ide::actions(&checked.elaboration, &checked.findings, span) {
        let mut changes: HashMap<Url, Vec<TextEdit>> = HashMap::new();
        for (loc, text) in action.edits {
            let Some(place) = location(&snapshot.cell, &checked.elaboration, loc, snapshot.encoding) else {
                continue;
            };
            changes.entry(place.uri).or_default().push(TextEdit::new(place.range, text));
        }
        let mends = |d: &&Diagnostic| {
            d.code == Some(NumberOrString::String(action.rule.into()))
                && d.range == snapshot.range(action.finding)
        };
        let diagnostics: Vec<_> = params.context.diagnostics.iter().filter(mends).cloned().collect();
        out.push(CodeActionOrCommand::CodeAction(CodeAction {
            title: action.title,
            kind: Some(CodeActionKind::QUICKFIX),
            diagnostics: (!diagnostics.is_empty()).then_some(diagnostics),
            edit: Some(WorkspaceEdit { changes: Some(changes), ..WorkspaceEdit::default() }),
            is_preferred: Some(action.safe),
            ..CodeAction::default()
        }));
    }
    Ok(Some(out))
}
