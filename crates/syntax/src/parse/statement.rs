//! The tokens of all statements, as the grammar sees them.

use super::{base, message};
use crate::{
    SyntaxError,
    grammar::{sig::Sig, slips},
    layout::{BodyKind, ItemClass, Layout, Role, Tokens},
    lexer::TokenKind,
    step::step,
};

/// The tokens of all statements in one vector, and which of them each statement has.
pub(super) struct Sigs<'t> {
    sigs: Vec<Sig<'t>>,
    ranges: Vec<std::ops::Range<usize>>,
    /// Slips, by item; places are relative to the item.
    errors: Vec<(u32, SyntaxError)>,
}

impl<'t> Sigs<'t> {
    /// The tokens of a statement, without the `{` that opens its body.
    pub(super) fn of(&self, statement: usize) -> &[Sig<'t>] {
        self.ranges.get(statement).and_then(|range| self.sigs.get(range.clone())).unwrap_or_default()
    }
    /// The slips in an item's tokens.
    pub(super) fn errors(&self, item: u32) -> impl Iterator<Item = &SyntaxError> {
        let start = self.errors.partition_point(|(i, _)| *i < item);
        self.errors.iter().skip(start).take_while(move |(i, _)| *i == item).map(|(_, error)| error)
    }
}

pub(super) fn all<'t>(text: &'t str, layout: &Layout) -> Sigs<'t> {
    let mut out = Sigs {
        sigs: Vec::with_capacity(layout.tokens.len() / 2),
        ranges: Vec::with_capacity(layout.statements.len()),
        errors: Vec::new(),
    };
    let slice = |tokens: Tokens| layout.tokens.get(tokens.range()).unwrap_or_default();
    for (index, item) in layout.items.iter().enumerate() {
        let index = index as u32;
        let base = base(layout, item);
        let statements = item.statements.start as usize..item.statements.end as usize;
        let all = layout.statements.get(statements).unwrap_or_default();
        for (at, statement) in all.iter().enumerate() {
            step();
            let start = out.sigs.len();
            // A `}` is no token of the grammar.
            if statement.role == Role::Close {
                out.ranges.push(start..start);
                continue;
            }
            let errors = &mut out.errors;
            slips::significant(text, slice(statement.tokens), base, &mut out.sigs, |e| {
                errors.push((index, e))
            });
            let word = match (item.class, statement.role) {
                (ItemClass::Word(word), Role::Plain) if statement.depth == 0 => Some(word),
                (_, Role::Allow) => Some("allow"),
                _ => None,
            };
            if let (Some(word), Some(head)) = (word, out.sigs.get_mut(start))
                && head.text != word
            {
                out.errors.push((index, message::respelt(head, word)));
                head.text = word;
            }
            if statement.opens.is_some() && out.sigs.last().is_some_and(|s| s.kind == TokenKind::OpenBrace) {
                out.sigs.pop();
            }
            if statement.opens == Some(BodyKind::Table) {
                // What stands behind the `}` of a table is still the element's.
                let mut after = all.iter().skip(at + 1);
                let close = after
                    .find(|s| {
                        step();
                        s.depth <= statement.depth
                    })
                    .filter(|s| s.role == Role::Close);
                if let Some(tail) = close.and_then(|close| slice(close.tokens).get(1..)) {
                    let errors = &mut out.errors;
                    slips::significant(text, tail, base, &mut out.sigs, |e| errors.push((index, e)));
                }
            }
            out.ranges.push(start..out.sigs.len());
        }
    }
    out
}
