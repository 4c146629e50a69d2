//! From pieces to a tree: takes pieces out one by one and reports what is missing, double or left over.

use super::piece::Piece;
use crate::nearest::nearest;
use crate::{
    Span, SyntaxError,
    tree::{Attributes, Name, Path, Range, Text, Title, Value, ValueKind},
    unit::nearest_unit,
};

/// The pieces of one statement, and where its errors go.
pub(crate) struct Pieces<'e> {
    pieces: Vec<Option<Piece>>,
    /// The statement, for errors about what is missing: they stand at its end.
    pub(crate) span: Span,
    pub(crate) errors: &'e mut Vec<SyntaxError>,
    /// A part was unreadable already: what is missing then is a consequence.
    pub(crate) damaged: bool,
}

impl<'e> Pieces<'e> {
    pub(crate) fn new(
        pieces: Vec<Piece>,
        span: Span,
        damaged: bool,
        errors: &'e mut Vec<SyntaxError>,
    ) -> Self {
        let mut this = Self { pieces: pieces.into_iter().map(Some).collect(), span, errors, damaged };
        this.check_units();
        this
    }

    /// Takes the first piece that `pick` accepts.
    fn take<O>(&mut self, mut pick: impl FnMut(&Piece) -> Option<O>) -> Option<O> {
        for slot in &mut self.pieces {
            if let Some(found) = slot.as_ref().and_then(&mut pick) {
                *slot = None;
                return Some(found);
            }
        }
        None
    }

    pub(crate) fn title(&mut self) -> Option<Title> {
        self.take(|p| if let Piece::Title(t) = p { Some(t.clone()) } else { None })
    }
    pub(crate) fn word(&mut self) -> Option<Name> {
        self.take(|p| if let Piece::Word(n) = p { Some(n.clone()) } else { None })
    }
    /// Whether a piece of this clause is left.
    pub(crate) fn has(&self, clause: &str) -> bool {
        self.pieces.iter().flatten().any(|p| p.clause() == Some(clause))
    }
    /// How many loose words are left.
    pub(crate) fn words(&self) -> usize {
        self.pieces.iter().flatten().filter(|p| matches!(p, Piece::Word(_))).count()
    }
    /// Whether a loose word is left that stands before the path.
    pub(crate) fn word_before_path(&self) -> bool {
        self.pieces.iter().flatten().find_map(|p| match p {
            Piece::Word(_) => Some(true),
            Piece::Path(_) | Piece::Throw { .. } => Some(false),
            _ => None,
        }) == Some(true)
    }
    /// How many loose values are left.
    pub(crate) fn values(&self) -> usize {
        self.pieces.iter().flatten().filter(|p| matches!(p, Piece::Value(_))).count()
    }
    pub(crate) fn path(&mut self) -> Option<Path> {
        self.take(|p| if let Piece::Path(n) = p { Some(n.clone()) } else { None })
    }
    pub(crate) fn quantity_value(&mut self) -> Option<Value> {
        self.take(|p| if let Piece::Value(v) = p { Some(v.clone()) } else { None })
    }
    /// A loose value: a quantity, else a word that stands for a parameter.
    pub(crate) fn value(&mut self) -> Option<Value> {
        self.take(|p| match p {
            Piece::Value(v) => Some(v.clone()),
            Piece::Word(n) => {
                Some(Value { span: n.span, kind: ValueKind::Parameter(n.clone()), tolerance: None })
            }
            _ => None,
        })
    }
    pub(crate) fn range(&mut self) -> Option<Range> {
        self.take(|p| if let Piece::Range(r) = p { Some(r.clone()) } else { None })
    }
    pub(crate) fn with(&mut self, clause: &str) -> Option<Value> {
        self.take(|p| if let Piece::With(c, _, v) = p { (*c == clause).then(|| v.clone()) } else { None })
    }
    pub(crate) fn with_range(&mut self, clause: &str) -> Option<Range> {
        self.take(
            |p| if let Piece::WithRange(c, _, v) = p { (*c == clause).then(|| v.clone()) } else { None },
        )
    }
    pub(crate) fn with_name(&mut self, clause: &str) -> Option<Name> {
        self.take(|p| if let Piece::WithName(c, _, v) = p { (*c == clause).then(|| v.clone()) } else { None })
    }
    pub(crate) fn with_names(&mut self, clause: &str) -> Option<Vec<Name>> {
        self.take(
            |p| if let Piece::WithNames(c, _, v) = p { (*c == clause).then(|| v.clone()) } else { None },
        )
    }
    pub(crate) fn with_text(&mut self, clause: &str) -> Option<Text> {
        self.take(|p| if let Piece::WithText(c, _, v) = p { (*c == clause).then(|| v.clone()) } else { None })
    }
    pub(crate) fn pair(&mut self, clause: &str) -> Option<(Name, Name)> {
        self.take(|p| {
            if let Piece::Pair(c, _, a, b) = p {
                (*c == clause).then(|| (a.clone(), b.clone()))
            } else {
                None
            }
        })
    }
    pub(crate) fn flag(&mut self, clause: &str) -> Option<Span> {
        self.take(|p| if let Piece::Flag(c, s) = p { (*c == clause).then_some(*s) } else { None })
    }
    /// Any piece by a test of the caller's.
    pub(crate) fn pick<O>(&mut self, pick: impl FnMut(&Piece) -> Option<O>) -> Option<O> {
        self.take(pick)
    }

    /// Adds the attributes to what is there.
    pub(crate) fn attributes(&mut self) -> Attributes {
        let mut out = Attributes {
            place: self.with_text("where"),
            access: self.with_name("access"),
            sealed: self.flag("sealed"),
            face: self.pick(|p| if let Piece::Face(r, c, s) = p { Some((*r, *c, *s)) } else { None }),
            moves: self.flag("moves"),
            hazards: Vec::new(),
            restricted: self.flag("restricted"),
        };
        while let Some(hazard) = self.with_text("hazard") {
            out.hazards.push(hazard);
        }
        out
    }

    /// Reports that something is missing, at the statement's end.
    pub(crate) fn missing(&mut self, what: &str, help: &str) {
        if !self.damaged {
            self.damaged = true;
            let end =
                Span { start: self.span.end.saturating_sub(1).max(self.span.start), end: self.span.end };
            self.errors.push(SyntaxError {
                span: end,
                message: format!("{what} is missing here"),
                help: Some(help.to_owned()),
                fix: None,
            });
        }
    }

    /// `found`, or a report that it is missing.
    pub(crate) fn need<O>(&mut self, found: Option<O>, what: &str, help: &str) -> Option<O> {
        if found.is_none() {
            self.missing(what, help);
        }
        found
    }

    /// Reports what nobody took: a misspelt clause word, a thing said twice.
    pub(crate) fn finish(mut self, keyword: &str, clauses: &[&str]) -> bool {
        let left: Vec<Piece> = std::mem::take(&mut self.pieces).into_iter().flatten().collect();
        if let (Some(piece), false) = (left.first(), self.damaged) {
            self.damaged = true;
            let (message, help, fix) = match piece {
                Piece::Word(word) => match nearest(&word.text, clauses.iter().copied()) {
                    Some(near) => (
                        format!("`{}` means nothing in a `{keyword}` line", word.text),
                        format!("did you mean `{near}`?"),
                        Some((format!("write `{near}`"), word.span, near.to_owned())),
                    ),
                    None => (
                        format!("`{}` means nothing at this place of a `{keyword}` line", word.text),
                        expected(clauses),
                        None,
                    ),
                },
                piece => match piece.clause() {
                    Some(clause) => {
                        (format!("`{clause}` is said a second time"), "keep one of them".to_owned(), None)
                    }
                    None => {
                        (format!("a `{keyword}` line takes no {} here", kind(piece)), expected(clauses), None)
                    }
                },
            };
            self.errors.push(SyntaxError { span: piece.span(), message, help: Some(help), fix });
        }
        self.damaged
    }

    /// Quantities without a unit, or with one that is spelt wrong.
    fn check_units(&mut self) {
        let mut found = Vec::new();
        for piece in self.pieces.iter().flatten() {
            match piece {
                Piece::Value(v) | Piece::With(_, _, v) | Piece::PullUp(_, v, _) => value_units(v, &mut found),
                Piece::Range(r) | Piece::WithRange(_, _, r) => {
                    value_units(&r.low, &mut found);
                    value_units(&r.high, &mut found);
                }
                _ => {}
            }
        }
        for quantity in found {
            self.errors.push(no_unit(quantity));
        }
    }
}

fn value_units(value: &Value, out: &mut Vec<Span>) {
    if let ValueKind::Quantity(q) = &value.kind
        && q.unit.is_none()
    {
        out.push(q.span);
    }
    if let Some(t) = &value.tolerance
        && t.unit.is_none()
    {
        out.push(t.span);
    }
}

/// A placeholder that the caller completes with the source text: see [`complete`].
pub(crate) fn no_unit(span: Span) -> SyntaxError {
    SyntaxError { span, message: NO_UNIT.to_owned(), help: None, fix: None }
}

const NO_UNIT: &str = "\u{0}unit";

/// Whether it is an error about a unit, not yet completed.
pub(crate) fn is_unit_error(error: &SyntaxError) -> bool {
    error.message == NO_UNIT
}

/// Puts the words of unit errors right: they quote the source, which builders do not see.
pub(crate) fn complete(error: &mut SyntaxError, item: &str) {
    if error.message != NO_UNIT {
        return;
    }
    let written = item.get(error.span.range()).unwrap_or_default();
    let split = written.find(|c: char| !matches!(c, '0'..='9' | '.' | '+' | '-' | ' ' | ','));
    let (number, unit) = written.split_at(split.unwrap_or(written.len()));
    let number = number.trim();
    if unit.is_empty() {
        error.message = format!("`{number}` has no unit");
        error.help = Some("write the unit behind the number: `V`, `A`, `ohm`, `W`, `m`, `mm2` …".into());
        return;
    }
    if super::atoms::letter_for_point(unit) {
        let (letter, decimals) = unit.split_at(1);
        let unit = match letter {
            "R" => "ohm",
            "k" => "kohm",
            "M" => "Mohm",
            other => other,
        };
        let mended = format!("{number}.{decimals} {unit}");
        error.message = format!("`{written}` has a letter in place of the decimal point");
        error.help = Some(format!("write `{mended}`"));
        error.fix = Some((format!("write `{mended}`"), error.span, mended));
        return;
    }
    error.message = format!("`{unit}` is no unit");
    match nearest_unit(unit) {
        Some(near) => {
            let mended = format!("{number} {near}");
            error.help = Some(format!("units are spelt exactly: write `{mended}`"));
            error.fix = Some((format!("write `{mended}`"), error.span, mended));
        }
        None => {
            error.help = Some(
                "units are `V`, `A`, `ohm`, `W`, `m`, `mm2`, `degC`, `%`, `Hz`, `kPa` and the like".into(),
            )
        }
    }
}

fn kind(piece: &Piece) -> &'static str {
    match piece {
        Piece::Title(_) => "second text",
        Piece::Path(_) => "second path",
        Piece::Value(_) => "further value",
        Piece::Range(_) => "range",
        Piece::Awg(..) => "second gauge",
        _ => "more",
    }
}

fn expected(clauses: &[&str]) -> String {
    if clauses.is_empty() {
        return "end the line before it".to_owned();
    }
    format!(
        "what may follow here: {}",
        clauses.iter().map(|c| format!("`{c}`")).collect::<Vec<_>>().join(", ")
    )
}
