//! Sound lines of the common kinds, read in one pass from left to right instead of by trying the grammar's alternatives.
//! The grammar stays the measure: whatever is unusual is [`Unusual`] here and read by the grammar, and what is read here
//! is what the grammar makes of it (`parse/agreement.rs` compares the two). Damage, slips and their messages are the grammar's alone.

mod headers;
mod lines;
mod parts;
mod rows;
mod wires;

use super::{
    atoms::{CLAUSE_WORDS, language},
    named::Named,
    piece::Piece,
    sig::{Sig, is_unit, quantity},
};
use crate::{
    Span,
    lexer::TokenKind as T,
    step::step,
    tree::{Name, Quantity, Range, Text, Title, Value, ValueKind},
    unit::Unit,
};
pub(crate) use headers::{cavity, owner};
pub(crate) use lines::{
    about_row, allow, attributes, block, cavities, element, elsewhere, fuse, gang, gang_row, grade, ground,
    head, housing, inline, names, pins, positions, spare, splice, supply, switch, table_row, top, transducer,
    use_,
};
pub(crate) use rows::{entries, exercise_row, row};
pub(crate) use wires::{whole_wire, wire};

/// The line is not of the common form: the grammar is to read it.
#[derive(Debug)]
pub(crate) struct Unusual;

pub(crate) type Quick<O> = Result<O, Unusual>;

/// A place in a statement.
pub(crate) struct Cursor<'c, 't> {
    sigs: &'c [Sig<'t>],
    at: usize,
}

impl<'c, 't> Cursor<'c, 't> {
    pub(crate) fn new(sigs: &'c [Sig<'t>]) -> Self {
        Self { sigs, at: 0 }
    }
    /// Whether all is read.
    pub(crate) fn at_end(&self) -> bool {
        self.at >= self.sigs.len()
    }

    fn peek(&self) -> Option<&'c Sig<'t>> {
        self.sigs.get(self.at)
    }
    fn kind(&self) -> Option<T> {
        self.peek().map(|s| s.kind)
    }
    /// The kind of the token so many behind the next one.
    fn kind_after(&self, ahead: usize) -> Option<T> {
        self.sigs.get(self.at + ahead).map(|s| s.kind)
    }
    fn bump(&mut self) -> Quick<&'c Sig<'t>> {
        step();
        let sig = self.peek().ok_or(Unusual)?;
        self.at += 1;
        Ok(sig)
    }
    fn bump_if(&mut self, test: impl Fn(&Sig<'t>) -> bool) -> Option<&'c Sig<'t>> {
        step();
        let sig = self.peek().filter(|s| test(s))?;
        self.at += 1;
        Some(sig)
    }
    /// The next token, which must be of this kind.
    fn mark(&mut self, kind: T) -> Quick<Span> {
        self.bump_if(|s| s.kind == kind).map(|s| s.span).ok_or(Unusual)
    }
    /// Whether the next token is of this kind; if so, it is read.
    fn skips(&mut self, kind: T) -> bool {
        self.bump_if(|s| s.kind == kind).is_some()
    }
    /// Whether the next token is this word.
    fn is_word(&self, text: &str) -> bool {
        self.peek().is_some_and(|s| s.kind == T::Word && s.text == text)
    }
    /// The next token, which must be this word.
    fn word(&mut self, text: &str) -> Quick<Span> {
        self.bump_if(|s| s.kind == T::Word && s.text == text).map(|s| s.span).ok_or(Unusual)
    }

    fn named(&mut self, test: impl Fn(T) -> bool) -> Quick<Name> {
        self.bump_if(|s| test(s.kind)).map(Sig::name).ok_or(Unusual)
    }
    /// The name behind the keyword, if it stands here.
    fn head(&mut self, named: Named) -> Option<Piece> {
        let ahead = [0, 1, 2].map(|ahead| self.sigs.get(self.at + ahead));
        if named.is_name(ahead) { self.bump().ok().map(|s| Piece::Word(s.name())) } else { None }
    }
    /// As in `atoms.rs`.
    fn name(&mut self) -> Quick<Name> {
        self.named(|kind| kind == T::Word)
    }
    fn point(&mut self) -> Quick<Name> {
        self.named(is_point)
    }
    fn pin(&mut self) -> Quick<Name> {
        self.named(is_pin)
    }
    fn subject(&mut self) -> Quick<Name> {
        self.named(is_subject)
    }
    fn text(&mut self) -> Quick<Text> {
        self.bump_if(|s| s.kind == T::Text).map(Sig::unquoted).ok_or(Unusual)
    }
    fn title(&mut self) -> Quick<Title> {
        let text = self.text()?;
        let mut others = Vec::new();
        while self.peek().is_some_and(language) && matches!(self.kind_after(1), Some(T::Text | T::OpenText)) {
            others.push((self.name()?, self.text()?));
        }
        Ok(Title { text, others })
    }

    /// A list with commas, a last one allowed. `begins` holds for the tokens that begin an entry.
    fn list<O>(
        &mut self,
        begins: impl Fn(T) -> bool,
        mut entry: impl FnMut(&mut Self) -> Quick<O>,
    ) -> Quick<Vec<O>> {
        let mut out = vec![entry(self)?];
        while self.skips(T::Comma) && self.kind().is_some_and(&begins) {
            out.push(entry(self)?);
        }
        Ok(out)
    }
    fn points(&mut self) -> Quick<Vec<Name>> {
        self.list(is_point, Self::point)
    }
    fn position_list(&mut self) -> Quick<Vec<Name>> {
        self.list(is_position, |c| c.named(is_position))
    }

    /// Whether a number begins here.
    fn is_amount(&self) -> bool {
        self.kind().is_some_and(is_amount)
    }
    /// A number, with its unit if it has one, rightly spelt.
    fn number(&mut self) -> Quick<Quantity> {
        let sign = self.bump_if(|s| matches!(s.kind, T::Minus | T::Plus));
        let number = self.bump()?;
        match number.kind {
            T::Int | T::Dec | T::Exp => Ok(quantity(sign, number, self.bump_if(is_unit))),
            T::Glued => {
                let exact = number.split_glued().is_some_and(|(_, u)| Unit::from_spelling(u).is_some());
                if exact { Ok(quantity(sign, number, None)) } else { Err(Unusual) }
            }
            _ => Err(Unusual),
        }
    }
    /// A number and its unit.
    fn quantity(&mut self) -> Quick<Quantity> {
        self.number().and_then(|q| if q.unit.is_some() { Ok(q) } else { Err(Unusual) })
    }
    /// A quantity with its tolerance.
    fn plain_value(&mut self) -> Quick<Value> {
        let quantity = self.quantity()?;
        self.with_tolerance(ValueKind::Quantity(quantity))
    }
    /// A quantity or a parameter, with its tolerance.
    fn value(&mut self) -> Quick<Value> {
        if self.is_amount() {
            return self.plain_value();
        }
        let name = self.parameter()?;
        self.with_tolerance(ValueKind::Parameter(name))
    }
    fn parameter(&mut self) -> Quick<Name> {
        let sig = self.bump_if(|s| s.kind == T::Word && !CLAUSE_WORDS.contains(&s.text));
        sig.map(Sig::name).ok_or(Unusual)
    }
    fn with_tolerance(&mut self, kind: ValueKind) -> Quick<Value> {
        let mut value = alone(kind);
        if self.skips(T::PlusMinus) {
            let tolerance = self.quantity()?;
            value.span = value.span.to(tolerance.span);
            value.tolerance = Some(tolerance);
        }
        Ok(value)
    }
    /// `A .. B`.
    fn range(&mut self) -> Quick<Range> {
        let mut low = self.bound()?;
        self.mark(T::Dots)?;
        let high = self.bound()?;
        match (&mut low.kind, &high.kind) {
            (ValueKind::Quantity(l), ValueKind::Quantity(h)) if h.unit.is_some() => {
                l.unit = l.unit.or(h.unit);
            }
            (ValueKind::Quantity(q), ValueKind::Parameter(_)) if q.unit.is_some() => {}
            (ValueKind::Parameter(_), ValueKind::Quantity(q)) if q.unit.is_some() => {}
            (ValueKind::Parameter(_), ValueKind::Parameter(_)) => {}
            _ => return Err(Unusual),
        }
        Ok(Range { span: low.span.to(high.span), low, high })
    }
    fn bound(&mut self) -> Quick<Value> {
        if self.is_amount() {
            Ok(alone(ValueKind::Quantity(self.number()?)))
        } else {
            Ok(alone(ValueKind::Parameter(self.parameter()?)))
        }
    }
    /// Whether a range that begins with a number stands here.
    fn is_range(&self) -> bool {
        let sign = usize::from(matches!(self.kind(), Some(T::Minus | T::Plus)));
        if !matches!(self.kind_after(sign), Some(T::Int | T::Dec | T::Exp | T::Glued)) {
            return false;
        }
        let unit = usize::from(self.sigs.get(self.at + sign + 1).is_some_and(is_unit));
        self.kind_after(sign + 1 + unit) == Some(T::Dots)
    }
}

fn alone(kind: ValueKind) -> Value {
    let span = match &kind {
        ValueKind::Quantity(q) => q.span,
        ValueKind::Parameter(n) => n.span,
    };
    Value { kind, tolerance: None, span }
}

fn is_amount(kind: T) -> bool {
    matches!(kind, T::Int | T::Dec | T::Exp | T::Glued | T::Minus | T::Plus)
}
fn is_point(kind: T) -> bool {
    matches!(kind, T::Word | T::Path)
}
fn is_pin(kind: T) -> bool {
    matches!(kind, T::Word | T::Int | T::Glued | T::Exp)
}
fn is_position(kind: T) -> bool {
    matches!(kind, T::Word | T::Int | T::Glued)
}
fn is_subject(kind: T) -> bool {
    matches!(kind, T::Word | T::Path | T::DigitPath | T::Int | T::Dec | T::Glued | T::Exp)
}
