//! Edits as rules write them: where a new line goes, what a removed statement takes with it, how lines end.

use keyon_circuit::{
    Elaboration, Fix,
    ids::FileId,
    model::{Loc, Module},
};
use keyon_syntax::{
    Span,
    tree::{Item, PlacedItem},
};

/// A place or a text to put there.
pub(crate) type Edit = (Loc, String);

/// A fix that changes nothing but what nobody can have meant.
pub(crate) fn safe(title: impl Into<String>, edits: Vec<Edit>) -> Fix {
    Fix { title: title.into(), edits, safe: true }
}

/// A fix that changes what the circuit says: somebody has to agree.
pub(crate) fn review(title: impl Into<String>, edits: Vec<Edit>) -> Fix {
    Fix { title: title.into(), edits, safe: false }
}

/// The item that a place is in.
pub(crate) fn item(elaboration: &Elaboration, loc: Loc) -> Option<&Item> {
    placed(elaboration, loc).map(|placed| &*placed.item)
}

/// Whether something of a module, or of the part that it is one of, could not be read.
pub(crate) fn is_damaged(elaboration: &Elaboration, module: &Module) -> bool {
    let part = module.part.as_ref().and_then(|part| part.loc);
    let mut items = [Some(module.loc), part].into_iter().flatten();
    items.any(|loc| item(elaboration, loc).is_some_and(|item| item.damaged))
}

fn placed(elaboration: &Elaboration, loc: Loc) -> Option<&PlacedItem> {
    elaboration.files.get(loc.file.index())?.parse.file.items.get(loc.item as usize)
}

/// The place of the whole item that a place is in.
pub(crate) fn whole(elaboration: &Elaboration, loc: Loc) -> Option<Loc> {
    Some(Loc { span: item(elaboration, loc)?.span, ..loc })
}

/// How lines end in a file.
pub(crate) fn newline(elaboration: &Elaboration, file: FileId) -> &'static str {
    let text = elaboration.files.get(file.index()).map_or("", |file| &file.text);
    if text.contains("\r\n") { "\r\n" } else { "\n" }
}

/// A line of its own below the statement at a place, indented like it. A comment behind the statement stays with it.
pub(crate) fn line_below(elaboration: &Elaboration, loc: Loc, line: &str) -> Option<Edit> {
    let text = text(elaboration, loc)?;
    let span = elaboration.span(loc);
    let end = line_end(text, span.end as usize);
    let edit = format!("{}{}{line}", newline(elaboration, loc.file), indent(text, span.start as usize));
    Some((at(elaboration, loc, end, end), edit))
}

/// A line of its own above the statement at a place, indented like it.
pub(crate) fn line_above(elaboration: &Elaboration, loc: Loc, line: &str) -> Option<Edit> {
    let text = text(elaboration, loc)?;
    let start = elaboration.span(loc).start as usize;
    let edit = format!("{line}{}{}", newline(elaboration, loc.file), indent(text, start));
    Some((at(elaboration, loc, start, start), edit))
}

/// Text put right behind a place.
pub(crate) fn behind(loc: Loc, text: impl Into<String>) -> Edit {
    let span = Span { start: loc.span.end, end: loc.span.end };
    (Loc { span, ..loc }, text.into())
}

/// Takes the statement at a place out: its whole line, if nothing else stands there; a comment behind it stays.
pub(crate) fn remove(elaboration: &Elaboration, loc: Loc) -> Option<Edit> {
    let text = text(elaboration, loc)?;
    let span = elaboration.span(loc);
    let (mut start, mut end) = (span.start as usize, span.end as usize);
    let (first, last) = (line_start(text, start), line_end(text, end));
    let behind = text.get(end..last)?;
    if text.get(first..start)?.trim().is_empty() && behind.trim().is_empty() {
        start = first;
        end = last;
        let rest = text.get(end..)?;
        end += if rest.starts_with("\r\n") { 2 } else { rest.chars().next().map_or(0, char::len_utf8) };
    } else {
        end += behind.len() - behind.trim_start().len();
    }
    Some((at(elaboration, loc, start, end), String::new()))
}

/// Takes a line out that says, word for word, what the line of an earlier place says: it was pasted twice.
pub(crate) fn without_repeat(elaboration: &Elaboration, loc: Loc, first: Loc) -> Option<Fix> {
    let (text, span) = (text(elaboration, loc)?, elaboration.span(loc));
    let before = elaboration.span(first);
    let line = |at: u32| text.get(line_start(text, at as usize)..line_end(text, at as usize));
    let words = |at: u32| Some(line(at)?.split('#').next()?.split_whitespace().collect::<Vec<_>>());
    let (said, again) = (words(before.start)?, words(span.start)?);
    // A block has more lines than its first.
    let braces = |brace: &str| said.iter().filter(|word| **word == brace).count();
    let whole = said == again && braces("{") == braces("}");
    if loc.file != first.file || before.start >= span.start || !whole {
        return None;
    }
    let (start, end) = (line_start(text, span.start as usize), line_end(text, span.start as usize));
    let rest = text.get(end..)?;
    let end = end + if rest.starts_with("\r\n") { 2 } else { rest.chars().next().map_or(0, char::len_utf8) };
    Some(review(
        "take the second of the two lines out",
        vec![(at(elaboration, loc, start, end), String::new())],
    ))
}

/// Absolute bytes as a place: in the item of `near` where they begin in it or behind it, else by themselves.
fn at(elaboration: &Elaboration, near: Loc, start: usize, end: usize) -> Loc {
    let span = Span { start: start as u32, end: end as u32 };
    match placed(elaboration, near) {
        Some(placed) if placed.start <= span.start => {
            let span = Span { start: span.start - placed.start, end: span.end - placed.start };
            Loc { span, ..near }
        }
        _ => Loc { item: u32::MAX, span, ..near },
    }
}

fn text(elaboration: &Elaboration, loc: Loc) -> Option<&str> {
    let text = &elaboration.files.get(loc.file.index())?.text;
    let span = elaboration.span(loc);
    text.get(span.range()).is_some().then_some(text)
}

fn line_start(text: &str, at: usize) -> usize {
    text.get(..at).and_then(|before| before.rfind(['\n', '\r'])).map_or(0, |newline| newline + 1)
}

fn line_end(text: &str, at: usize) -> usize {
    text.get(at..).and_then(|after| after.find(['\n', '\r'])).map_or(text.len(), |length| at + length)
}

fn indent(text: &str, at: usize) -> &str {
    let line = text.get(line_start(text, at)..at).unwrap_or("");
    line.get(..line.len() - line.trim_start_matches([' ', '\t']).len()).unwrap_or("")
}
