//! Runs a parser over one statement: cheaply first, with full errors only where that fails.

use super::{
    atoms::{In, P},
    build::Pieces,
    piece::Piece,
    sig::Sig,
    statement::Grammar,
};
use crate::{Span, SyntaxError};
use chumsky::{
    error::{EmptyErr, Rich, RichPattern},
    extra,
    prelude::*,
};
use std::cell::OnceCell;

/// The error type of the first try.
pub(crate) type Cheap = extra::Err<EmptyErr>;
/// The error type of the second.
pub(crate) type Full<'t> = extra::Err<Rich<'t, Sig<'t>>>;

/// Both grammars. The one with full errors is built when a statement first fails.
pub(crate) struct Runner<'t> {
    cheap: Grammar<'t, Cheap>,
    full: OnceCell<Grammar<'t, Full<'t>>>,
}

/// The same field of both grammars.
macro_rules! both {
    ($field:ident) => {
        (|g| &g.$field, |g| &g.$field)
    };
}
pub(crate) use both;

type Both<'t, O> = (
    for<'g> fn(&'g Grammar<'t, Cheap>) -> &'g P<'t, O, Cheap>,
    for<'g> fn(&'g Grammar<'t, Full<'t>>) -> &'g P<'t, O, Full<'t>>,
);

impl<'t> Runner<'t> {
    pub(crate) fn new() -> Self {
        Self { cheap: Grammar::new(), full: OnceCell::new() }
    }

    /// The whole statement, or an error and what could be read before it.
    pub(crate) fn read<O>(
        &self,
        (cheap, full): Both<'t, O>,
        sigs: In<'t>,
        errors: &mut Vec<SyntaxError>,
    ) -> (Option<O>, bool) {
        if let Some(out) = cheap(&self.cheap).parse(sigs).into_output() {
            return (Some(out), false);
        }
        let grammar = self.full.get_or_init(Grammar::new);
        let found = full(grammar).parse(sigs).into_errors();
        match found.into_iter().next() {
            Some(error) => errors.push(describe(&error, sigs)),
            None => return (None, true),
        }
        (cheap(&self.cheap).clone().lazy().parse(sigs).into_output(), true)
    }

    /// A statement of pieces, ready to be sorted.
    pub(crate) fn pieces<'e>(
        &self,
        both: Both<'t, Vec<Piece>>,
        sigs: In<'t>,
        errors: &'e mut Vec<SyntaxError>,
    ) -> Pieces<'e> {
        let (pieces, damaged) = self.read(both, sigs, errors);
        Pieces::new(pieces.unwrap_or_default(), whole(sigs), damaged, errors)
    }
}

/// From the first token to the last.
pub(crate) fn whole(sigs: &[Sig<'_>]) -> Span {
    match (sigs.first(), sigs.last()) {
        (Some(first), Some(last)) => first.span.to(last.span),
        _ => Span::default(),
    }
}

/// The words for an error: what stands there, and what was expected.
fn describe(error: &Rich<'_, Sig<'_>>, sigs: &[Sig<'_>]) -> SyntaxError {
    let at = error.span().start;
    let mut expected: Vec<String> = Vec::new();
    let mut more = false;
    for pattern in error.expected() {
        match pattern {
            RichPattern::Label(label) => {
                let label = if label.contains(' ') || label.starts_with('`') {
                    label.to_string()
                } else {
                    format!("`{label}`")
                };
                if !expected.contains(&label) {
                    expected.push(label);
                }
            }
            RichPattern::EndOfInput => more = true,
            _ => {}
        }
    }
    expected.sort_by_key(|e| (e.starts_with('`'), e.clone()));
    let (span, message) = match sigs.get(at) {
        Some(sig) => (sig.span, format!("{} does not fit here", quote(sig))),
        None => {
            let end = sigs.last().map_or(0, |s| s.span.end);
            let start = sigs.last().map_or(0, |s| s.span.start);
            (Span { start, end }, "the line ends too early".to_owned())
        }
    };
    if more {
        expected.push("the end of the line".to_owned());
    }
    let cut = expected.len() > 8;
    expected.truncate(8);
    let help = match expected.len() {
        0 => None,
        1 => expected.pop().map(|e| format!("expected {e}")),
        _ => {
            let last = if cut { "…".to_owned() } else { expected.pop().unwrap_or_default() };
            Some(format!("expected {} or {last}", expected.join(", ")))
        }
    };
    SyntaxError { span, message, help, fix: None }
}

fn quote(sig: &Sig<'_>) -> String {
    let text: String = sig.text.chars().take(30).collect();
    format!("`{text}`")
}
