//! From pieces to a tree: takes pieces out one by one and reports what is missing, double or left over.

use super::{piece::Piece, sig::Sig, usage::usage};
use crate::{
    Span, SyntaxError,
    nearest::nearest,
    step::{step, steps},
    tree::{Attributes, Name, Path, Range, Text, Title, Value, ValueKind},
};

/// The pieces of one statement, and where its errors go.
pub(crate) struct Pieces<'e> {
    pieces: Vec<Option<Piece>>,
    /// The statement.
    pub(crate) span: Span,
    /// Its first token.
    pub(crate) head: Span,
    /// Its last token.
    last: Span,
    pub(crate) errors: &'e mut Vec<SyntaxError>,
    /// A part was unreadable already.
    pub(crate) damaged: bool,
    /// Where the grammar stopped.
    stopped: Option<SyntaxError>,
    /// What is missing, if nothing else explains it.
    missing: Option<SyntaxError>,
}

impl<'e> Pieces<'e> {
    pub(crate) fn new(
        pieces: Vec<Piece>,
        sigs: &[Sig<'_>],
        stopped: Option<SyntaxError>,
        damaged: bool,
        errors: &'e mut Vec<SyntaxError>,
    ) -> Self {
        let head = sigs.first().map_or_else(Span::default, |s| s.span);
        let last = sigs.last().map_or(head, |s| s.span);
        let pieces = pieces.into_iter().map(Some).collect();
        Self { pieces, span: head.to(last), head, last, errors, damaged, stopped, missing: None }
    }

    /// Takes the first piece that `pick` accepts.
    fn take<O>(&mut self, mut pick: impl FnMut(&Piece) -> Option<O>) -> Option<O> {
        for slot in &mut self.pieces {
            step();
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
        for slot in &mut self.pieces {
            step();
            if let Some(Piece::WithText("hazard", ..)) = slot
                && let Some(Piece::WithText(_, _, text)) = slot.take()
            {
                out.hazards.push(text);
            }
        }
        out
    }

    /// All pieces that are left, in their order.
    pub(crate) fn drain(&mut self) -> Vec<Piece> {
        std::mem::take(&mut self.pieces).into_iter().flatten().collect()
    }

    /// Notes that something is missing at the statement's end; said by [`finish`](Self::finish) if nothing explains it.
    pub(crate) fn missing(&mut self, what: &str, help: &str) {
        self.missing_at(self.last, what, help);
    }

    /// The same, at another place.
    pub(crate) fn missing_at(&mut self, span: Span, what: &str, help: &str) {
        if self.missing.is_none() {
            let message = format!("missing here: {what}");
            self.missing = Some(SyntaxError { span, message, help: Some(help.to_owned()), fix: None });
        }
    }

    /// Notes something wrong that is not a matter of pieces; said like what is missing.
    pub(crate) fn wrong(&mut self, span: Span, message: &str, help: &str) {
        if self.missing.is_none() {
            let (message, help) = (message.to_owned(), Some(help.to_owned()));
            self.missing = Some(SyntaxError { span, message, help, fix: None });
        }
    }

    /// `found`, or a note that it is missing.
    pub(crate) fn need<O>(&mut self, found: Option<O>, what: &str, help: &str) -> Option<O> {
        if found.is_none() {
            self.missing(what, help);
        }
        found
    }

    /// Reports one mistake, the one that explains most: a clause that is misspelt or incomplete, the place where the
    /// grammar stopped, what is missing, what is left over. Gives whether the statement is damaged.
    pub(crate) fn finish(mut self, keyword: &str, clauses: &[&str]) -> bool {
        let left = self.drain();
        steps(left.len());
        let explained = left.iter().find_map(|piece| explain(piece, keyword, clauses));
        let error = match (self.stopped.take(), explained) {
            (Some(stopped), Some(found)) => {
                Some(if found.span.start <= stopped.span.start { found } else { stopped })
            }
            (Some(stopped), None) => Some(stopped),
            (None, Some(found)) => Some(found),
            (None, None) => match self.missing.take() {
                Some(missing) => (!self.damaged).then_some(missing),
                None if self.damaged => None,
                None => left.first().map(|piece| left_over(piece, keyword, clauses)),
            },
        };
        self.damaged |= error.is_some();
        self.errors.extend(error);
        self.damaged
    }
}

/// What is wrong with a piece that nobody took, if that is plain: a misspelt or incomplete clause, one of another statement,
/// one said twice.
fn explain(piece: &Piece, keyword: &str, clauses: &[&str]) -> Option<SyntaxError> {
    let span = piece.span();
    let of = |clause: &&str| clause.split(' ').next().unwrap_or_default().to_owned();
    if let Piece::Word(word) = piece {
        if clauses.iter().any(|c| of(c) == *word.text) || matches!(word.text.as_str(), "when" | "by") {
            let help = usage(&word.text).map(|usage| format!("write {usage}"));
            return Some(SyntaxError {
                span,
                message: format!("`{}` is not complete, or what follows does not fit", word.text),
                help,
                fix: None,
            });
        }
        let near = nearest(&word.text, clauses.iter().filter_map(|c| c.split(' ').next()))?;
        return Some(SyntaxError {
            span,
            message: format!("`{}` is not known in {} line", word.text, a(keyword)),
            help: Some(format!("did you mean `{near}`?")),
            fix: Some((format!("write `{near}`"), span, near.to_owned())),
        });
    }
    let clause = piece.clause()?;
    let known = clauses.iter().any(|c| *c == clause || of(c) == clause);
    Some(SyntaxError {
        span,
        message: match known {
            true => format!("`{clause}` is said a second time"),
            false => format!("`{clause}` has no place in {} line", a(keyword)),
        },
        help: Some(if known { "keep one of them".to_owned() } else { expected(clauses) }),
        fix: None,
    })
}

fn left_over(piece: &Piece, keyword: &str, clauses: &[&str]) -> SyntaxError {
    let message = match piece {
        Piece::Word(word) => format!("`{}` means nothing at this place of {} line", word.text, a(keyword)),
        piece => format!("{} line takes no {} here", a(keyword), kind(piece)),
    };
    SyntaxError { span: piece.span(), message, help: Some(expected(clauses)), fix: None }
}

/// The keyword with its article.
fn a(keyword: &str) -> String {
    let vowel = keyword.starts_with(['a', 'e', 'i', 'o', 'u']) && keyword != "use";
    format!("{} `{keyword}`", if vowel { "an" } else { "a" })
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
