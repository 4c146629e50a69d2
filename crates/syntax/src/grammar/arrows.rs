//! `->` written in other ways, in the statements that have a path: `<-`, `>`, `-`, `=`, `to`, a comma.

use super::{
    atoms::CLAUSE_WORDS,
    sig::{Sig, is_unit},
    sources::ATTRIBUTES,
};
use crate::{
    SyntaxError,
    layout::{COLOUR_LETTERS, ELEMENT_WORDS},
    lexer::TokenKind as T,
    step::step,
    unit::Unit,
};

/// Whether a statement with this first word has a path.
pub(crate) fn has_path(head: &str) -> bool {
    matches!(head, "wire" | "fuse" | "breaker" | "link") || ELEMENT_WORDS.contains(&head)
}

/// Puts an arrow in the place of what was meant as one, and reports it. `first` is the statement's keyword.
pub(crate) fn mend<'s>(
    source: &'s str,
    base: u32,
    first: usize,
    file: bool,
    sigs: &mut Vec<Sig<'s>>,
    errors: &mut Vec<SyntaxError>,
) {
    let statement = sigs.get(first..).unwrap_or_default();
    let sound = statement.iter().any(|s| {
        step();
        s.kind == T::Arrow
    });
    let odd = statement.iter().any(is_pointed);
    if sound && !odd {
        return;
    }
    let mut out: Vec<Sig<'s>> = Vec::with_capacity(statement.len());
    let mut at = 0;
    let mut mended = sound || odd;
    // Where the arrow is missing between two points; looked for once.
    let mut apart = None;
    while let Some(sig) = statement.get(at) {
        step();
        let strokes = statement.iter().skip(at).take_while(|s| {
            step();
            is_stroke(s)
        });
        let run = strokes.count();
        let pointed = |s: &Sig<'_>| s.kind == T::Arrow || is_pointed(s);
        let length = match statement.get(at..at + run) {
            Some([one]) if one.kind == T::Arrow => 0,
            Some(signs) if signs.iter().any(pointed) => run,
            _ if mended => 0,
            Some([_, ..]) if between_points(statement, at, at + run) => run,
            _ if at < 5 && stands_for_arrow(sig) && before_clauses(statement, at) => {
                usize::from(between_points(statement, at, at + 1))
            }
            _ => 0,
        };
        let lost = !mended && length == 0;
        let points = lost && Some(at) == *apart.get_or_insert_with(|| points_apart(statement, file));
        if points || (lost && is_lost(statement, at)) {
            let here = crate::Span { start: sig.span.end, end: sig.span.end };
            let (what, example) = if points { ("points", "A -> B") } else { ("pins", "1 -> 2") };
            errors.push(SyntaxError {
                span: sig.span,
                message: format!("missing here: `->` between the two {what}"),
                help: Some(format!("a path goes from one point to the other: `{example}`")),
                fix: Some(("write `->`".into(), here, " ->".into())),
            });
            out.push(*sig);
            out.push(Sig { kind: T::Arrow, text: "->", span: here, mended: false });
            (mended, at) = (true, at + 1);
            continue;
        }
        let Some(last) = statement.get(at + length.max(1) - 1) else { break };
        if length == 0 {
            out.push(*sig);
            // A run of strokes is looked through once.
            let rest = statement.get(at + 1..at + run.max(1)).unwrap_or_default();
            out.extend_from_slice(rest);
            at += run.max(1);
            continue;
        }
        let span = sig.span.to(last.span);
        let text = source.get(span.moved(base).range()).unwrap_or(sig.text);
        errors.push(SyntaxError {
            span,
            message: format!("`{text}` should be `->`"),
            help: Some("a path goes from one point to the other: `A -> B`".into()),
            fix: Some(("write `->`".into(), span, "->".into())),
        });
        out.push(Sig { kind: T::Arrow, text: "->", span, mended: false });
        mended = true;
        at += length;
    }
    sigs.truncate(first);
    sigs.append(&mut out);
}

/// `>`, `<`, `>>`.
fn is_pointed(s: &Sig<'_>) -> bool {
    s.kind == T::Other && s.text.bytes().all(|b| matches!(b, b'<' | b'>' | b'~'))
}

fn is_stroke(s: &Sig<'_>) -> bool {
    matches!(s.kind, T::Arrow | T::Minus | T::Equals) || is_pointed(s)
}

fn stands_for_arrow(s: &Sig<'_>) -> bool {
    s.kind == T::Comma || (s.kind == T::Word && s.text == "to")
}

/// Whether a point or a pin stands on either side of `start..end`, and not the end of a clause and its number.
fn between_points(statement: &[Sig<'_>], start: usize, end: usize) -> bool {
    let Some(before) = start.checked_sub(1).filter(|at| *at > 0).and_then(|at| statement.get(at)) else {
        return false;
    };
    let Some(after) = statement.get(end) else { return false };
    let wire = statement.first().is_some_and(|s| s.text == "wire");
    let named = |s: &Sig<'_>| matches!(s.kind, T::Word | T::Path);
    let numbered = |s: &Sig<'_>| !wire && matches!(s.kind, T::Int | T::Glued);
    // `-5 ohm` is a value, whatever its sign.
    let unit = statement.get(end + 1).is_some_and(is_unit);
    if numbered(after) && (unit || glued_unit(after)) {
        return false;
    }
    let clause = CLAUSE_WORDS.contains(&before.text) || (is_unit(before) && !named(after));
    (named(before) || numbered(before)) && (named(after) || numbered(after)) && !clause
}

/// `coil 85 86 90 ohm`: two pins with nothing between.
fn is_lost(statement: &[Sig<'_>], at: usize) -> bool {
    let pin =
        |at: usize| statement.get(at).is_some_and(|s| matches!(s.kind, T::Int | T::Glued) && !glued_unit(s));
    let unit = statement.get(at + 2).is_some_and(is_unit);
    let before = statement.get(at.saturating_sub(1));
    (1..3).contains(&at)
        && pin(at)
        && pin(at + 1)
        && !unit
        && before.is_some_and(|s| s.kind == T::Word && !CLAUSE_WORDS.contains(&s.text))
}

/// `wire 15 key.15 S12 1 mm2`, `fuse F1 battery S1 10 A`: the first of two points with nothing between, at the top level of a file.
/// In a body the words behind a name may be parameters.
fn points_apart(statement: &[Sig<'_>], file: bool) -> Option<usize> {
    let head = statement.first()?.text;
    let contact = head == "contact";
    let name = |s: &Sig<'_>| {
        let word = s.kind == T::Word && !CLAUSE_WORDS.contains(&s.text) && !ATTRIBUTES.contains(&s.text);
        (word && !COLOUR_LETTERS.contains(&s.text)) || s.kind == T::Path
    };
    // A text without its opening quote is words.
    let open = statement.iter().any(|s| {
        step();
        s.kind == T::OpenText
    });
    if (!file && !contact) || open {
        return None;
    }
    // The first run of names that is longer than one.
    let mut begin = 1;
    while begin < statement.len().min(5) {
        let run = statement.iter().skip(begin).take_while(|s| {
            step();
            name(s)
        });
        let run = run.count();
        let own_name = begin == 1 && head != "wire" && !contact;
        let after_number =
            statement.get(begin - 1).is_some_and(|s| matches!(s.kind, T::Int | T::Dec | T::Exp));
        let unit = begin > 2 && after_number && statement.get(begin).is_some_and(is_unit);
        if run >= 2 && !unit {
            let most = if head == "wire" && begin == 1 || own_name { 3 } else { 2 };
            let least = if own_name { 3 } else { 2 };
            return (least..=most).contains(&run).then_some(begin + run - 2);
        }
        begin += run.max(1);
    }
    None
}

fn glued_unit(s: &Sig<'_>) -> bool {
    s.split_glued().is_some_and(|(_, unit)| Unit::from_spelling(unit).is_some())
}

/// Whether no clause has begun before `at`: `contact in run, start` has no path.
fn before_clauses(statement: &[Sig<'_>], at: usize) -> bool {
    let before = statement.get(1..at).unwrap_or_default();
    before.iter().all(|s| !CLAUSE_WORDS.contains(&s.text))
}
