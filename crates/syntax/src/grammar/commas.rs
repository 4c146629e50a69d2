//! Lists of names without the commas between them: `uses A.1 A.2`, `pins 1 2 3`, `positions off on`.

use super::{atoms::CLAUSE_WORDS, sig::Sig, sources::ATTRIBUTES};
use crate::{Span, SyntaxError, layout::BodyKind, lexer::TokenKind as T, step::step};

/// Whether a list of names may stand behind this word.
pub(crate) fn begins_list(word: &str) -> bool {
    // Every word of every line comes here: most are told by their first letter.
    matches!(word.as_bytes().first(), Some(b'u' | b'b' | b'p'))
        && matches!(word, "uses" | "by" | "pins" | "positions" | "unused" | "probes")
}

/// Puts the missing commas into the lists of a statement that stands `within` such a body, and reports each list once. `text` is
/// the source and where its item begins, `first` the statement's first token.
pub(crate) fn mend<'s>(
    text: (&str, u32),
    within: BodyKind,
    first: usize,
    sigs: &mut Vec<Sig<'s>>,
    errors: &mut Vec<SyntaxError>,
) {
    let statement = sigs.split_off(first);
    let mut at = 0;
    while let Some(sig) = statement.get(at) {
        step();
        sigs.push(*sig);
        let list = list_at(&statement, within, at);
        at = if list { mend_list(text, &statement, at + 1, sigs, errors) } else { at + 1 };
    }
}

/// Whether the word here begins a list.
fn list_at(statement: &[Sig<'_>], within: BodyKind, at: usize) -> bool {
    let text = |at: usize| statement.get(at).filter(|s| s.kind == T::Word).map_or("", |s| s.text);
    // Anything may be called by any of these words.
    let named = || {
        let sign = |at: usize| statement.get(at).is_none_or(|s| matches!(s.kind, T::Arrow | T::Colon));
        at < 2 || sign(at - 1) || sign(at + 1)
    };
    match (within, text(at)) {
        (BodyKind::Device | BodyKind::Part, "pins" | "positions" | "unused") => at == 0,
        (BodyKind::File, "unused") | (BodyKind::Exercise, "probes") => at == 0,
        (BodyKind::File, "positions") => matches!(text(0), "switch" | "control") && !named(),
        (BodyKind::File, "uses") => text(0) == "module" && !named(),
        (BodyKind::File | BodyKind::Housing, "by") => at > 2 && text(at - 1) == "shared",
        _ => false,
    }
}

/// Reads the list that begins at `at` into `out`; gives where it ends.
fn mend_list<'s>(
    (source, base): (&str, u32),
    statement: &[Sig<'s>],
    mut at: usize,
    out: &mut Vec<Sig<'s>>,
    errors: &mut Vec<SyntaxError>,
) -> usize {
    let begin = at;
    let mut missing = false;
    let mut last: Option<Sig<'s>> = None;
    while let Some(&sig) = statement.get(at) {
        step();
        if sig.kind == T::Comma {
            out.push(sig);
            (last, at) = (None, at + 1);
            continue;
        }
        // `pins 1, 2 unused`: a word about the pin before it.
        let about = sig.text == "unused" && last.is_some();
        if !about && (!is_name(&sig) || (last.is_some() && ends(&sig)) || is_path(statement, at)) {
            break;
        }
        if let (Some(before), false) = (last, about) {
            let between = Span { start: before.span.end, end: sig.span.start }.moved(base);
            if source.get(between.range()).is_none_or(|blanks| blanks.contains(['\n', '\r'])) {
                break;
            }
            let here = Span { start: before.span.end, end: before.span.end };
            out.push(Sig { kind: T::Comma, text: ",", span: here, mended: false });
            missing = true;
        }
        out.push(sig);
        (last, at) = (Some(sig), at + 1);
    }
    if missing {
        errors.extend(report(statement.get(begin..at).unwrap_or_default()));
    }
    at
}

fn is_name(sig: &Sig<'_>) -> bool {
    matches!(sig.kind, T::Word | T::Path | T::Int | T::Glued | T::Exp)
}

/// Whether a word stands behind a list rather than in it.
fn ends(sig: &Sig<'_>) -> bool {
    sig.kind == T::Word && (CLAUSE_WORDS.contains(&sig.text) || ATTRIBUTES.contains(&sig.text))
}

/// Whether a path begins here: an arrow follows.
fn is_path(statement: &[Sig<'_>], at: usize) -> bool {
    statement.get(at + 1).is_some_and(|s| s.kind == T::Arrow)
}

/// A list of which some commas are missing: it is written anew.
fn report(list: &[Sig<'_>]) -> Option<SyntaxError> {
    let list = list.get(..list.iter().rposition(|s| s.kind != T::Comma)? + 1)?;
    let span = list.first()?.span.to(list.last()?.span);
    let mut text = String::new();
    for sig in list.iter().filter(|s| s.kind != T::Comma) {
        step();
        match sig.text {
            "unused" if !text.is_empty() => text.push(' '),
            _ if !text.is_empty() => text.push_str(", "),
            _ => {}
        }
        text.push_str(sig.text);
    }
    Some(SyntaxError {
        span,
        message: "missing here: a comma between the names of this list".into(),
        help: Some(format!("write `{}`", text.chars().take(60).collect::<String>())),
        fix: Some(("write the commas".into(), span, text)),
    })
}
