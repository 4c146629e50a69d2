//! `textDocument/codeAction`: the fixes that findings carry, and changes that no finding asks for.

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
    let mut out = Vec::new();
    // What rewrites the whole file is made when it is asked for by name.
    let named = |kind: &CodeActionKind| params.context.only.is_some() && wanted(kind);
    if named(&CodeActionKind::SOURCE_FIX_ALL) && !snapshot.cell.is_note {
        out.extend(fix_all(snapshot)?);
    }
    if wanted(&CodeActionKind::REFACTOR) {
        out.extend(expecting(snapshot, params.range.start));
    }
    out.extend(refactors(snapshot, params.range.start, &wanted));
    if !wanted(&CodeActionKind::QUICKFIX) {
        return Ok(Some(out));
    }
    let checked = snapshot.cell.checked(&*snapshot.token)?;
    let span = snapshot.span(params.range);
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

/// All safe fixes at once, as `keyon check --fix` makes them; this file alone is changed.
fn fix_all(snapshot: &Snapshot) -> Result<Option<CodeActionOrCommand>, Cancelled> {
    let cell = &snapshot.cell;
    let settings = cell.settings();
    let own = |key: &str| key == cell.source.key;
    let which = keyon_check::fix::Which::Safe;
    let mended = keyon_check::fix::mend(&cell.files, &cell.source, &settings, which, &own, &*snapshot.token)?;
    let Some(text) = mended.texts.get(&cell.source.key) else { return Ok(None) };
    let edits = keyon_ide::edits(snapshot.text(), text);
    let edits = edits.into_iter().map(|(span, text)| TextEdit::new(snapshot.range(span), text)).collect();
    let title = format!("make all safe fixes ({})", mended.made.len());
    Ok(Some(action(snapshot, title, CodeActionKind::new("source.fixAll.keyon"), edits)))
}

/// What is computed at a name, as an expectation.
fn expecting(snapshot: &Snapshot, at: tower_lsp::lsp_types::Position) -> Vec<CodeActionOrCommand> {
    let offset = snapshot.offset(at);
    let found = snapshot.view(|view| keyon_ide::expecting(view, offset));
    let one = |e: keyon_ide::Expecting| {
        let edits = vec![TextEdit::new(snapshot.range(e.at), e.text)];
        action(snapshot, e.title, CodeActionKind::REFACTOR, edits)
    };
    found.into_iter().map(one).collect()
}

/// Changes that leave the circuit as it is, and a scenario next to the shown one.
fn refactors(
    snapshot: &Snapshot,
    at: tower_lsp::lsp_types::Position,
    wanted: &dyn Fn(&CodeActionKind) -> bool,
) -> Vec<CodeActionOrCommand> {
    if !wanted(&CodeActionKind::REFACTOR) && !wanted(&CodeActionKind::REFACTOR_EXTRACT) {
        return Vec::new();
    }
    let offset = snapshot.offset(at);
    let found = snapshot.view(|view| keyon_ide::refactors(view, offset));
    let one = |r: keyon_ide::Refactor| {
        let kind = if r.extracts { CodeActionKind::REFACTOR_EXTRACT } else { CodeActionKind::REFACTOR };
        let edits = r.edits.into_iter().map(|(span, text)| TextEdit::new(snapshot.range(span), text));
        wanted(&kind).then(|| action(snapshot, r.title, kind, edits.collect()))
    };
    found.into_iter().filter_map(one).collect()
}

fn action(
    snapshot: &Snapshot,
    title: String,
    kind: CodeActionKind,
    edits: Vec<TextEdit>,
) -> CodeActionOrCommand {
    let changes = HashMap::from([(snapshot.cell.uri.clone(), edits)]);
    CodeActionOrCommand::CodeAction(CodeAction {
        title,
        kind: Some(kind),
        edit: Some(WorkspaceEdit { changes: Some(changes), ..WorkspaceEdit::default() }),
        ..CodeAction::default()
    })
}
