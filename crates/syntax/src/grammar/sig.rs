//! The tokens that the grammar sees.

use super::{
    atoms::{CLAUSE_WORDS, letter_for_point},
    quantities::unit_of_letter,
};
use crate::{
    Span,
    lexer::TokenKind,
    tree::{Name, Quantity, Text},
    unit::{Unit, nearest_unit},
};
use smol_str::SmolStr;
use unicode_normalization::UnicodeNormalization;

/// A significant token.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Sig<'s> {
    pub(crate) kind: TokenKind,
    pub(crate) text: &'s str,
    /// Relative to the item.
    pub(crate) span: Span,
    /// A number that was written with a decimal comma, or a path of the other slips: its value.
    pub(crate) number: Option<f64>,
}

impl<'s> Sig<'s> {
    /// The text as a name (NFC).
    pub(crate) fn name(&self) -> Name {
        let text =
            if self.text.is_ascii() { SmolStr::new(self.text) } else { self.text.nfc().collect::<SmolStr>() };
        Name { text, span: self.span }
    }

    /// The text without quotes and escapes; of an open one to its end.
    pub(crate) fn unquoted(&self) -> Text {
        let inner = self.text.trim_start_matches(['"', '“', '”', '„', '‘', '’', '‚', '«', '»']);
        let inner = match self.kind {
            TokenKind::OpenText => inner,
            _ => inner.strip_suffix(['"', '“', '”', '‘', '’', '«', '»']).unwrap_or(inner),
        };
        let mut text = String::with_capacity(inner.len());
        let mut chars = inner.chars().peekable();
        while let Some(c) = chars.next() {
            match (c, chars.peek()) {
                ('\\', Some(&next @ ('"' | '\\'))) => {
                    text.push(next);
                    chars.next();
                }
                _ => text.push(c),
            }
        }
        Text { text, span: self.span }
    }

    /// Splits `12V` into the longest number in front and the rest.
    pub(crate) fn split_glued(&self) -> Option<(f64, &'s str)> {
        let bytes = self.text.as_bytes();
        let digits = |mut at: usize| {
            while bytes.get(at).is_some_and(u8::is_ascii_digit) {
                at += 1;
            }
            at
        };
        let mut end = digits(0);
        if bytes.get(end) == Some(&b'.') && bytes.get(end + 1).is_some_and(u8::is_ascii_digit) {
            end = digits(end + 1);
        }
        if matches!(bytes.get(end), Some(b'e' | b'E')) {
            let mantissa = end + 1 + usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
            if bytes.get(mantissa).is_some_and(u8::is_ascii_digit) {
                end = digits(mantissa);
            }
        }
        let (number, rest) = self.text.split_at_checked(end)?;
        Some((number.parse().ok()?, rest))
    }

    /// Its value, if it is a plain number.
    pub(crate) fn value(&self) -> Option<f64> {
        self.number.or_else(|| match self.kind {
            TokenKind::Int | TokenKind::Dec | TokenKind::Exp => self.text.parse().ok(),
            _ => None,
        })
    }
}

/// Whether it is a unit, rightly spelt or nearly.
pub(crate) fn is_unit(sig: &Sig<'_>) -> bool {
    match sig.kind {
        TokenKind::Percent => true,
        TokenKind::Word => Unit::from_spelling(sig.text).is_some(),
        _ => false,
    }
}

/// Whether it is nearly a unit.
pub(crate) fn is_nearly_unit(sig: &Sig<'_>) -> bool {
    sig.kind == TokenKind::Word && !CLAUSE_WORDS.contains(&sig.text) && nearest_unit(sig.text).is_some()
}

/// The number and unit of a quantity, given its tokens.
pub(crate) fn quantity(negative: Option<&Sig<'_>>, number: &Sig<'_>, unit: Option<&Sig<'_>>) -> Quantity {
    let (value, glued) = match number.value() {
        Some(value) => (value, None),
        None => number.split_glued().map_or((0.0, None), |(value, unit)| (value, Some(unit))),
    };
    let spelled = glued.or(unit.map(|u| u.text));
    let first = negative.map_or(number.span, |n| n.span);
    let span = unit.map_or(first.to(number.span), |u| first.to(u.span));
    let minus = negative.is_some_and(|n| n.kind == TokenKind::Minus);
    let sign = if minus { -1.0 } else { 1.0 };
    // `2k2`
    if let Some((letter, decimals)) =
        glued.filter(|g| letter_for_point(g)).and_then(|g| g.split_at_checked(1))
    {
        let value = format!("{value}.{decimals}").parse().unwrap_or(value);
        return Quantity { number: sign * value, unit: Unit::from_spelling(unit_of_letter(letter)), span };
    }
    Quantity { number: sign * value, unit: spelled.and_then(meant), span }
}

/// The unit, also of a wrong spelling that leaves no doubt (`m` and `M` are a billion apart).
fn meant(spelling: &str) -> Option<Unit> {
    Unit::from_spelling(spelling).or_else(|| {
        let near = nearest_unit(spelling)?;
        let doubt = spelling.starts_with(['m', 'M']) && near.chars().next() != spelling.chars().next();
        Unit::from_spelling(near).filter(|_| !doubt)
    })
}
