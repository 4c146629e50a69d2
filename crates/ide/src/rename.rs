//! A new name for a thing, everywhere.

use crate::{View, place::name_at};
use keyon_circuit::{Entity, Occurrence, model::Loc};
use keyon_syntax::{Span, lexer};

/// The name that would be renamed at an offset, and its bytes. `None` where nothing can be.
pub fn prepare_rename(view: &View<'_>, offset: u32) -> Option<(Span, String)> {
    let (occurrence, span) = name_at(view, offset)?;
    let text = view.text().get(span.range())?.to_owned();
    let place = view.elaboration.definition(occurrence.entity)?;
    // Built-in parts are nobody's to rename; what stands for another file is its path.
    let library = view.elaboration.files.get(place.file.index())?;
    let built_in = view.elaboration.parts.iter().any(|p| p.built_in && p.loc.file == place.file);
    if built_in || matches!(occurrence.entity, Entity::Library(_)) || library.text.is_empty() {
        return None;
    }
    // A name that is written otherwise than where it is declared stands for it in another way.
    let declared = library.text.get(view.elaboration.span(place).range())?;
    (declared == text).then_some((span, text))
}

/// The places to change, in all files of the view. `Err`: why the new name cannot be.
pub fn rename(view: &View<'_>, offset: u32, new: &str) -> Result<Vec<Loc>, String> {
    let Some((_, old)) = prepare_rename(view, offset) else {
        return Err("there is no name here that can be changed".to_owned());
    };
    let Some((here, _)) = name_at(view, offset) else { return Ok(Vec::new()) };
    check(&old, new)?;
    if new != old {
        taken(view, here, new)?;
    }
    Ok(places(view, here, &old))
}

/// Every place of an entity's name that is written like this.
fn places(view: &View<'_>, here: Occurrence, old: &str) -> Vec<Loc> {
    let elaboration = view.elaboration;
    let place = elaboration.definition(here.entity);
    let same = |o: &&Occurrence| {
        o.entity == here.entity || place.is_some() && elaboration.definition(o.entity) == place
    };
    let written = |loc: Loc| {
        let file = elaboration.files.get(loc.file.index())?;
        file.text.get(elaboration.span(loc).range())
    };
    let mut found: Vec<Loc> = elaboration
        .names
        .iter()
        .filter(same)
        .map(|o| o.loc)
        .filter(|&loc| written(loc) == Some(old))
        .collect();
    found.sort_unstable();
    found.dedup();
    found
}

/// The places in a view of a name that another file declares: `declared` is that file's key and the bytes there.
pub fn uses_of(view: &View<'_>, declared: (&str, Span), old: &str) -> Vec<Loc> {
    let elaboration = view.elaboration;
    let at = elaboration.names.iter().find(|o| {
        elaboration.definition(o.entity).is_some_and(|loc| {
            elaboration.files.get(loc.file.index()).is_some_and(|f| f.key == declared.0)
                && elaboration.span(loc) == declared.1
        })
    });
    at.map_or_else(Vec::new, |&occurrence| places(view, occurrence, old))
}

/// Where the name at an offset is declared: the file's key and its bytes.
pub fn declared_at(view: &View<'_>, offset: u32) -> Option<(String, Span)> {
    let (occurrence, _) = name_at(view, offset)?;
    let loc = view.elaboration.definition(occurrence.entity)?;
    let file = view.elaboration.files.get(loc.file.index())?;
    Some((file.key.to_string(), view.elaboration.span(loc)))
}

/// Whether a text is one name, of the kind that the old one was.
fn check(old: &str, new: &str) -> Result<(), String> {
    let tokens = lexer::tokens(new);
    let number = old.starts_with(|c: char| c.is_ascii_digit());
    let kind = match tokens.as_slice() {
        [one] => one.kind,
        _ => return Err(format!("`{new}` is not one name: letters, digits and `_`, no blanks")),
    };
    use lexer::TokenKind::{Glued, Int, Text, Word};
    match kind {
        Word => Ok(()),
        // Wires, pins and cavities may be numbers.
        Int | Glued if number => Ok(()),
        Text if old.starts_with('"') => Ok(()),
        Int | Glued => Err(format!("`{new}` begins with a digit: only wires, pins and cavities may")),
        _ => Err(format!("`{new}` is no name: letters, digits and `_`, beginning with a letter")),
    }
}

/// Whether something of the same scope goes by the new name already.
fn taken(view: &View<'_>, here: Occurrence, new: &str) -> Result<(), String> {
    let circuit = &view.elaboration.circuit;
    let full = view.elaboration.name_of(here.entity);
    let qualified = match full.rsplit_once('.') {
        Some((owner, _)) => format!("{owner}.{new}"),
        None => new.to_owned(),
    };
    match circuit.lookup(&qualified).first() {
        Some(&other) if other != here.entity => {
            Err(format!("`{new}` is taken: {}", view.elaboration.describe(other)))
        }
        _ => Ok(()),
    }
}
