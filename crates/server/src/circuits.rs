//! Notes that hold several circuits: which one a request is about, and how what all of them answer becomes one answer.

use crate::{
    diagnostics::Features,
    handlers::execute_command as command,
    handlers::{completion, inlay_hint, references},
    snapshot::Snapshot,
    stream::Stream,
};
use keyon_solve::Cancelled;
use std::{path::PathBuf, sync::Arc};
use tower_lsp::lsp_types::*;

/// What a request asks with.
pub(crate) trait Asks: Clone {
    /// The place that it is about; without one it is about all of the document.
    fn place(&self) -> Option<Position> {
        None
    }
    /// Its handler sees to all circuits of a document by itself.
    fn of_all(&self) -> bool {
        false
    }
}

/// What circuits of one document answer together.
pub(crate) trait Answer: Sized {
    /// With what another circuit answers; the first one's where there can be one only.
    #[must_use]
    fn and(self, _other: Self) -> Self {
        self
    }
}

/// Items of which there are as many as the circuits have.
pub(crate) trait Listed: Sized {
    fn several(mut one: Vec<Self>, other: Vec<Self>) -> Vec<Self> {
        one.extend(other);
        one
    }
}

/// Runs a request about a document: about the circuit at its place, or about all.
pub(crate) fn answer<P: Asks, R: Answer>(
    snapshot: &Snapshot,
    params: P,
    run: fn(&Snapshot, P) -> Result<R, Cancelled>,
) -> Result<R, Cancelled> {
    if snapshot.cell.also.is_empty() || params.of_all() {
        return run(snapshot, params);
    }
    if let Some(place) = params.place() {
        return run(&snapshot.circuit_at(place), params);
    }
    let mut together = run(snapshot, params.clone())?;
    for cell in &snapshot.cell.also {
        let other = Snapshot { cell: cell.clone(), ..snapshot.clone() };
        together = together.and(run(&other, params.clone())?);
    }
    Ok(together)
}

macro_rules! at {
    ($($params:ty => |$it:ident| $place:expr;)*) => {
        $(impl Asks for $params {
            fn place(&self) -> Option<Position> {
                let $it = self;
                Some($place)
            }
        })*
    };
}
at! {
    HoverParams => |p| p.text_document_position_params.position;
    GotoDefinitionParams => |p| p.text_document_position_params.position;
    references::Asked => |p| p.0.text_document_position.position;
    DocumentHighlightParams => |p| p.text_document_position_params.position;
    (CompletionParams, bool) => |p| p.0.text_document_position.position;
    CodeActionParams => |p| p.range.start;
    TextDocumentPositionParams => |p| p.position;
    (RenameParams, Vec<PathBuf>) => |p| p.0.text_document_position.position;
    SignatureHelpParams => |p| p.text_document_position_params.position;
    ColorPresentationParams => |p| p.range.start;
    LinkedEditingRangeParams => |p| p.text_document_position_params.position;
    DocumentRangeFormattingParams => |p| p.range.start;
    DocumentOnTypeFormattingParams => |p| p.text_document_position.position;
    CallHierarchyPrepareParams => |p| p.text_document_position_params.position;
    CallHierarchyItem => |p| p.selection_range.start;
    (InlayHint, inlay_hint::Asked) => |p| p.0.position;
}
impl Asks for SelectionRangeParams {
    fn place(&self) -> Option<Position> {
        self.positions.first().copied()
    }
}
impl Asks for (DocumentDiagnosticParams, Features, Arc<Stream>) {
    fn of_all(&self) -> bool {
        true
    }
}

macro_rules! plain {
    ($of:ident: $($types:ty),*) => { $(impl $of for $types {})* };
}
plain!(Asks: (), Option<String>, (DocumentSymbolParams, bool), (CompletionItem, completion::Asked),
    DocumentFormattingParams, FoldingRangeParams, InlayHintParams, SemanticTokensRangeParams, CodeLensParams,
    DocumentLinkParams, DocumentColorParams, command::TableParams, command::DrawParams,
    command::LocateParams);
plain!(Answer: Hover, GotoDefinitionResponse, CompletionResponse, DocumentDiagnosticReport, PrepareRenameResponse,
    SignatureHelp, LinkedEditingRanges, InlayHint, Location, command::DrawResult, Result<Option<WorkspaceEdit>, String>);
plain!(Listed: Location, DocumentHighlight, TextEdit, CodeActionOrCommand, FoldingRange, InlayHint, CodeLens,
    DocumentLink, ColorInformation, ColorPresentation, SelectionRange, CallHierarchyItem,
    CallHierarchyIncomingCall, CallHierarchyOutgoingCall, DocumentSymbol, SymbolInformation);

impl<T: Listed> Answer for Vec<T> {
    fn and(self, other: Self) -> Self {
        T::several(self, other)
    }
}
impl<T: Answer> Answer for Option<T> {
    fn and(self, other: Self) -> Self {
        match (self, other) {
            (Some(one), Some(other)) => Some(one.and(other)),
            (one, other) => one.or(other),
        }
    }
}
impl Answer for DocumentSymbolResponse {
    fn and(self, other: Self) -> Self {
        match (self, other) {
            (Self::Nested(one), Self::Nested(other)) => Self::Nested(one.and(other)),
            (Self::Flat(one), Self::Flat(other)) => Self::Flat(one.and(other)),
            (one, _) => one,
        }
    }
}
impl Answer for CompletionItem {
    fn and(self, other: Self) -> Self {
        if self.documentation.is_none() { other } else { self }
    }
}
impl Answer for command::TableResult {
    fn and(self, other: Self) -> Self {
        if self.markdown.is_none() { other } else { self }
    }
}
impl Answer for command::HoldResult {
    fn and(mut self, other: Self) -> Self {
        self.scenarios.extend(other.scenarios);
        Self { scenario: self.scenario.or(other.scenario), known: self.known || other.known, ..self }
    }
}
impl Listed for SemanticToken {
    /// Each token is told from the one before it, so the circuits' lines have to be woven.
    fn several(one: Vec<Self>, other: Vec<Self>) -> Vec<Self> {
        let mut all: Vec<(u32, u32, Self)> = placed(one).chain(placed(other)).collect();
        all.sort_by_key(|&(line, start, _)| (line, start));
        let mut before = (0, 0);
        let tokens = all.into_iter().map(|(line, start, token)| {
            let delta_start = if line == before.0 { start - before.1 } else { start };
            let delta_line = line - before.0;
            before = (line, start);
            Self { delta_line, delta_start, ..token }
        });
        tokens.collect()
    }
}

/// Tokens with their lines and columns.
fn placed(tokens: Vec<SemanticToken>) -> impl Iterator<Item = (u32, u32, SemanticToken)> {
    let (mut line, mut start) = (0, 0);
    tokens.into_iter().map(move |token| {
        start = if token.delta_line == 0 { start + token.delta_start } else { token.delta_start };
        line += token.delta_line;
        (line, start, token)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn token(delta_line: u32, delta_start: u32) -> SemanticToken {
        SemanticToken { delta_line, delta_start, length: 1, token_type: 0, token_modifiers_bitset: 0 }
    }

    #[test]
    fn tokens_of_circuits_are_woven_by_line() {
        // Lines 2 (columns 1 and 4) and 9; lines 5 and 6.
        let one = vec![token(2, 1), token(0, 3), token(7, 2)];
        let other = vec![token(5, 8), token(1, 0)];
        let all = Listed::several(one, other);
        let places: Vec<(u32, u32)> = placed(all).map(|(line, start, _)| (line, start)).collect();
        assert_eq!(places, [(2, 1), (2, 4), (5, 8), (6, 0), (9, 2)]);
    }
}
