//! `workspace/symbol`

use crate::{
    files::{self, Files},
    position::{Encoding, Lines},
    stream::Stream,
    token::Token,
    workspace,
};
use keyon_ide::Symbol;
use keyon_solve::Cancelled;
use std::path::PathBuf;
use tower_lsp::lsp_types::{Location, SymbolInformation};

/// Answers that are sent at most.
const MOST: usize = 512;

pub(crate) fn run(
    world: &Files,
    encoding: Encoding,
    token: &Token,
    (query, roots, stream): (String, Vec<PathBuf>, Stream),
) -> Result<Vec<SymbolInformation>, Cancelled> {
    let mut found: Vec<(usize, SymbolInformation)> = Vec::new();
    let mut told = 0;
    for source in workspace::files(&roots, world, token)?.into_iter().flatten().map(|part| part.source) {
        let Some(uri) = files::uri(&source.key) else { continue };
        let lines = Lines::new(&source.text);
        let mut add = |symbol: &Symbol, container: Option<&str>| {
            // Half-written items have none.
            if symbol.name.is_empty() {
                return;
            }
            let Some(rank) = rank(&symbol.name, symbol.detail.as_deref(), &query) else { return };
            #[allow(deprecated)] // the field has to be given
            let information = SymbolInformation {
                name: symbol.name.clone(),
                kind: super::document_symbol::kind(symbol.kind),
                tags: None,
                deprecated: None,
                location: Location::new(uri.clone(), lines.range(&source.text, symbol.name_span, encoding)),
                container_name: container.map(str::to_owned),
            };
            found.push((rank, information));
        };
        for symbol in keyon_ide::symbols_of(&source) {
            add(&symbol, None);
            for child in &symbol.children {
                add(child, Some(&symbol.name));
                for inner in &child.children {
                    add(inner, Some(&child.name));
                }
            }
        }
        if stream.is_wanted() && !found.is_empty() {
            let piece: Vec<_> = found.drain(..).map(|(_, symbol)| symbol).take(MOST - told).collect();
            told += piece.len();
            stream.send(piece);
            if told >= MOST {
                break;
            }
        }
    }
    // Who takes pieces sorts them.
    if stream.is_wanted() {
        return Ok(Vec::new());
    }
    found.sort_by_key(|(rank, _)| *rank);
    Ok(found.into_iter().take(MOST).map(|(_, symbol)| symbol).collect())
}

/// How well a name answers a query: at its start, within, its letters in order, in its title; `None`: not at all.
fn rank(name: &str, title: Option<&str>, query: &str) -> Option<usize> {
    let (name, query) = (name.to_lowercase(), query.to_lowercase());
    if name.starts_with(&query) {
        return Some(0);
    }
    if name.contains(&query) {
        return Some(1);
    }
    let mut letters = name.chars();
    if query.chars().all(|c| letters.any(|l| l == c)) {
        return Some(2);
    }
    title.filter(|t| t.to_lowercase().contains(&query)).map(|_| 3)
}
