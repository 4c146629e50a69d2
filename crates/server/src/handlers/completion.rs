//! `textDocument/completion` and `completionItem/resolve`

use crate::snapshot::Snapshot;
use keyon_ide::{Completion, CompletionKind as Kind};
use keyon_solve::Cancelled;
use serde::{Deserialize, Serialize};
use tower_lsp::lsp_types::{
    CompletionItem, CompletionItemKind, CompletionList, CompletionParams, CompletionResponse,
    CompletionTextEdit, Documentation, InsertTextFormat, MarkupContent, MarkupKind, TextEdit, Url,
};

/// What an item carries until it is looked at.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub(crate) struct Asked {
    pub(crate) uri: Url,
    kind: u8,
    name: String,
}

/// The list. `snippets`: whether the client fills in templates.
pub(crate) fn run(
    snapshot: &Snapshot,
    (params, snippets): (CompletionParams, bool),
) -> Result<Option<CompletionResponse>, Cancelled> {
    let offset = snapshot.offset(params.text_document_position.position);
    // Who writes prose wants no words of circuits.
    if snapshot.in_prose(offset) {
        return Ok(None);
    }
    let uri = params.text_document_position.text_document.uri;
    let completions = snapshot.view(|view| keyon_ide::complete(view, offset));
    let text = snapshot.text();
    let (completions, is_incomplete) = fewer(completions, text, offset);
    let items = completions.into_iter().enumerate().map(|(n, item)| {
        // Where the line holds nothing else yet.
        let alone = || {
            let before = text.get(..item.replace.start as usize).unwrap_or_default();
            let after = text.get(item.replace.end as usize..).unwrap_or_default();
            before.rsplit('\n').next().unwrap_or_default().trim().is_empty()
                && after.lines().next().unwrap_or_default().trim().is_empty()
        };
        let template = item.template.filter(|_| snippets && alone());
        let data = Asked { uri: uri.clone(), kind: number(item.kind), name: item.name };
        CompletionItem {
            kind: Some(if template.is_some() { CompletionItemKind::SNIPPET } else { kind(item.kind) }),
            detail: item.detail,
            // Ours is the order of usefulness; clients would sort by the alphabet.
            sort_text: Some(format!("{n:05}")),
            filter_text: Some(item.label.clone()),
            insert_text_format: template.map(|_| InsertTextFormat::SNIPPET),
            text_edit: Some(CompletionTextEdit::Edit(TextEdit::new(
                snapshot.range(item.replace),
                template.map_or(item.insert, snippet),
            ))),
            label: item.label,
            data: serde_json::to_value(data).ok(),
            ..CompletionItem::default()
        }
    });
    let items = items.collect();
    Ok(Some(match is_incomplete {
        true => CompletionResponse::List(CompletionList { is_incomplete, items }),
        false => CompletionResponse::Array(items),
    }))
}

/// Most items that are sent: nobody reads more, and the points of a large circuit are megabytes.
const MOST: usize = 500;

/// Of very many those that fit what is typed, the first of them; whether the client is to ask again when more is typed.
fn fewer(mut all: Vec<Completion>, text: &str, offset: u32) -> (Vec<Completion>, bool) {
    if all.len() <= MOST {
        return (all, false);
    }
    all.retain(|item| {
        let typed = text.get(item.replace.start as usize..offset as usize).unwrap_or_default();
        let mut label = item.label.chars().flat_map(char::to_lowercase);
        typed.chars().flat_map(char::to_lowercase).all(|c| label.any(|of_label| of_label == c))
    });
    all.truncate(MOST);
    (all, true)
}

/// What is told of the item that is looked at.
pub(crate) fn resolve(
    snapshot: &Snapshot,
    (mut item, asked): (CompletionItem, Asked),
) -> Result<CompletionItem, Cancelled> {
    let Some(kind) = KINDS.get(usize::from(asked.kind)) else { return Ok(item) };
    let text = snapshot.view(|view| keyon_ide::preview(view, *kind, &asked.name))?;
    item.documentation =
        text.map(|value| Documentation::MarkupContent(MarkupContent { kind: MarkupKind::Markdown, value }));
    Ok(item)
}

/// A template in the protocol's writing: numbered stops, the last one at the end.
fn snippet(template: &str) -> String {
    let mut out = String::new();
    let mut stop = 0;
    for c in template.chars() {
        match c {
            '‹' => {
                stop += 1;
                out.push_str(&format!("${{{stop}:"));
            }
            '›' => out.push('}'),
            // Only the template's own; none stands within a stop.
            '}' | '$' | '\\' => out.extend(['\\', c]),
            c => out.push(c),
        }
    }
    out + "$0"
}

const KINDS: [Kind; 13] = [
    Kind::Keyword,
    Kind::Point,
    Kind::Device,
    Kind::Part,
    Kind::Unit,
    Kind::Colour,
    Kind::Control,
    Kind::Position,
    Kind::Rule,
    Kind::Scenario,
    Kind::Parameter,
    Kind::File,
    Kind::Word,
];

fn number(kind: Kind) -> u8 {
    KINDS.iter().position(|&k| k == kind).map_or(u8::MAX, |at| at as u8)
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
