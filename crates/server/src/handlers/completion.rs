//! `textDocument/completion`

use crate::snapshot::Snapshot;
use keyon_ide::CompletionKind as Kind;
use keyon_solve::Cancelled;
use tower_lsp::lsp_types::{
    CompletionItem, CompletionItemKind, CompletionParams, CompletionResponse, CompletionTextEdit,
    Documentation, MarkupContent, MarkupKind, TextEdit,
};

pub(crate) fn run(
    snapshot: &Snapshot,
    params: CompletionParams,
) -> Result<Option<CompletionResponse>, Cancelled> {
    let offset = snapshot.offset(params.text_document_position.position);
    let completions = snapshot.view(|view| keyon_ide::complete(view, offset));
    let items = completions.into_iter().enumerate().map(|(n, item)| CompletionItem {
        kind: Some(kind(item.kind)),
        detail: item.detail,
        documentation: item
            .documentation
            .map(|value| Documentation::MarkupContent(MarkupContent { kind: MarkupKind::Markdown, value })),
        // Ours is the order of usefulness; clients would sort by the alphabet.
        sort_text: Some(format!("{n:05}")),
        filter_text: Some(item.label.clone()),
        text_edit: Some(CompletionTextEdit::Edit(TextEdit::new(snapshot.range(item.replace), item.insert))),
        label: item.label,
        ..CompletionItem::default()
    });
    Ok(Some(CompletionResponse::Array(items.collect())))
}

fn kind(kind: Kind) -> CompletionItemKind {
    match kind {
        Kind::Keyword => CompletionItemKind::KEYWORD,
        Kind::Point => CompletionItemKind::FIELD,
        Kind::Device => CompletionItemKind::VARIABLE,
        Kind::Part => CompletionItemKind::CLASS,
        Kind::Unit => CompletionItemKind::UNIT,
        Kind::Colour => CompletionItemKind::COLOR,
        Kind::Control => CompletionItemKind::ENUM,
        Kind::Position | Kind::Word => CompletionItemKind::ENUM_MEMBER,
        Kind::Rule => CompletionItemKind::REFERENCE,
        Kind::Scenario => CompletionItemKind::EVENT,
        Kind::Parameter => CompletionItemKind::TYPE_PARAMETER,
        Kind::File => CompletionItemKind::FILE,
    }
}
