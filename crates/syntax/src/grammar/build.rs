//! From pieces to a tree: takes pieces out one by one and reports what is missing, double or left over.

use super::{
    atoms::CLAUSE_WORDS,
    piece::{Piece, Throw},
    sig::Sig,
    usage::usage,
};
use crate::{
    Span, SyntaxError,
    nearest::begun_or_nearest,
    step::{step, steps},
    tree::{Attributes, Name, Path, Quantity, Range, Text, Title, Value, ValueKind},
};

/// The first piece of this form, or of this form and clause, taken out.
macro_rules! taken {
    ($pieces:ident, $form:pat => $out:expr) => {
        match $pieces.take(|piece| {
            #[allow(unused_variables)]
            let found = matches!(piece, $form);
            found
        })? {
            $form => Some($out),
            _ => None,
        }
    };
    ($pieces:ident, $clause:ident, $form:pat => $out:expr) => {
        match $pieces.take(|piece| {
            #[allow(unused_variables)]
            let found = matches!(piece, $form) && piece.clause() == Some($clause);
            found
        })? {
            $form => Some($out),
            _ => None,
        }
    };
}

/// The pieces of one statement, and where its errors go.
pub(crate) struct Pieces<'e> {
    pieces: Vec<Option<Piece>>,
    /// How many of them have not been taken out.
    left: usize,
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
        let left = pieces.len();
        let pieces = pieces.into_iter().map(Some).collect();
        Self { pieces, left, span: head.to(last), head, last, errors, damaged, stopped, missing: None }
    }

    /// Takes out the first piece for which `test` holds.
    pub(crate) fn take(&mut self, test: impl Fn(&Piece) -> bool) -> Option<Piece> {
        if self.left == 0 {
            return None;
        }
        steps(self.pieces.len());
        let found = self.pieces.iter_mut().find(|slot| slot.as_ref().is_some_and(&test))?.take();
        self.left -= 1;
        found
    }

    pub(crate) fn title(&mut self) -> Option<Title> {
        taken!(self, Piece::Title(title) => title)
    }
    pub(crate) fn word(&mut self) -> Option<Name> {
        taken!(self, Piece::Word(name) => name)
    }
    /// Whether a piece of this clause is left.
    pub(crate) fn has(&self, clause: &str) -> bool {
        self.pieces.iter().flatten().any(|p| p.clause() == Some(clause))
    }
    /// How many loose words are left.
    pub(crate) fn words(&self) -> usize {
        self.pieces.iter().flatten().filter(|p| matches!(p, Piece::Word(_))).count()
    }
    /// How many loose words are left that begin none of these clauses. The very first piece is a name, whatever it says.
    pub(crate) fn words_beside(&self, clauses: &[&str]) -> usize {
        let begins = |word: &Name| clauses.iter().any(|c| c.split(' ').next() == Some(word.text.as_str()));
        let slots = self.pieces.iter().enumerate().filter_map(|(at, slot)| Some((at, slot.as_ref()?)));
        slots.filter(|(at, p)| matches!(p, Piece::Word(word) if *at == 0 || !begins(word))).count()
    }
    /// Whether a loose word is left that stands before the path.
    pub(crate) fn word_before_path(&self) -> bool {
        self.pieces.iter().flatten().find_map(|p| match p {
            Piece::Word(_) => Some(true),
            Piece::Path(_) | Piece::Throw(_) => Some(false),
            _ => None,
        }) == Some(true)
    }
    /// How many loose values are left.
    pub(crate) fn values(&self) -> usize {
        self.pieces.iter().flatten().filter(|p| matches!(p, Piece::Value(_))).count()
    }
    pub(crate) fn path(&mut self) -> Option<Path> {
        taken!(self, Piece::Path(path) => path)
    }
    pub(crate) fn quantity_value(&mut self) -> Option<Value> {
        taken!(self, Piece::Value(value) => value)
    }
    /// A loose value: a quantity, else a word that stands for a parameter. A word that begins a clause stands for none.
    pub(crate) fn value(&mut self) -> Option<Value> {
        let stands = |p: &Piece| match p {
            Piece::Value(_) => true,
            Piece::Word(name) => !CLAUSE_WORDS.contains(&name.text.as_str()),
            _ => false,
        };
        match self.take(stands)? {
            Piece::Value(value) => Some(value),
            Piece::Word(name) => {
                Some(Value { span: name.span, kind: ValueKind::Parameter(name), tolerance: None })
            }
            _ => None,
        }
    }
    pub(crate) fn range(&mut self) -> Option<Range> {
        taken!(self, Piece::Range(range) => *range)
    }
    pub(crate) fn with(&mut self, clause: &str) -> Option<Value> {
        taken!(self, clause, Piece::With(_, _, value) => value)
    }
    pub(crate) fn with_range(&mut self, clause: &str) -> Option<Range> {
        taken!(self, clause, Piece::WithRange(_, _, range) => *range)
    }
    pub(crate) fn with_name(&mut self, clause: &str) -> Option<Name> {
        taken!(self, clause, Piece::WithName(_, _, name) => name)
    }
    pub(crate) fn with_names(&mut self, clause: &str) -> Option<Vec<Name>> {
        taken!(self, clause, Piece::WithNames(_, _, names) => names)
    }
    pub(crate) fn with_text(&mut self, clause: &str) -> Option<Text> {
        taken!(self, clause, Piece::WithText(_, _, text) => text)
    }
    pub(crate) fn pair(&mut self, clause: &str) -> Option<(Name, Name)> {
        taken!(self, clause, Piece::Pair(_, _, both) => *both)
    }
    pub(crate) fn flag(&mut self, clause: &str) -> Option<Span> {
        taken!(self, clause, Piece::Flag(_, span) => span)
    }
    fn face(&mut self) -> Option<(u32, u32, Span)> {
        taken!(self, Piece::Face(rows, columns, span) => (rows, columns, span))
    }
    pub(crate) fn throw(&mut self) -> Option<Throw> {
        taken!(self, Piece::Throw(throw) => *throw)
    }
    pub(crate) fn numbers(&mut self) -> Option<(Span, [f64; 3])> {
        taken!(self, Piece::Numbers(span, numbers) => (span, numbers))
    }
    pub(crate) fn quantities(&mut self) -> Option<Vec<Quantity>> {
        taken!(self, Piece::Quantities(_, quantities) => quantities)
    }
    pub(crate) fn pull_up(&mut self) -> Option<(Value, Result<Quantity, Name>)> {
        taken!(self, Piece::PullUp(_, pull) => *pull)
    }

    /// Adds the attributes to what is there.
    pub(crate) fn attributes(&mut self) -> Attributes {
        if self.left == 0 {
            return Attributes::default();
        }
        let mut out = Attributes {
            place: self.with_text("where"),
            access: self.with_name("access"),
            sealed: self.flag("sealed"),
            face: self.face(),
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
                self.left -= 1;
            }
        }
        out
    }

    /// All pieces that are left, in their order.
    pub(crate) fn drain(&mut self) -> impl Iterator<Item = Piece> + use<> {
        self.left = 0;
        std::mem::take(&mut self.pieces).into_iter().flatten()
    }
    /// How many pieces of this clause are left.
    pub(crate) fn count(&self, clause: &str) -> usize {
        self.pieces.iter().flatten().filter(|p| p.clause() == Some(clause)).count()
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
        let left: Vec<Piece> = if self.left == 0 { Vec::new() } else { self.drain().collect() };
        steps(left.len());
        let explained = left.iter().find_map(|piece| explain(piece, keyword, clauses));
        let error = match (self.stopped.take(), explained) {
            (Some(stopped), Some(found)) => {
                Some(if found.span.start <= stopped.span.start { found } else { stopped })
            }
            // Where the grammar has no words for what it expected, what is missing says it.
            (Some(stopped), None) => match self.missing.take() {
                Some(missing) if stopped.help.is_none() => Some(missing),
                _ => Some(stopped),
            },
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
        let near = begun_or_nearest(&word.text, clauses.iter().filter_map(|c| c.split(' ').next()))?;
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
