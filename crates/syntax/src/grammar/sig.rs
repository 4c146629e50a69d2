//! The tokens that the grammar sees.

use super::{
    atoms::{CLAUSE_WORDS, letter_for_point},
    quantities::unit_of_letter,
    slips::mended,
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
    /// A number with a slip in it, such as a decimal comma.
    pub(crate) mended: bool,
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
        if let Some(plain) = self.plain_text() {
            return Text { text: plain.to_owned(), span: self.span };
        }
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

    /// What stands between the quotes, where nothing in it needs a second look.
    fn plain_text(&self) -> Option<&'s str> {
        let inner =
            self.text.strip_prefix('"')?.strip_suffix('"').filter(|_| self.kind == TokenKind::Text)?;
        let odd = |byte: &u8| !byte.is_ascii() || matches!(byte, b'"' | b'\\');
        (!inner.as_bytes().iter().any(odd)).then_some(inner)
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
        match self.kind {
            _ if self.mended => Some(mended(self.text)),
            TokenKind::Int | TokenKind::Dec => decimal(self.text).or_else(|| self.text.parse().ok()),
            TokenKind::Exp => self.text.parse().ok(),
            _ => None,
        }
    }
}

/// The value of a short number without exponent. Both the digits and the power of ten are exact as binary floating-point
/// numbers then, so that their quotient is the nearest one to the number, as that of `str::parse`.
fn decimal(text: &str) -> Option<f64> {
    const POWERS: [f64; 16] =
        [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15];
    if text.len() > POWERS.len() {
        return None;
    }
    let mut digits = 0u64;
    let mut decimals = None;
    for byte in text.bytes() {
        match (byte, &mut decimals) {
            (b'.', None) => decimals = Some(0),
            (b'0'..=b'9', decimals) => {
                digits = digits * 10 + u64::from(byte - b'0');
                if let Some(count) = decimals {
                    *count += 1;
                }
            }
            _ => return None,
        }
    }
    Some(digits as f64 / POWERS.get(decimals.unwrap_or(0))?)
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

#[cfg(test)]
mod tests {
    use super::decimal;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn short_numbers_are_read_like_any(text in "[0-9]{1,9}(\\.[0-9]{1,9})?") {
            if let Some(value) = decimal(&text) {
                prop_assert_eq!(value.to_bits(), text.parse::<f64>().unwrap().to_bits());
            }
            prop_assert_eq!(decimal(&text).is_some(), text.len() <= 16);
        }
    }
}
