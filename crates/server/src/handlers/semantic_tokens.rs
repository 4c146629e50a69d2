//! `textDocument/semanticTokens/full` and `/range`

use crate::snapshot::Snapshot;
use keyon_ide::TokenClass;
use keyon_solve::Cancelled;
use keyon_syntax::Span;
use tower_lsp::lsp_types::{
    SemanticToken, SemanticTokenModifier, SemanticTokenType, SemanticTokensRangeParams,
};

/// The legend; a class's number is its place here.
pub(crate) fn types() -> Vec<SemanticTokenType> {
    CLASSES.iter().map(|(_, name)| SemanticTokenType::new(name)).collect()
}

/// `declaration`, `documentation`, `defaultLibrary`, in the order of their bits.
pub(crate) fn modifiers() -> Vec<SemanticTokenModifier> {
    vec![
        SemanticTokenModifier::DECLARATION,
        SemanticTokenModifier::DOCUMENTATION,
        SemanticTokenModifier::DEFAULT_LIBRARY,
    ]
}

/// Each class as the nearest of the protocol's types, so that every theme has a colour for it.
const CLASSES: [(TokenClass, &str); 20] = [
    (TokenClass::Comment, "comment"),
    (TokenClass::Documentation, "comment"),
    (TokenClass::Text, "string"),
    (TokenClass::Number, "number"),
    (TokenClass::Operator, "operator"),
    (TokenClass::Keyword, "keyword"),
    (TokenClass::Unit, "macro"),
    (TokenClass::Colour, "regexp"),
    (TokenClass::Circuit, "namespace"),
    (TokenClass::Source, "interface"),
    (TokenClass::Device, "variable"),
    (TokenClass::Part, "class"),
    (TokenClass::Module, "struct"),
    (TokenClass::Pin, "property"),
    (TokenClass::Wire, "event"),
    (TokenClass::Control, "method"),
    (TokenClass::Position, "enumMember"),
    (TokenClass::Scenario, "function"),
    (TokenClass::Parameter, "parameter"),
    (TokenClass::Library, "decorator"),
];

pub(crate) fn full(snapshot: &Snapshot, (): ()) -> Result<Vec<SemanticToken>, Cancelled> {
    Ok(encode(snapshot, Span::new(0, snapshot.text().len())))
}

pub(crate) fn range(
    snapshot: &Snapshot,
    params: SemanticTokensRangeParams,
) -> Result<Vec<SemanticToken>, Cancelled> {
    Ok(encode(snapshot, snapshot.span(params.range)))
}

fn encode(snapshot: &Snapshot, span: Span) -> Vec<SemanticToken> {
    let tokens = snapshot.view(|view| keyon_ide::semantic_tokens(view, span));
    let mut walk = snapshot.walk();
    let (mut line, mut start) = (0, 0);
    let mut out = Vec::with_capacity(tokens.len());
    for token in tokens {
        let range = walk.range(token.span);
        let delta_line = range.start.line - line;
        let delta_start = if delta_line == 0 { range.start.character - start } else { range.start.character };
        (line, start) = (range.start.line, range.start.character);
        let kind = CLASSES.iter().position(|(class, _)| *class == token.class).unwrap_or(0) as u32;
        let documented = token.class == TokenClass::Documentation;
        let bits = u32::from(token.declares) | u32::from(documented) << 1 | u32::from(token.built_in) << 2;
        out.push(SemanticToken {
            delta_line,
            delta_start,
            length: range.end.character.saturating_sub(range.start.character),
            token_type: kind,
            token_modifiers_bitset: bits,
        });
    }
    out
}

/// What turns one list of tokens into the next: one edit from the first difference to the last.
pub(crate) fn delta(
    old: &[SemanticToken],
    new: &[SemanticToken],
) -> Vec<tower_lsp::lsp_types::SemanticTokensEdit> {
    let head = old.iter().zip(new).take_while(|(a, b)| a == b).count();
    let rest = old.len().min(new.len()) - head;
    let tail = old.iter().rev().zip(new.iter().rev()).take(rest).take_while(|(a, b)| a == b).count();
    if head == old.len() && head == new.len() {
        return Vec::new();
    }
    vec![tower_lsp::lsp_types::SemanticTokensEdit {
        start: (head * 5) as u32,
        delete_count: ((old.len() - head - tail) * 5) as u32,
        data: Some(new.get(head..new.len() - tail).unwrap_or_default().to_vec()),
    }]
}
