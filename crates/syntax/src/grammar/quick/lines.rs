//! One function a kind of statement; see `statement.rs` for the grammar's parsers of the same names.

use super::{Cursor, Quick, Unusual, is_pin, is_subject};
use crate::{
    grammar::{
        part::{self, Part},
        piece::Piece,
    },
    lexer::TokenKind as T,
    tree::{Name, Quantity, Text},
};

/// A keyword, then pieces after a table.
macro_rules! statements {
    ($($name:ident $table:ident)*) => {
        $(pub(crate) fn $name(c: &mut Cursor<'_, '_>) -> Quick<Vec<Piece>> {
            keyword_and(c, part::$table)
        })*
    };
}
statements! {
    head HEAD
    use_ USE
    allow ALLOW
    supply SUPPLY
    ground GROUND
    splice SPLICE
    inline INLINE
    fuse FUSE
    element ELEMENT
    transducer TRANSDUCER
    switch SWITCH
    grade GRADE
    housing HOUSING
    gang GANG
    block BLOCK
    elsewhere ELSEWHERE
}

fn keyword_and(c: &mut Cursor<'_, '_>, parts: &'static [Part]) -> Quick<Vec<Piece>> {
    c.bump()?;
    let mut out = Vec::with_capacity(6);
    c.parts(parts, &mut out)?;
    Ok(out)
}

pub(crate) fn attributes(c: &mut Cursor<'_, '_>) -> Quick<Vec<Piece>> {
    let mut out = Vec::with_capacity(1);
    c.parts(part::ATTRIBUTES, &mut out)?;
    if out.is_empty() { Err(Unusual) } else { Ok(out) }
}

pub(crate) fn spare(c: &mut Cursor<'_, '_>) -> Quick<Vec<Piece>> {
    c.bump()?;
    let names = c.points()?;
    let span = names.first().map_or_else(Default::default, |n| n.span);
    Ok(vec![Piece::WithNames("unused", span, names)])
}

pub(crate) fn cavities(c: &mut Cursor<'_, '_>) -> Quick<Vec<(Name, Option<Name>)>> {
    c.list(is_pin, |c| {
        let first = c.pin()?;
        let last = if c.skips(T::Dots) { Some(c.pin()?) } else { None };
        Ok((first, last))
    })
}

pub(crate) fn pins(c: &mut Cursor<'_, '_>) -> Quick<Vec<(Name, bool)>> {
    c.bump()?;
    c.list(is_pin, |c| Ok((c.pin()?, c.word("unused").is_ok())))
}

pub(crate) fn positions(c: &mut Cursor<'_, '_>) -> Quick<Vec<Name>> {
    c.bump()?;
    c.position_list()
}

pub(crate) fn names(c: &mut Cursor<'_, '_>) -> Quick<Vec<Name>> {
    c.list(is_subject, Cursor::subject)
}

pub(crate) fn gang_row(c: &mut Cursor<'_, '_>) -> Quick<Vec<Name>> {
    let mut out = vec![c.pin()?];
    while !c.at_end() {
        c.skips(T::Comma);
        out.push(c.pin()?);
    }
    Ok(out)
}

pub(crate) fn table_row(c: &mut Cursor<'_, '_>) -> Quick<Vec<(Quantity, Quantity)>> {
    c.list(super::is_amount, |c| {
        let first = c.quantity()?;
        c.skips(T::Comma);
        Ok((first, c.quantity()?))
    })
}

/// Rare: the grammar's.
pub(crate) fn about_row(_: &mut Cursor<'_, '_>) -> Quick<(Name, Vec<Text>)> {
    Err(Unusual)
}
