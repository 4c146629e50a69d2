//! `textDocument/documentSymbol`

use crate::{position::Walk, snapshot::Snapshot};
use keyon_ide::{Symbol, SymbolKind as Kind};
use keyon_solve::Cancelled;
use tower_lsp::lsp_types::{
    DocumentSymbol, DocumentSymbolParams, DocumentSymbolResponse, SymbolInformation, SymbolKind,
};

/// A tree, or for a client that reads none, the same as a list with the containers' names.
pub(crate) fn run(
    snapshot: &Snapshot,
    (params, tree): (DocumentSymbolParams, bool),
) -> Result<Option<DocumentSymbolResponse>, Cancelled> {
    let _ = params;
    // The tree is enough: nobody waits for what its names mean.
    let mut symbols = keyon_ide::symbols_of(&snapshot.cell.source);
    symbols.iter_mut().for_each(name);
    if tree {
        let mut walk = snapshot.walk();
        let symbols = symbols.into_iter().map(|symbol| nested(&mut walk, symbol)).collect();
        return Ok(Some(DocumentSymbolResponse::Nested(symbols)));
    }
    let mut flat_list = Vec::new();
    let mut waiting: Vec<(Symbol, Option<String>)> = symbols.into_iter().rev().map(|s| (s, None)).collect();
    while let Some((mut symbol, container)) = waiting.pop() {
        let children = std::mem::take(&mut symbol.children);
        waiting.extend(children.into_iter().rev().map(|child| (child, Some(symbol.name.clone()))));
        flat_list.push(flat(snapshot, symbol, container));
    }
    Ok(Some(DocumentSymbolResponse::Flat(flat_list)))
}

/// What has no name yet goes by what it is: a symbol's name must not be empty, and a client may refuse the whole answer.
fn name(symbol: &mut Symbol) {
    if symbol.name.trim().is_empty() {
        symbol.name =
            symbol.detail.clone().filter(|detail| !detail.is_empty()).unwrap_or_else(|| "\u{2026}".into());
    }
    symbol.children.iter_mut().for_each(name);
}

/// Symbols nest three deep at the most.
#[allow(deprecated)] // the field is required and says what `tags` says
fn nested(walk: &mut Walk<'_>, symbol: Symbol) -> DocumentSymbol {
    let (range, selection_range) = (walk.range(symbol.span), walk.range(symbol.name_span));
    let children: Vec<_> = symbol.children.into_iter().map(|child| nested(walk, child)).collect();
    DocumentSymbol {
        name: symbol.name,
        detail: symbol.detail,
        kind: kind(symbol.kind),
        tags: None,
        deprecated: None,
        range,
        selection_range,
        children: (!children.is_empty()).then_some(children),
    }
}

#[allow(deprecated)] // as above
fn flat(snapshot: &Snapshot, symbol: Symbol, container_name: Option<String>) -> SymbolInformation {
    SymbolInformation {
        name: symbol.name,
        kind: kind(symbol.kind),
        tags: None,
        deprecated: None,
        location: tower_lsp::lsp_types::Location::new(
            snapshot.cell.uri.clone(),
            snapshot.range(symbol.name_span),
        ),
        container_name,
    }
}

pub(super) fn kind(kind: Kind) -> SymbolKind {
    match kind {
        Kind::Circuit => SymbolKind::MODULE,
        Kind::Library => SymbolKind::PACKAGE,
        Kind::Source | Kind::Ground => SymbolKind::CONSTANT,
        Kind::Splice | Kind::Pin => SymbolKind::FIELD,
        Kind::Wire => SymbolKind::VARIABLE,
        Kind::Fuse => SymbolKind::PROPERTY,
        Kind::Device => SymbolKind::OBJECT,
        Kind::Module => SymbolKind::CLASS,
        Kind::Part => SymbolKind::STRUCT,
        Kind::Connector => SymbolKind::NAMESPACE,
        Kind::Element => SymbolKind::PROPERTY,
        Kind::Control => SymbolKind::ENUM,
        Kind::Position => SymbolKind::ENUM_MEMBER,
        Kind::Scenario => SymbolKind::EVENT,
        Kind::Claims => SymbolKind::BOOLEAN,
    }
}
