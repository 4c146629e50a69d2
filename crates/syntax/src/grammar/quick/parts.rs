//! The pieces of a statement after its table of parts.

use super::{Cursor, Quick, Unusual, is_amount, is_pin};
use crate::{
    grammar::{
        part::Part,
        piece::{Piece, Throw},
        sig::Sig,
    },
    lexer::TokenKind as T,
    step::step,
    tree::{Name, Path},
};

impl<'t> Cursor<'_, 't> {
    /// Pieces to the statement's end, each the first part that fits.
    pub(super) fn parts(&mut self, parts: &'static [Part], out: &mut Vec<Piece>) -> Quick<()> {
        while let Some(sig) = self.peek() {
            out.push(self.piece(sig, parts)?);
        }
        Ok(())
    }

    /// The next piece; `sig` is its first token.
    pub(super) fn piece(&mut self, sig: &Sig<'t>, parts: &'static [Part]) -> Quick<Piece> {
        for part in parts {
            step();
            if let Some(piece) = self.part(*part, sig)? {
                return Ok(piece);
            }
        }
        Err(Unusual)
    }

    /// This part, if it stands here.
    fn part(&mut self, part: Part, sig: &Sig<'t>) -> Quick<Option<Piece>> {
        let is = |word: &str| sig.kind == T::Word && sig.text == word;
        Ok(Some(match part {
            Part::Value(clause) if is(clause) => {
                let at = self.bump()?.span;
                Piece::With(clause, at, self.value()?)
            }
            Part::Range(clause) if is(clause) => {
                let at = self.bump()?.span;
                Piece::WithRange(clause, at, Box::new(self.range()?))
            }
            Part::Point(clause) if is(clause) => {
                let at = self.bump()?.span;
                Piece::WithName(clause, at, self.point()?)
            }
            Part::Pin(clause) if is(clause) => {
                let at = self.bump()?.span;
                Piece::WithName(clause, at, self.pin()?)
            }
            Part::Flag(clause) if is(clause) => Piece::Flag(clause, self.bump()?.span),
            Part::Attribute if sig.kind == T::Word => return self.attribute(sig.text),
            Part::SharedBy if is("shared") => {
                let at = self.bump()?.span;
                self.word("by")?;
                Piece::WithNames("shared", at, self.points()?)
            }
            Part::Live if is("live") => {
                let at = self.bump()?.span;
                self.word("in")?;
                Piece::Pair("live", at, Box::new((self.point()?, self.pin()?)))
            }
            Part::Condition if sig.kind == T::Word => return self.condition(sig.text),
            Part::Throw if is_pin(sig.kind) => return self.throw(),
            Part::Steinhart if is("steinhart") => {
                let at = self.bump()?.span;
                Piece::Numbers(at, [self.bare()?, self.bare()?, self.bare()?])
            }
            Part::Positions if is("positions") => {
                let at = self.bump()?.span;
                Piece::WithNames("positions", at, self.position_list()?)
            }
            Part::Accuracy if is("accuracy") => {
                let at = self.bump()?.span;
                Piece::Quantities(at, self.list(is_amount, Self::quantity)?)
            }
            Part::PullUp if is("pull_up") => {
                let at = self.bump()?.span;
                let value = self.value()?;
                self.word("to")?;
                let to = if self.is_amount() { Ok(self.quantity()?) } else { Err(self.name()?) };
                Piece::PullUp(at, Box::new((value, to)))
            }
            Part::RuleName if sig.kind == T::Word => Piece::Word(self.rule_name()?),
            Part::Title if sig.kind == T::Text => Piece::Title(self.title()?),
            Part::Path if is_end(sig.kind) && self.kind_after(1) == Some(T::Arrow) => {
                let from = self.bump()?.name();
                self.mark(T::Arrow)?;
                Piece::Path(Path { from, to: self.named(is_end)? })
            }
            Part::LooseRange if is_amount(sig.kind) && self.is_range() => {
                Piece::Range(Box::new(self.range()?))
            }
            Part::LooseValue if is_amount(sig.kind) => Piece::Value(self.plain_value()?),
            // A word before `..` is a bound.
            Part::Word if is_end(sig.kind) && self.kind_after(1) != Some(T::Dots) => {
                Piece::Word(self.bump()?.name())
            }
            _ => return Ok(None),
        }))
    }

    fn attribute(&mut self, word: &str) -> Quick<Option<Piece>> {
        let (clause, text): (&'static str, bool) = match word {
            "where" => ("where", true),
            "hazard" => ("hazard", true),
            "sealed" => ("sealed", false),
            "moves" => ("moves", false),
            "restricted" => ("restricted", false),
            "access" => {
                let at = self.bump()?.span;
                let way = self.bump_if(|s| matches!(s.text, "easy" | "cover" | "buried"));
                let way = way.filter(|s| s.kind == T::Word).ok_or(Unusual)?;
                return Ok(Some(Piece::WithName("access", at, way.name())));
            }
            "face" => {
                let at = self.bump()?.span;
                let (rows, _) = self.count()?;
                self.word("x")?;
                let (columns, end) = self.count()?;
                return Ok(Some(Piece::Face(rows, columns, at.to(end))));
            }
            _ => return Ok(None),
        };
        let at = self.bump()?.span;
        Ok(Some(if text { Piece::WithText(clause, at, self.text()?) } else { Piece::Flag(clause, at) }))
    }

    fn count(&mut self) -> Quick<(u32, crate::Span)> {
        let sig = self.bump_if(|s| s.kind == T::Int).ok_or(Unusual)?;
        Ok((sig.text.parse().map_err(|_| Unusual)?, sig.span))
    }

    fn condition(&mut self, word: &str) -> Quick<Option<Piece>> {
        let open = word == "open";
        match word {
            "closed" | "open" => {
                self.bump()?;
            }
            "when" | "in" => {}
            _ => return Ok(None),
        }
        let sig = self.bump()?;
        let piece = match sig.text {
            "when" if sig.kind == T::Word => {
                let coil = self.point()?;
                self.word("energised")?;
                Piece::WithName(if open { "open when" } else { "closed when" }, sig.span, coil)
            }
            "in" if sig.kind == T::Word => {
                let clause = if open { "open in" } else { "closed in" };
                Piece::WithNames(clause, sig.span, self.position_list()?)
            }
            _ => return Err(Unusual),
        };
        Ok(Some(piece))
    }

    fn throw(&mut self) -> Quick<Option<Piece>> {
        if self.kind_after(1) != Some(T::Arrow) || self.kind_after(2) != Some(T::OpenParen) {
            return Ok(None);
        }
        let common = self.pin()?;
        self.mark(T::Arrow)?;
        self.mark(T::OpenParen)?;
        let rest_first = self.is_word("rest");
        self.word(if rest_first { "rest" } else { "active" })?;
        let first = self.pin()?;
        self.skips(T::Comma);
        self.word(if rest_first { "active" } else { "rest" })?;
        let second = self.pin()?;
        self.mark(T::CloseParen)?;
        let (rest, active) = if rest_first { (first, second) } else { (second, first) };
        Ok(Some(Piece::Throw(Box::new(Throw { common, rest, active }))))
    }

    /// A number without a unit.
    fn bare(&mut self) -> Quick<f64> {
        let sign = self.bump_if(|s| matches!(s.kind, T::Minus | T::Plus));
        let number = self.bump_if(|s| matches!(s.kind, T::Int | T::Dec | T::Exp)).ok_or(Unusual)?;
        Ok(crate::grammar::sig::quantity(sign, number, None).number)
    }

    fn rule_name(&mut self) -> Quick<Name> {
        let first = self.bump()?;
        let mut name = first.name();
        if self.kind() != Some(T::Minus) {
            return Ok(name);
        }
        let mut text = String::from(name.text.as_str());
        while self.skips(T::Minus) {
            let sig = self.bump_if(|s| s.kind == T::Word).ok_or(Unusual)?;
            text.push('-');
            text.push_str(sig.text);
            name.span = name.span.to(sig.span);
        }
        name.text = text.into();
        Ok(name)
    }
}

/// What may stand at the end of a path; also what is read as a loose word.
fn is_end(kind: T) -> bool {
    matches!(kind, T::Word | T::Path | T::Int | T::Glued | T::Exp)
}
