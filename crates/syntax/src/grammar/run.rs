//! Runs a parser over one statement: cheaply first, with full errors only where that fails.

use super::{
    atoms::{In, P},
    build::Pieces,
    piece::Piece,
    quantities::{self, Quantities},
    quick::{Cursor, Quick},
    sig::Sig,
    statement::Grammar,
};
use crate::{Span, SyntaxError, lexer::TokenKind, nearest::begun_or_nearest};
use chumsky::{
    error::{EmptyErr, Rich, RichPattern},
    extra,
    prelude::*,
};
use std::cell::{Cell, OnceCell};

/// The error type of the first try.
pub(crate) type Cheap = extra::Err<EmptyErr>;
/// The error type of the second.
pub(crate) type Full<'t> = extra::Err<Rich<'t, Sig<'t>>>;

/// Reads statements. Both grammars are built when a statement first needs them.
pub(crate) struct Runner<'t> {
    cheap: OnceCell<Grammar<'t, Cheap>>,
    full: OnceCell<Grammar<'t, Full<'t>>>,
    mode: Mode,
    gave_up: Cell<bool>,
}

/// Which readers are used.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Mode {
    /// The quick ones alone: where they fail, the runner gives up.
    Quick,
    /// The quick ones, and where they fail the grammar.
    All,
    /// The grammar alone, to compare with.
    #[cfg(test)]
    Grammar,
}

impl Mode {
    fn is_quick(self) -> bool {
        matches!(self, Self::Quick | Self::All)
    }
}

/// The ways to read a kind of statement: quickly, by the grammar, by the grammar with full errors.
pub(crate) struct Ways<'t, O> {
    pub(crate) quick: for<'c> fn(&mut Cursor<'c, 't>) -> Quick<O>,
    pub(crate) cheap: for<'g> fn(&'g Grammar<'t, Cheap>) -> &'g P<'t, O, Cheap>,
    pub(crate) full: for<'g> fn(&'g Grammar<'t, Full<'t>>) -> &'g P<'t, O, Full<'t>>,
}

/// The ways to read the statements of this name.
macro_rules! ways {
    ($name:ident) => {
        $crate::grammar::run::Ways {
            quick: $crate::grammar::quick::$name,
            cheap: |g| &g.$name,
            full: |g| &g.$name,
        }
    };
}
pub(crate) use ways;

impl<'t> Runner<'t> {
    pub(crate) fn new(mode: Mode) -> Self {
        Self { cheap: OnceCell::new(), full: OnceCell::new(), mode, gave_up: Cell::new(false) }
    }

    /// Whether a statement was too unusual for [`Mode::Quick`]: what was made of it and of the rest is worth nothing.
    pub(crate) fn gave_up(&self) -> bool {
        self.gave_up.get()
    }

    /// The whole statement, or an error and what could be read before it; whether it is damaged.
    pub(crate) fn read<O: Quantities>(
        &self,
        ways: Ways<'t, O>,
        sigs: In<'t>,
        errors: &mut Vec<SyntaxError>,
    ) -> (Option<O>, bool) {
        let (out, error, damaged) = self.try_read(ways, sigs, errors);
        errors.extend(error);
        (out, damaged)
    }

    /// The same, with the grammar's error apart.
    pub(crate) fn try_read<O: Quantities>(
        &self,
        ways: Ways<'t, O>,
        sigs: In<'t>,
        errors: &mut Vec<SyntaxError>,
    ) -> (Option<O>, Option<SyntaxError>, bool) {
        if self.mode.is_quick() {
            let mut cursor = Cursor::new(sigs);
            match (ways.quick)(&mut cursor) {
                Ok(out) if cursor.at_end() => return (Some(out), None, false),
                _ if self.mode == Mode::Quick => {
                    self.gave_up.set(true);
                    return (None, None, true);
                }
                _ => {}
            }
        }
        let cheap = (ways.cheap)(self.cheap.get_or_init(Grammar::new));
        if let Some(out) = cheap.parse(sigs).into_output() {
            let unitless = quantities::check(&out, sigs, false, errors);
            return (Some(out), None, unitless);
        }
        let full = (ways.full)(self.full.get_or_init(Grammar::new));
        let found = full.parse(sigs).into_errors();
        let error = found.into_iter().next().map(|error| describe(&error, sigs));
        let out = cheap.clone().lazy().parse(sigs).into_output();
        if let Some(out) = &out {
            quantities::check(out, sigs, true, errors);
        }
        (out, error, true)
    }

    /// A statement of pieces, ready to be sorted.
    pub(crate) fn pieces<'e>(
        &self,
        ways: Ways<'t, Vec<Piece>>,
        sigs: In<'t>,
        errors: &'e mut Vec<SyntaxError>,
    ) -> Pieces<'e> {
        let (pieces, error, damaged) = self.try_read(ways, sigs, errors);
        Pieces::new(pieces.unwrap_or_default(), sigs, error, damaged, errors)
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
    if let Some(error) = misspelt(sigs.get(at), &expected) {
        return error;
    }
    // Marks that may follow any number say little where words may follow, too.
    let said = expected.iter().filter(|e| !matches!(e.as_str(), "`+-`" | "`..`" | "`,`" | "`/`")).count();
    if said > 0 {
        expected.retain(|e| !matches!(e.as_str(), "`..`" | "`/`") && (e != "`+-`" || said < 2));
    }
    expected.sort_by_key(|e| (e.starts_with('`'), e.clone()));
    if let (None, Some(last)) = (sigs.get(at), sigs.last())
        && last.kind == TokenKind::Minus
    {
        let help = "a path goes on with `->` and a point, a value below zero with a number and its unit";
        let message = "nothing follows this `-`".to_owned();
        return SyntaxError { span: last.span, message, help: Some(help.into()), fix: None };
    }
    let (span, message) = match sigs.get(at) {
        Some(sig) => (sig.span, format!("{} does not fit here", quote(sig))),
        None => (sigs.last().map_or_else(Span::default, |s| s.span), "the line ends too early".to_owned()),
    };
    if more {
        expected.push("the end of the line".to_owned());
    }
    SyntaxError { span, message, help: one_of(expected), fix: None }
}

/// `expected A, B or C`.
fn one_of(mut expected: Vec<String>) -> Option<String> {
    let cut = expected.len() > 8;
    expected.truncate(8);
    match expected.len() {
        0 => None,
        1 => expected.pop().map(|e| format!("expected {e}")),
        _ => {
            let last = if cut { "the like".to_owned() } else { expected.pop().unwrap_or_default() };
            Some(format!("expected {} or {last}", expected.join(", ")))
        }
    }
}

/// A keyword that is nearly right: the expected ones stand in back quotes in the labels.
fn misspelt(sig: Option<&Sig<'_>>, expected: &[String]) -> Option<SyntaxError> {
    let sig = sig.filter(|s| s.kind == TokenKind::Word && s.text.chars().count() > 2)?;
    let words = expected.iter().flat_map(|label| label.split('`').skip(1).step_by(2));
    let words = words.filter_map(|quoted| quoted.split(' ').next());
    let words = words.filter(|w| w.bytes().all(|b| b.is_ascii_lowercase() || b == b'_'));
    let near = begun_or_nearest(sig.text, words)?;
    Some(SyntaxError {
        span: sig.span,
        message: format!("{} is not known here", quote(sig)),
        help: Some(format!("did you mean `{near}`?")),
        fix: Some((format!("write `{near}`"), sig.span, near.to_owned())),
    })
}

fn quote(sig: &Sig<'_>) -> String {
    let text: String = sig.text.chars().take(30).collect();
    format!("`{text}`")
}
