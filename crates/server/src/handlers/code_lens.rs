//! `textDocument/codeLens`

use crate::snapshot::Snapshot;
use keyon_ide::LensKind;
use keyon_solve::Cancelled;
use serde_json::{Value, json};
use tower_lsp::lsp_types::{CodeLens, CodeLensParams, Command};

pub(crate) fn run(snapshot: &Snapshot, _: CodeLensParams) -> Result<Option<Vec<CodeLens>>, Cancelled> {
    let lenses = snapshot.view(keyon_ide::lenses);
    let uri = snapshot.cell.uri.to_string();
    let each = lenses.into_iter().map(|lens| {
        let (command, arguments): (&str, Vec<Value>) = match lens.kind {
            LensKind::Hold(name) => ("keyon.hold", vec![json!(uri), json!(name)]),
            LensKind::Table(name) => ("keyon.table", vec![json!(uri), json!(name)]),
            LensKind::Draw => ("keyon.draw", vec![json!(uri), json!("state")]),
        };
        CodeLens {
            range: snapshot.range(lens.span),
            command: Some(Command::new(lens.title, command.to_owned(), Some(arguments))),
            data: None,
        }
    });
    Ok(Some(each.collect()))
}
