//! A wire, from the scanner's tokens straight to the tree: wires are most of what a circuit consists of. See `wire.rs` for
//! the grammar, and `sources.rs` for what is made of its pieces.

use super::{Cursor, Quick, Unusual};
use crate::{
    Span,
    grammar::{piece::Piece, sig::Sig, sources::is_area},
    lexer::{Token, TokenKind as T},
    step::step,
    tree::{Conductor, Gauge, Name, Quantity, Title, Value, ValueKind, Wire},
    unit::Unit,
};

/// Wires are read whole, not in pieces.
pub(crate) fn wire(_: &mut Cursor<'_, '_>) -> Quick<Vec<Piece>> {
    Err(Unusual)
}

/// A whole wire of the common form. `base` is where its item begins.
pub(crate) fn whole_wire(text: &str, tokens: &[Token], base: u32) -> Quick<Wire> {
    let mut c = Tokens { text, rest: tokens, base, next: None };
    c.bump();
    if c.bump().is_none_or(|t| t.text(text) != "wire") {
        return Err(Unusual);
    }
    let mut first = c.bump().ok_or(Unusual)?;
    let (mut label, mut title) = (None, None);
    // A first word is the label unless an arrow follows it.
    if c.kind() != Some(T::Arrow) || !matches!(first.kind, T::Word | T::Path) {
        if !matches!(first.kind, T::Word | T::Int | T::Glued | T::Exp | T::Dec) {
            return Err(Unusual);
        }
        label = Some(c.name(first)?);
        first = c.bump().ok_or(Unusual)?;
        if first.kind == T::Text {
            title = Some(Box::new(Title { text: c.sig(first).unquoted(), others: Vec::new() }));
            first = c.bump().ok_or(Unusual)?;
        }
    }
    // There are many wires: their lists are as long as they need to be.
    let arrows = tokens.iter().filter(|t| t.kind == T::Arrow).count();
    let mut points = Vec::with_capacity(arrows + 1);
    let mut stretches = Vec::with_capacity(arrows);
    points.push(c.point(first)?);
    while let Some(arrow) = c.bump() {
        if arrow.kind != T::Arrow {
            return Err(Unusual);
        }
        let to = c.bump().ok_or(Unusual)?;
        points.push(c.point(to)?);
        stretches.push(c.conductor()?);
    }
    if stretches.is_empty() { Err(Unusual) } else { Ok(Wire { label, title, points, stretches }) }
}

/// The tokens of a wire, blanks and comments passed over.
struct Tokens<'t> {
    text: &'t str,
    rest: &'t [Token],
    base: u32,
    next: Option<Token>,
}

impl<'t> Tokens<'t> {
    /// The next token; the one behind it is looked up.
    fn bump(&mut self) -> Option<Token> {
        let next = self.next.take();
        while let [token, rest @ ..] = self.rest {
            step();
            self.rest = rest;
            if !matches!(token.kind, T::Blank | T::Newline | T::Comment | T::Doc) {
                self.next = Some(*token);
                break;
            }
        }
        next
    }
    fn kind(&self) -> Option<T> {
        self.next.map(|t| t.kind)
    }
    fn sig(&self, token: Token) -> Sig<'t> {
        let span = Span {
            start: token.span.start.saturating_sub(self.base),
            end: token.span.end.saturating_sub(self.base),
        };
        Sig { kind: token.kind, text: token.text(self.text), span, mended: false }
    }
    fn name(&self, token: Token) -> Quick<Name> {
        let sig = self.sig(token);
        // Some signs are letters to the scanner and no part of a name: the grammar looks for them.
        if sig.kind == T::Word && !sig.text.is_ascii() { Err(Unusual) } else { Ok(sig.name()) }
    }
    fn point(&self, token: Token) -> Quick<Name> {
        if matches!(token.kind, T::Word | T::Path) { self.name(token) } else { Err(Unusual) }
    }

    /// What is said of a stretch, up to the next arrow or the end; nothing of it twice.
    fn conductor(&mut self) -> Quick<Conductor> {
        let mut out = Conductor::default();
        while let Some(token) = self.next.filter(|t| t.kind != T::Arrow) {
            self.bump();
            let new = match token.kind {
                T::Int | T::Dec | T::Exp | T::Glued => {
                    let quantity = self.quantity(token)?;
                    if is_area(&quantity) {
                        out.gauge.replace(Gauge::Area(quantity)).is_none()
                    } else {
                        let span = quantity.span;
                        let value = Value { kind: ValueKind::Quantity(quantity), tolerance: None, span };
                        out.length.replace(value).is_none()
                    }
                }
                T::Word => match token.text(self.text) {
                    "AWG" => out.gauge.replace(self.awg(token)?).is_none(),
                    "at" | "fitted" => return Err(Unusual),
                    text if may_be_awg(text) => return Err(Unusual),
                    _ => out.colour.replace(self.colour(token)?).is_none(),
                },
                _ => return Err(Unusual),
            };
            if !new {
                return Err(Unusual);
            }
        }
        Ok(out)
    }

    /// A number and its unit, rightly spelt; its tolerance is the grammar's.
    fn quantity(&mut self, token: Token) -> Quick<Quantity> {
        let sig = self.sig(token);
        let (number, unit, span) = if token.kind == T::Glued {
            let (number, unit) = sig.split_glued().ok_or(Unusual)?;
            (number, unit, sig.span)
        } else {
            let unit = self.bump().filter(|t| t.kind == T::Word).ok_or(Unusual)?;
            let unit = self.sig(unit);
            (sig.value().ok_or(Unusual)?, unit.text, sig.span.to(unit.span))
        };
        if self.kind() == Some(T::PlusMinus) {
            return Err(Unusual);
        }
        Ok(Quantity { number, unit: Some(Unit::from_spelling(unit).ok_or(Unusual)?), span })
    }

    /// `AWG 18`
    fn awg(&mut self, word: Token) -> Quick<Gauge> {
        let size = self.bump().filter(|t| t.kind == T::Int).ok_or(Unusual)?;
        let size = self.sig(size);
        let number: i32 = size.text.parse().map_err(|_| Unusual)?;
        if number == 0 || self.kind() == Some(T::Slash) {
            return Err(Unusual);
        }
        Ok(Gauge::Awg(number, self.sig(word).span.to(size.span)))
    }

    fn colour(&mut self, token: Token) -> Quick<Name> {
        let mut colour = self.name(token)?;
        while self.kind() == Some(T::Slash) {
            self.bump();
            let tracer = self.bump().filter(|t| t.kind == T::Word).ok_or(Unusual)?;
            let tracer = self.name(tracer)?;
            colour.text = [colour.text.as_str(), "/", &tracer.text].into_iter().collect();
            colour.span = colour.span.to(tracer.span);
        }
        Ok(colour)
    }
}

/// `awg18`, `AWG18` and the like.
fn may_be_awg(word: &str) -> bool {
    let begins = word.get(..3).is_some_and(|start| start.eq_ignore_ascii_case("awg"));
    begins || word.get(word.len().saturating_sub(3)..).is_some_and(|end| end.eq_ignore_ascii_case("awg"))
}
