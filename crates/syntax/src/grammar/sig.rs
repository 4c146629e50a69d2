//! The tokens that the grammar sees: blanks and comments gone, slips of the keyboard put right (and reported).

use crate::{
    Span, SyntaxError,
    lexer::{Token, TokenKind, stands_for},
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

/// Takes what is significant out of `tokens` and puts slips right: arrows, quotes and dashes of word processors, decimal commas,
/// numbers such as `.5`. Errors are relative to the item, like the spans.
pub(crate) fn significant<'s>(
    source: &'s str,
    tokens: &[Token],
    base: u32,
    errors: &mut Vec<SyntaxError>,
) -> Vec<Sig<'s>> {
    let mut out: Vec<Sig<'s>> = Vec::with_capacity(tokens.len() / 2 + 1);
    for token in tokens {
        let text = token.text(source);
        let span =
            Span { start: token.span.start.saturating_sub(base), end: token.span.end.saturating_sub(base) };
        let mut sig = Sig { kind: token.kind, text, span, number: None };
        match token.kind {
            TokenKind::Invisible => errors.push(slip(
                span,
                "an invisible character stands here".into(),
                "take it out",
                Some(("remove it".into(), span, String::new())),
            )),
            kind if !kind.is_significant() => continue,
            TokenKind::OpenText => errors.push(slip(
                span,
                "this text has no closing quote".into(),
                "close it with `\"` on the same line",
                Some(("close the text".into(), Span { start: span.end, end: span.end }, "\"".into())),
            )),
            TokenKind::BadNumber => {
                let (number, mended) = mend_number(text);
                sig.number = Some(number);
                sig.kind = TokenKind::Dec;
                let help = mended
                    .as_ref()
                    .map_or_else(|| "write one decimal point".to_owned(), |m| format!("write `{m}`"));
                errors.push(SyntaxError {
                    span,
                    message: format!("`{text}` is no number"),
                    help: Some(help),
                    fix: mended.map(|m| (format!("write `{m}`"), span, m)),
                });
            }
            TokenKind::Lookalike => {
                let (kind, mended) = match stands_for(text) {
                    TokenKind::Arrow => (TokenKind::Arrow, "->".to_owned()),
                    TokenKind::Dots => (TokenKind::Dots, "..".to_owned()),
                    TokenKind::Minus => (TokenKind::Minus, "-".to_owned()),
                    TokenKind::Newline => (TokenKind::Comma, "\n".to_owned()),
                    _ => (TokenKind::Text, format!("\"{}\"", sig.unquoted().text.replace('"', "\\\""))),
                };
                sig.kind = kind;
                let shown = if mended == "\n" { "a new line".to_owned() } else { format!("`{mended}`") };
                errors.push(slip(
                    span,
                    format!("`{text}` stands for {shown} here"),
                    "a word processor may have changed it",
                    Some((format!("write {shown}"), span, mended)),
                ));
            }
            _ => {}
        }
        if sig.kind != TokenKind::Invisible {
            out.push(sig);
        }
    }
    decimal_commas(&mut out, errors);
    out
}

fn slip(span: Span, message: String, help: &str, fix: Option<(String, Span, String)>) -> SyntaxError {
    SyntaxError { span, message, help: Some(help.to_owned()), fix }
}

fn mend_number(text: &str) -> (f64, Option<String>) {
    if text.matches('.').count() > 1 {
        let end = text.match_indices('.').nth(1).map_or(text.len(), |(at, _)| at);
        return (text.get(..end).and_then(|t| t.parse().ok()).unwrap_or(0.0), None);
    }
    let mended =
        if text.starts_with('.') { format!("0{text}") } else { text.trim_end_matches('.').to_owned() };
    (mended.parse().unwrap_or(0.0), Some(mended))
}

/// `0,75 mm2`: digits, comma, digits without blanks, then a unit. In lists of pins and positions it is a list.
fn decimal_commas(sigs: &mut Vec<Sig<'_>>, errors: &mut Vec<SyntaxError>) {
    if matches!(sigs.first().map(|s| s.text), Some("pins" | "positions" | "unused" | "probes")) {
        return;
    }
    let mut at = 0;
    while at + 2 < sigs.len() {
        let (whole, comma, part) = (sigs[at], sigs[at + 1], sigs[at + 2]);
        let close = whole.kind == TokenKind::Int
            && comma.kind == TokenKind::Comma
            && matches!(part.kind, TokenKind::Int | TokenKind::Glued)
            && whole.span.end == comma.span.start
            && comma.span.end == part.span.start;
        let unit = match part.kind {
            TokenKind::Glued => {
                part.split_glued().map(|(_, unit)| unit).filter(|u| Unit::from_spelling(u).is_some())
            }
            _ => sigs.get(at + 3).filter(|s| is_unit(s)).map(|_| ""),
        };
        if let (true, Some(unit)) = (close, unit) {
            let digits = part.text.strip_suffix(unit).unwrap_or(part.text);
            let mended = format!("{}.{digits}", whole.text);
            let span = Span { start: whole.span.start, end: part.span.end - unit.len() as u32 };
            errors.push(slip(
                span,
                format!("`{},{digits}` has a decimal comma", whole.text),
                "numbers take a decimal point",
                Some((format!("write `{mended}`"), span, mended.clone())),
            ));
            let number = mended.parse().ok();
            sigs[at] = Sig { kind: TokenKind::Dec, text: whole.text, span, number };
            if unit.is_empty() {
                sigs.drain(at + 1..at + 3);
            } else {
                let span = Span { start: part.span.end - unit.len() as u32, end: part.span.end };
                sigs[at + 1] = Sig { kind: TokenKind::Word, text: unit, span, number: None };
                sigs.remove(at + 2);
            }
        }
        at += 1;
    }
}

/// Whether it is a unit, rightly spelt or nearly.
pub(crate) fn is_unit(sig: &Sig<'_>) -> bool {
    match sig.kind {
        TokenKind::Percent => true,
        TokenKind::Word => Unit::from_spelling(sig.text).is_some() || nearest_unit(sig.text).is_some(),
        _ => false,
    }
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
    Quantity { number: if minus { -value } else { value }, unit: spelled.and_then(Unit::from_spelling), span }
}
