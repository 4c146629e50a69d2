//! One function a kind of statement; see `statement.rs` for the grammar's parsers of the same names.

use super::{Cursor, Quick, Unusual, is_pin, is_subject};
use crate::{
    grammar::{
        named::Named,
        part::{self, Part},
        piece::Piece,
    },
    lexer::TokenKind as T,
    tree::{Name, Quantity, Text},
};

/// A keyword, its name if it has one, then pieces after a table.
macro_rules! statements {
    ($($name:ident $table:ident $named:expr)*) => {
        $(pub(crate) fn $name(c: &mut Cursor<'_, '_>) -> Quick<Vec<Piece>> {
            keyword_and(c, part::$table, $named)
        })*
    };
}
statements! {
    use_ USE None
    allow ALLOW None
    elsewhere ELSEWHERE None
    head HEAD Some(Named::Header)
    supply SUPPLY Some(Named::Header)
    ground GROUND Some(Named::Header)
    splice SPLICE Some(Named::Header)
    inline INLINE Some(Named::Header)
    fuse FUSE Some(Named::Header)
    top ELEMENT Some(Named::Header)
    switch SWITCH Some(Named::Header)
    grade GRADE Some(Named::Header)
    housing HOUSING Some(Named::Header)
    gang GANG Some(Named::Header)
    element ELEMENT Some(Named::Edge)
    transducer TRANSDUCER Some(Named::Edge)
    block BLOCK Some(Named::Block)
}

fn keyword_and(c: &mut Cursor<'_, '_>, parts: &'static [Part], named: Option<Named>) -> Quick<Vec<Piece>> {
    c.bump()?;
    let mut out = Vec::with_capacity(6);
    if let Some(named) = named {
        out.extend(c.head(named));
    }
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
