//! What each word is, for an editor that colours by meaning.

use crate::{View, completion::words};
use keyon_circuit::{Entity, model::PointKind};
use keyon_syntax::{Span, lexer};

/// What a stretch of text is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum TokenClass {
    Comment,
    Documentation,
    Text,
    Number,
    Operator,
    Keyword,
    Unit,
    Colour,
    Circuit,
    Source,
    Device,
    Part,
    Module,
    Pin,
    Wire,
    Control,
    Position,
    Scenario,
    Parameter,
    Library,
}

/// A stretch of one class.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SemanticToken {
    #[allow(missing_docs)]
    pub span: Span,
    #[allow(missing_docs)]
    pub class: TokenClass,
    /// It is declared here.
    pub declares: bool,
    /// It comes with Keyon.
    pub built_in: bool,
}

/// The tokens of the view's file within a range, in their order; none spans a line break.
pub fn semantic_tokens(view: &View<'_>, range: Span) -> Vec<SemanticToken> {
    let elaboration = view.elaboration;
    // They are in the order of their places, as tokens are.
    let mut names: Vec<SemanticToken> = Vec::new();
    for name in elaboration.names.iter().take_while(|n| n.loc.file.index() == 0) {
        let span = elaboration.span(name.loc);
        if span.end < range.start || names.last().is_some_and(|last| last.span.start == span.start) {
            continue;
        }
        if span.start > range.end {
            break;
        }
        let built_in =
            matches!(name.entity, Entity::Part(p) if elaboration.parts.get(p).is_some_and(|p| p.built_in));
        let class = class(view, name.entity);
        names.push(SemanticToken { span, class, declares: name.definition, built_in });
    }
    let mut names = names.into_iter().peekable();
    let text = view.text();
    let mut out: Vec<SemanticToken> = Vec::new();
    let mut push = |span: Span, class, declares, built_in| {
        if !span.is_empty() && out.last().is_none_or(|last: &SemanticToken| last.span.end <= span.start) {
            out.push(SemanticToken { span, class, declares, built_in });
        }
    };
    let mut first = true;
    let mut after_number = false;
    // Lexing from the start of a line is lexing from the start: no token but a line break spans lines.
    let from = text.get(..range.start as usize).and_then(|t| t.rfind('\n')).map_or(0, |at| at + 1);
    let part = text.get(from..(range.end as usize).max(from)).unwrap_or("");
    for token in lexer::tokens(part) {
        let span = token.span.moved(from as u32);
        use lexer::TokenKind::*;
        let was_number = std::mem::take(&mut after_number);
        match token.kind {
            Newline => first = true,
            Blank => after_number = was_number,
            Comment => push(span, TokenClass::Comment, false, false),
            Doc => push(span, TokenClass::Documentation, false, false),
            Arrow | Dots | PlusMinus => push(span, TokenClass::Operator, false, false),
            _ => {
                // The names that lie within this token: a path has several.
                while names.next_if(|name| name.span.start < span.start).is_some() {}
                let mut any = false;
                while let Some(name) = names.next_if(|name| name.span.start < span.end) {
                    push(name.span, name.class, name.declares, name.built_in);
                    any = true;
                }
                if !any {
                    let word = text.get(span.range()).unwrap_or("");
                    match token.kind {
                        Text => push(span, TokenClass::Text, false, false),
                        Exp | Dec | Int | Glued => {
                            push(span, TokenClass::Number, false, false);
                            after_number = true;
                        }
                        Percent if was_number => push(span, TokenClass::Unit, false, false),
                        Word if was_number && keyon_syntax::unit::Unit::from_spelling(word).is_some() => {
                            push(span, TokenClass::Unit, false, false);
                        }
                        Word if words::COLOURS.iter().any(|(c, _)| *c == word) => {
                            push(span, TokenClass::Colour, false, false);
                        }
                        Word if first || words::help(word).is_some() => {
                            push(span, TokenClass::Keyword, false, false)
                        }
                        _ => {}
                    }
                }
                first = false;
            }
        }
        if token.kind == OpenBrace {
            first = true;
        }
    }
    out
}

fn class(view: &View<'_>, entity: Entity) -> TokenClass {
    let circuit = &view.elaboration.circuit;
    match entity {
        Entity::Supply(_) | Entity::Ground(_) | Entity::Fuse(_) => TokenClass::Source,
        Entity::Splice(_) | Entity::Wire(_) => TokenClass::Wire,
        Entity::Device(_) | Entity::Element(_) | Entity::Stimulus(_) => TokenClass::Device,
        Entity::Module(_) | Entity::Inline(_) => TokenClass::Module,
        Entity::Connector(..) | Entity::Cavity(..) | Entity::InlineCavity(..) | Entity::Inside(..) => {
            TokenClass::Pin
        }
        Entity::Point(p) => match circuit.points.get(p.index()).map(|p| p.kind) {
            Some(PointKind::Common) => TokenClass::Source,
            _ => TokenClass::Pin,
        },
        Entity::Control(_) => TokenClass::Control,
        Entity::Position(..) => TokenClass::Position,
        Entity::Scenario(_) | Entity::Exercise(_) | Entity::Readings(_) => TokenClass::Scenario,
        Entity::Part(_) => TokenClass::Part,
        Entity::Param(..) => TokenClass::Parameter,
        Entity::Library(_) => TokenClass::Library,
    }
}
