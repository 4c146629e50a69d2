//! Hover on a quantity: the value in full, so that mohm is not taken for Mohm.

use super::Hover;
use crate::{View, display::trimmed};
use keyon_syntax::{
    Span,
    lexer::{Token, TokenKind, tokens},
    unit::{Dimension, Unit},
};

/// The quantity at an offset.
pub(super) fn at(view: &View<'_>, offset: u32) -> Option<Hover> {
    let (span, number, unit) = find(view.text(), offset)?;
    let unit = Unit::from_spelling(unit)?;
    let written = view.text().get(span.range())?;
    let dimension = unit.dimension();
    let value = number * unit.factor() + unit.offset();
    let full = in_full(value, dimension);
    let mut markdown = format!("**{written}** \u{b7} {full}");
    let also = in_words(value, dimension);
    let same = |a: &str, b: &str| a.split_whitespace().eq(b.split_whitespace());
    if also != full && !same(&also, written) {
        markdown.push_str(&format!(" ({also})"));
    }
    if unit == Unit::Kelvin {
        markdown.push_str(&format!("\n\nAs a difference or a beta value: {} K", trimmed(number, 6)));
    }
    Some(Hover { span, markdown })
}

/// A number with its unit that the offset touches, within its line.
fn find(text: &str, offset: u32) -> Option<(Span, f64, &str)> {
    let at = offset as usize;
    let start = text.get(..at)?.rfind(['\n', '\r']).map_or(0, |end| end + 1);
    let line = text.get(start..)?;
    let line = line.get(..line.find(['\n', '\r']).unwrap_or(line.len()))?;
    let all: Vec<Token> = tokens(line).into_iter().filter(|token| token.kind != TokenKind::Blank).collect();
    for (n, token) in all.iter().enumerate() {
        let word = token.text(line);
        let (number, unit, end) = match token.kind {
            TokenKind::Int | TokenKind::Dec | TokenKind::Exp => {
                let next = all
                    .get(n + 1)
                    .filter(|next| matches!(next.kind, TokenKind::Word | TokenKind::Percent))?;
                (word, next.text(line), next.span.end)
            }
            TokenKind::Glued => {
                // The longest number in front; the rest is the unit.
                let cut = (1..word.len()).rev().find(|&cut| {
                    word.get(..cut).is_some_and(|number| {
                        number.parse::<f64>().is_ok() && number.ends_with(|c: char| c.is_ascii_digit())
                    })
                })?;
                (word.get(..cut)?, word.get(cut..)?, token.span.end)
            }
            _ => continue,
        };
        let minus = n
            .checked_sub(1)
            .and_then(|n| all.get(n))
            .filter(|sign| sign.kind == TokenKind::Minus && sign.span.end == token.span.start);
        let from = minus.map_or(token.span.start, |sign| sign.span.start);
        let span = Span { start: from, end }.moved(start as u32);
        if span.touches(offset) && Unit::from_spelling(unit).is_some() {
            let number: f64 = number.parse().ok()?;
            return Some((span, if minus.is_some() { -number } else { number }, unit));
        }
    }
    None
}

/// A value in its plain unit, all digits written out.
fn in_full(value: f64, dimension: Dimension) -> String {
    let unit = match dimension {
        Dimension::Resistance => "ohm",
        Dimension::Current => "A",
        Dimension::Voltage => "V",
        Dimension::Power => "W",
        Dimension::Length => "m",
        Dimension::Temperature => "degC",
        Dimension::Ratio => return format!("{} (a share of one)", number(value)),
        Dimension::Frequency => "Hz",
        Dimension::Pressure => "Pa",
        Dimension::Area => "mm2",
    };
    format!("{} {unit}", number(value))
}

/// A number with as many digits as it has, up to nine that count.
fn number(value: f64) -> String {
    let size = value.abs();
    if size == 0.0 {
        return "0".into();
    }
    if !(1e-9..1e12).contains(&size) {
        return format!("{value:e}");
    }
    let before = size.log10().floor() as i32 + 1;
    trimmed(value, (9 - before).clamp(0, 17) as usize)
}

/// A value in a handy unit of its dimension.
pub(super) fn in_words(value: f64, dimension: Dimension) -> String {
    let scaled = |units: &[(f64, &str)]| {
        let size = value.abs();
        let fits = units.iter().rev().find(|(factor, _)| size >= *factor * 0.9995);
        let (factor, unit) = fits.or(units.first()).copied().unwrap_or((1.0, ""));
        format!("{} {unit}", trimmed(value / factor, 4))
    };
    match dimension {
        Dimension::Resistance => keyon_present::figure::ohms(value),
        Dimension::Current => crate::display::amps(value),
        Dimension::Voltage => scaled(&[(1e-6, "\u{b5}V"), (1e-3, "mV"), (1.0, "V"), (1e3, "kV")]),
        Dimension::Power => scaled(&[(1e-3, "mW"), (1.0, "W"), (1e3, "kW")]),
        Dimension::Length => scaled(&[(1e-3, "mm"), (1.0, "m"), (1e3, "km")]),
        Dimension::Temperature => {
            format!("{} degC, {} degF", trimmed(value, 2), trimmed(value * 1.8 + 32.0, 2))
        }
        Dimension::Ratio => format!("{} %", trimmed(value * 100.0, 4)),
        Dimension::Frequency => scaled(&[(1.0, "Hz"), (1e3, "kHz")]),
        Dimension::Pressure => scaled(&[(1.0, "Pa"), (1e3, "kPa"), (1e6, "MPa")]),
        Dimension::Area => format!("{} mm2", trimmed(value, 4)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(marked: &str) -> Option<String> {
        let offset = marked.find('|')?;
        let text = marked.replacen('|', "", 1);
        let (span, number, unit) = find(&text, offset as u32)?;
        Some(format!("{} = {number} {unit}", text.get(span.range())?))
    }

    #[test]
    fn finds_quantities() {
        assert_eq!(found("a\nsupply b 12|.6 V").as_deref(), Some("12.6 V = 12.6 V"));
        assert_eq!(found("x -40 deg|C .. 5 degC").as_deref(), Some("-40 degC = -40 degC"));
        assert_eq!(found("wire 1 a -> b |0.75mm2 # 3 V").as_deref(), Some("0.75mm2 = 0.75 mm2"));
        assert_eq!(found("wire 1 a -> b 0.75mm2 # 3| V"), None);
        assert_eq!(found("wire 43|1 a -> b"), None);
        assert_eq!(found("k 35| %").as_deref(), Some("35 % = 35 %"));
    }

    #[test]
    fn says_values_in_full() {
        assert_eq!(in_full(0.12, Dimension::Resistance), "0.12 ohm");
        assert_eq!(in_full(2.2e6, Dimension::Resistance), "2200000 ohm");
        assert_eq!(in_full(0.1 + 0.2, Dimension::Voltage), "0.3 V");
        assert_eq!(in_full(6894.757293168361, Dimension::Pressure), "6894.75729 Pa");
        assert_eq!(in_words(400_000.0, Dimension::Pressure), "400 kPa");
    }
}
