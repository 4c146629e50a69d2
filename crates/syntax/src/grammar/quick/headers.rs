//! Headers of devices, parts and modules, and cavities; see `statement.rs`.

use super::{Cursor, Quick, Unusual};
use crate::{
    grammar::{named::Named, part, piece::Piece, statement::HeadPiece},
    lexer::TokenKind as T,
    tree::{Argument, Param},
};

pub(crate) fn owner(c: &mut Cursor<'_, '_>) -> Quick<Vec<HeadPiece>> {
    c.bump()?;
    let mut out = Vec::with_capacity(4);
    out.extend(c.head(Named::Header).map(HeadPiece::Piece));
    while let Some(sig) = c.peek() {
        out.push(match sig.kind {
            T::Colon => c.call()?,
            T::OpenParen => HeadPiece::Params(c.in_parens(Cursor::param)?.0),
            T::Word if sig.text == "uses" => {
                let at = c.bump()?.span;
                HeadPiece::Piece(Piece::WithNames("uses", at, c.points()?))
            }
            _ => HeadPiece::Piece(c.piece(sig, part::OWNER)?),
        });
    }
    Ok(out)
}

pub(crate) fn cavity(c: &mut Cursor<'_, '_>) -> Quick<Vec<Piece>> {
    let cavity = c.pin()?;
    let mut out = Vec::with_capacity(6);
    out.push(Piece::WithName("cavity", cavity.span, cavity));
    if c.is_word("unused") && c.kind_after(1).is_none() {
        out.push(Piece::Flag("unused", c.bump()?.span));
        return Ok(out);
    }
    let name = c.name()?;
    out.push(Piece::WithName("name", name.span, name));
    out.extend(c.role()?);
    c.parts(part::CAVITY, &mut out)?;
    Ok(out)
}

impl Cursor<'_, '_> {
    fn call(&mut self) -> Quick<HeadPiece> {
        self.mark(T::Colon)?;
        let part = self.point()?;
        let mut span = part.span;
        let mut arguments = Vec::new();
        if self.kind() == Some(T::OpenParen) {
            let (found, close) = self.in_parens(Cursor::argument)?;
            arguments = found;
            span = span.to(close);
        }
        Ok(HeadPiece::Call { part, arguments, span })
    }

    /// Entries with commas between, a last one allowed, and the place of the `)`.
    fn in_parens<O>(&mut self, entry: impl Fn(&mut Self) -> Quick<O>) -> Quick<(Vec<O>, crate::Span)> {
        self.mark(T::OpenParen)?;
        let mut out = Vec::new();
        while self.kind() != Some(T::CloseParen) {
            out.push(entry(self)?);
            if !self.skips(T::Comma) {
                break;
            }
        }
        Ok((out, self.mark(T::CloseParen)?))
    }

    fn argument(&mut self) -> Quick<Argument> {
        if self.kind_after(1) != Some(T::Equals) {
            return Ok(Argument { name: None, value: self.value()? });
        }
        let name = Some(self.name()?);
        self.mark(T::Equals)?;
        Ok(Argument { name, value: self.value()? })
    }

    fn param(&mut self) -> Quick<Param> {
        let name = self.name()?;
        self.mark(T::Colon)?;
        let dimension = self.name()?;
        let default = if self.skips(T::Equals) { Some(self.plain_value()?) } else { None };
        Ok(Param { name, dimension, default })
    }

    /// The role of a cavity, if one stands here.
    fn role(&mut self) -> Quick<Option<Piece>> {
        let Some(sig) = self.peek().filter(|s| s.kind == T::Word) else { return Ok(None) };
        let flag: &'static str = match sig.text {
            "feed" => "feed",
            "ground" => "ground",
            "unused" => "unused",
            "return" => "return",
            "senses" => "senses",
            "drives" => {
                let at = self.bump()?.span;
                let way = self.name()?;
                if !matches!(way.text.as_str(), "low" | "high" | "half") {
                    return Err(Unusual);
                }
                return Ok(Some(Piece::WithName("drives", at, way)));
            }
            "switches" => {
                let at = self.bump()?.span;
                self.mark(T::OpenBrace)?;
                let first = self.name()?;
                self.skips(T::Comma);
                let second = self.name()?;
                self.skips(T::Comma);
                self.mark(T::CloseBrace)?;
                return Ok(Some(Piece::Pair("switches", at, Box::new((first, second)))));
            }
            "reference" => {
                let at = self.bump()?.span;
                return Ok(Some(Piece::With("reference", at, self.value()?)));
            }
            "bus" => {
                let at = self.bump()?.span;
                return Ok(Some(Piece::WithName("bus", at, self.name()?)));
            }
            _ => return Ok(None),
        };
        Ok(Some(Piece::Flag(flag, self.bump()?.span)))
    }
}
