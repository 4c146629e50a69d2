//! Rows about states; see `states.rs`.

use super::{Cursor, Quick, Unusual, is_subject};
use crate::{
    Span,
    grammar::states::{Entry, ExerciseRow, STATES},
    lexer::TokenKind as T,
    tree::{Assertion, Name, Probe, Row, Setting},
};

/// Settings with commas between; set-ups are the grammar's.
pub(crate) fn entries(c: &mut Cursor<'_, '_>) -> Quick<Vec<Entry>> {
    c.list(is_subject, |c| c.setting().map(Entry::Setting))
}

/// A claim, a reading.
pub(crate) fn row(c: &mut Cursor<'_, '_>) -> Quick<Row> {
    let probe = c.probe()?;
    let assertion = Some(c.assertion()?);
    let mut with_settings = Vec::new();
    if !c.at_end() {
        c.word("with")?;
        with_settings = c.list(is_subject, Cursor::setting)?;
    }
    Ok(Row { probe, assertion, with_settings, with_setups: Vec::new(), span: Span::default() })
}

/// Rare: the grammar's.
pub(crate) fn exercise_row(_: &mut Cursor<'_, '_>) -> Quick<ExerciseRow> {
    Err(Unusual)
}

impl Cursor<'_, '_> {
    /// What may stand for something else as the first word of a row.
    fn is_one_of(&self, words: &[&str]) -> bool {
        self.peek().is_some_and(|s| s.kind == T::Word && words.contains(&s.text))
    }

    fn setting(&mut self) -> Quick<Setting> {
        if self.is_one_of(&["do", "unplug", "pull", "jumper", "load"]) {
            return Err(Unusual);
        }
        let subject = self.subject()?;
        let (position, quantity) = match self.kind() {
            Some(T::Word | T::Exp) => {
                let position = self.pin()?;
                let more = self.is_amount();
                (Some(position), if more { Some(self.quantity()?) } else { None })
            }
            // A number is a position only where nothing follows that may be its unit.
            Some(T::Int) if matches!(self.kind_after(1), None | Some(T::Comma)) => (Some(self.pin()?), None),
            _ => (None, Some(self.quantity()?)),
        };
        let end = quantity.as_ref().map(|q| q.span).or(position.as_ref().map(|p| p.span));
        Ok(Setting { span: subject.span.to(end.unwrap_or(subject.span)), subject, position, quantity })
    }

    fn probe(&mut self) -> Quick<Probe> {
        if self.is_one_of(&["ohms", "clamp", "lamp"]) {
            return Err(Unusual);
        }
        let first = self.subject()?;
        if self.word("to").is_err() {
            return Ok(Probe::One(first));
        }
        Ok(Probe::Across(first, self.subject()?))
    }

    fn assertion(&mut self) -> Quick<Assertion> {
        if self.is_amount() {
            return Ok(if self.is_range() {
                Assertion::Range(self.range()?)
            } else {
                Assertion::Is(self.quantity()?)
            });
        }
        // A bound of a range may be a word.
        if self.kind_after(1) == Some(T::Dots) {
            return Err(Unusual);
        }
        let sig = self.bump_if(|s| s.kind == T::Word).ok_or(Unusual)?;
        Ok(match sig.text {
            "below" => Assertion::Below(self.quantity()?),
            "above" => Assertion::Above(self.quantity()?),
            "about" => {
                let value = self.quantity()?;
                self.mark(T::PlusMinus)?;
                Assertion::About(value, self.quantity()?)
            }
            "operates" => {
                match self.bump_if(|s| s.kind == T::Word && matches!(s.text, "forward" | "reverse")) {
                    Some(way) => Assertion::State(Name {
                        text: ["operates", " ", way.text].into_iter().collect(),
                        span: sig.span.to(way.span),
                    }),
                    None => Assertion::State(sig.name()),
                }
            }
            "fed" | "grounded" if self.word("via").is_ok() => {
                let end = self.word("load")?;
                Assertion::State(Name {
                    text: [sig.text, " via load"].into_iter().collect(),
                    span: sig.span.to(end),
                })
            }
            state if STATES.contains(&state) => Assertion::State(sig.name()),
            _ => return Err(Unusual),
        })
    }
}
