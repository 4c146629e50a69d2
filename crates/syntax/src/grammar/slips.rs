//! From the tokens of a statement to those that the grammar sees: blanks and comments go, slips of the keyboard and
//! of word processors are put right and reported.

use super::sig::{Sig, is_nearly_unit, is_unit};
use crate::{
    Span, SyntaxError,
    layout::BodyKind,
    lexer::{Token, TokenKind, stands_for},
    step::step,
    unit::{Unit, nearest_unit},
};

/// Adds the significant tokens of a statement to `out`. Places are relative to `base`, where the item begins. `within`: where
/// the statement stands, for what it may be.
pub(crate) fn significant<'s>(
    source: &'s str,
    tokens: &[Token],
    base: u32,
    within: BodyKind,
    out: &mut Vec<Sig<'s>>,
    errors: &mut Vec<SyntaxError>,
) {
    let first = out.len();
    let mut commas = false;
    let mut odd = false;
    let mut lists = false;
    // Where a comma ends that stands right behind a number.
    let mut behind_comma = u32::MAX;
    for token in tokens {
        step();
        if matches!(token.kind, TokenKind::Blank | TokenKind::Newline | TokenKind::Comment | TokenKind::Doc) {
            continue;
        }
        let text = token.text(source);
        let span =
            Span { start: token.span.start.saturating_sub(base), end: token.span.end.saturating_sub(base) };
        let mut sig = Sig { kind: token.kind, text, span, mended: false };
        match token.kind {
            TokenKind::Comma => {
                let number = out.last().is_some_and(|s| s.kind == TokenKind::Int && s.span.end == span.start);
                behind_comma = if number { span.end } else { u32::MAX };
            }
            TokenKind::Int | TokenKind::Glued => commas |= span.start == behind_comma,
            TokenKind::Other => odd = true,
            TokenKind::Word => {
                odd |= !text.is_ascii() || text == "energized";
                lists |= super::commas::begins_list(text);
            }
            TokenKind::Invisible => {
                errors.push(of_token(token.kind, text, span, false));
                continue;
            }
            TokenKind::OpenText => errors.push(of_token(token.kind, text, span, false)),
            TokenKind::BadNumber => {
                errors.push(of_token(token.kind, text, span, false));
                sig.mended = true;
                sig.kind = TokenKind::Dec;
            }
            TokenKind::Lookalike => {
                errors.push(of_token(token.kind, text, span, false));
                sig.kind = stands_for(text);
                if sig.kind == TokenKind::Newline {
                    continue;
                }
            }
            _ => {}
        }
        out.push(sig);
    }
    if commas {
        decimal_commas(source, base, first, out, errors);
    }
    let paths = matches!(within, BodyKind::File | BodyKind::Device | BodyKind::Part);
    if paths && out.get(first).is_some_and(|head| super::arrows::has_path(head.text)) {
        super::arrows::mend(source, base, first, within == BodyKind::File, out, errors);
    }
    if lists {
        super::commas::mend((source, base), within, first, out, errors);
    }
    if odd {
        odd_words(source, base, first, out, errors);
    }
}

/// The error that a token is by itself. `ends` says that nothing follows it on its line.
pub(crate) fn of_token(kind: TokenKind, text: &str, span: Span, ends: bool) -> SyntaxError {
    let error = |message: String, help: &str, fix: Option<(String, Span, String)>| SyntaxError {
        span,
        message,
        help: Some(help.to_owned()),
        fix,
    };
    match kind {
        TokenKind::Invisible => error(
            "an invisible character stands here".into(),
            "take it out; it comes from pasted text",
            Some(("take it out".into(), span, String::new())),
        ),
        TokenKind::OpenText => error(
            "this text has no closing quote".into(),
            "close it with `\"` on the same line",
            Some(("close the text".into(), Span { start: span.end, end: span.end }, "\"".into())),
        ),
        TokenKind::BadNumber => match mend_number(text).1 {
            Some(mended) => error(
                format!("`{text}` is no number"),
                &format!("write `{mended}`"),
                Some((format!("write `{mended}`"), span, mended)),
            ),
            None => error(format!("`{text}` is no number"), "a number has one decimal point", None),
        },
        _ => {
            let (message, mended) = match stands_for(text) {
                TokenKind::Arrow => (format!("`{text}` should be `->`"), "->".to_owned()),
                TokenKind::Dots => (format!("`{text}` should be `..`"), "..".to_owned()),
                TokenKind::Minus => (format!("`{text}` should be `-`"), "-".to_owned()),
                TokenKind::Newline => {
                    let new = if ends { "" } else { "\n" };
                    let what = if ends { "take it out" } else { "begin a new line" };
                    return error(
                        "`;` ends nothing here: the end of the line does".into(),
                        what,
                        Some((what.into(), span, new.into())),
                    );
                }
                TokenKind::Text => {
                    let inner: String = text.chars().skip(1).collect();
                    let inner = inner.trim_end_matches(['“', '”', '„', '«', '»', '‘', '’']);
                    (
                        "text stands between plain quotes, `\"`".to_owned(),
                        format!("\"{}\"", inner.replace('"', "\\\"")),
                    )
                }
                _ => {
                    return error(
                        format!("`{text}` stands alone here"),
                        "text stands between two plain quotes, `\"`",
                        None,
                    );
                }
            };
            let what = format!("write `{mended}`");
            error(message, "word processors change signs like this one", Some((what, span, mended)))
        }
    }
}

/// The value of a number with a slip in it.
pub(crate) fn mended(text: &str) -> f64 {
    if text.contains(',') { text.replace(',', ".").parse().unwrap_or(0.0) } else { mend_number(text).0 }
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
fn decimal_commas<'s>(
    source: &'s str,
    base: u32,
    first: usize,
    sigs: &mut Vec<Sig<'s>>,
    errors: &mut Vec<SyntaxError>,
) {
    let lists = ["pins", "positions", "unused", "probes"];
    if sigs.get(first).is_some_and(|s| lists.contains(&s.text)) {
        return;
    }
    let mut kept: Vec<Sig<'s>> = Vec::with_capacity(sigs.len() - first);
    let mut rest = sigs.get(first..).unwrap_or_default();
    while let [sig, tail @ ..] = rest {
        step();
        rest = tail;
        let [comma, part, after @ ..] = tail else {
            kept.push(*sig);
            continue;
        };
        let close = sig.kind == TokenKind::Int
            && comma.kind == TokenKind::Comma
            && matches!(part.kind, TokenKind::Int | TokenKind::Glued)
            && sig.span.end == comma.span.start
            && comma.span.end == part.span.start;
        let unit = match part.kind {
            TokenKind::Glued => part
                .split_glued()
                .map(|(_, unit)| unit)
                .filter(|u| Unit::from_spelling(u).is_some() || nearest_unit(u).is_some()),
            _ => after.first().filter(|s| is_unit(s) || is_nearly_unit(s)).map(|_| ""),
        };
        let (true, Some(unit)) = (close, unit) else {
            kept.push(*sig);
            continue;
        };
        let span = Span { start: sig.span.start, end: part.span.end - unit.len() as u32 };
        let text = source.get(span.moved(base).range()).unwrap_or(sig.text);
        let mended = text.replace(',', ".");
        kept.push(Sig { kind: TokenKind::Dec, text, span, mended: true });
        if !unit.is_empty() {
            let span = Span { start: span.end, end: part.span.end };
            kept.push(Sig { kind: TokenKind::Word, text: unit, span, mended: false });
        }
        errors.push(SyntaxError {
            span,
            message: format!("`{text}` has a decimal comma"),
            help: Some("numbers take a decimal point".into()),
            fix: Some((format!("write `{mended}`"), span, mended)),
        });
        rest = after;
    }
    sigs.truncate(first);
    sigs.append(&mut kept);
}

/// `mm^2`, `energized`, and signs that no name may have.
fn odd_words<'s>(
    source: &'s str,
    base: u32,
    first: usize,
    sigs: &mut Vec<Sig<'s>>,
    errors: &mut Vec<SyntaxError>,
) {
    let old = sigs.split_off(first);
    let mut rest = old.as_slice();
    let mut behind_when = false;
    while let [sig, tail @ ..] = rest {
        step();
        rest = tail;
        let mut sig = *sig;
        if let ("mm", [hat, two, after @ ..]) = (sig.text, tail)
            && (hat.text, two.text) == ("^", "2")
        {
            let span = sig.span.to(two.span);
            let text = source.get(span.moved(base).range()).unwrap_or_default();
            errors.push(SyntaxError {
                span,
                message: format!("`{text}` should be `mm2`"),
                help: Some("square millimetres are spelt `mm2` or `mm²`".into()),
                fix: Some(("write `mm2`".into(), span, "mm2".into())),
            });
            sigs.push(Sig { text: "mm2", span, ..sig });
            rest = after;
            continue;
        }
        if sig.text == "energized" && behind_when {
            errors.push(SyntaxError {
                span: sig.span,
                message: "`energized` is spelt `energised` here".into(),
                help: Some("write `energised`".into()),
                fix: Some(("write `energised`".into(), sig.span, "energised".into())),
            });
            sig.text = "energised";
        }
        let sign = sig.text.chars().find(|c| matches!(c, '°' | '℃' | '℉' | '²' | '³'));
        if let (TokenKind::Word, Some(sign), false) = (sig.kind, sign, is_unit(&sig) || is_nearly_unit(&sig))
        {
            errors.push(SyntaxError {
                span: sig.span,
                message: format!("`{sign}` can stand in a unit, not in the name `{}`", sig.text),
                help: Some("a name has letters, digits and `_`".into()),
                fix: None,
            });
        }
        behind_when = sigs.len() > first && sigs.last().is_some_and(|s| s.text == "when");
        sigs.push(sig);
    }
}
