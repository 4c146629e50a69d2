//! The tokens of an item's statements, as the grammar sees them.

use super::{base, message};
use crate::{
    SyntaxError,
    grammar::{sig::Sig, slips},
    layout::{BodyKind, ItemClass, ItemLayout, Layout, Role, Tokens},
    lexer::TokenKind,
    step::step,
};

/// The tokens of all statements of an item in one vector, and which of them each statement has.
#[derive(Default)]
pub(super) struct Sigs<'t> {
    sigs: Vec<Sig<'t>>,
    ranges: Vec<std::ops::Range<usize>>,
    /// Slips; places are relative to the item.
    errors: Vec<SyntaxError>,
}

impl<'t> Sigs<'t> {
    /// The tokens of the item's statement of this number, without the `{` that opens its body.
    pub(super) fn of(&self, statement: usize) -> &[Sig<'t>] {
        self.ranges.get(statement).and_then(|range| self.sigs.get(range.clone())).unwrap_or_default()
    }
    /// The slips in the item's tokens.
    pub(super) fn errors(&self) -> &[SyntaxError] {
        &self.errors
    }

    /// Takes up the tokens of another item in place of what was here.
    pub(super) fn read(&mut self, text: &'t str, layout: &Layout, item: &ItemLayout) {
        self.sigs.clear();
        self.ranges.clear();
        self.errors.clear();
        let slice = |tokens: Tokens| layout.tokens.get(tokens.range()).unwrap_or_default();
        let base = base(layout, item);
        let statements = item.statements.start as usize..item.statements.end as usize;
        let all = layout.statements.get(statements).unwrap_or_default();
        for (at, statement) in all.iter().enumerate() {
            step();
            let start = self.sigs.len();
            // A `}` is no token of the grammar.
            if statement.role == Role::Close {
                self.ranges.push(start..start);
                continue;
            }
            let tokens = slice(statement.tokens);
            slips::significant(text, tokens, base, statement.within, &mut self.sigs, &mut self.errors);
            let word = match (item.class, statement.role) {
                (ItemClass::Word(word), Role::Plain) if statement.depth == 0 => Some(word),
                (_, Role::Allow) => Some("allow"),
                _ => None,
            };
            if let (Some(word), Some(head)) = (word, self.sigs.get_mut(start))
                && head.text != word
            {
                self.errors.push(message::respelt(head, word));
                head.text = word;
            }
            // What opens a body, were it the wrong bracket or one too many, is no token of the grammar either.
            let opens =
                |s: &Sig<'_>| matches!(s.kind, TokenKind::OpenBrace | TokenKind::OpenParen) || s.text == "[";
            while statement.opens.is_some() && self.sigs.len() > start && self.sigs.last().is_some_and(opens)
            {
                step();
                self.sigs.pop();
            }
            if statement.opens == Some(BodyKind::Table) {
                // What stands behind the `}` of a table is still the element's.
                let mut after = all.iter().skip(at + 1);
                let close = after.find(|s| {
                    step();
                    s.depth <= statement.depth
                });
                let close = close.filter(|s| s.role == Role::Close);
                if let Some(tail) = close.and_then(|close| slice(close.tokens).get(1..)) {
                    slips::significant(text, tail, base, BodyKind::Table, &mut self.sigs, &mut self.errors);
                }
            }
            self.ranges.push(start..self.sigs.len());
        }
    }
}
