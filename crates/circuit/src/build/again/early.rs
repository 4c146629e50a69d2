//! What is wrong with the names and values of a few items, told before all of the circuit is elaborated.
//!
//! The items are read as if there were no others but those that declare what they name, by what was known of the circuit
//! before. What that finds in them is what the whole will find, as a rule; whoever shows it shows that of the whole when it is there.

use super::{Builder, of_item, owner, shows_what_is_reached, stands_alone};
use crate::{Elaboration, Entity, Moved, Problem, Source, hash::Map, ids::FileId, libraries::Libraries};
use keyon_syntax::{
    lexer::{TokenKind, tokens},
    tree::PlacedItem,
};
use std::ops::Range;

/// More items than this are better read with all others.
const MOST: usize = 8;

/// The problems of some items of a file, by what was known of an earlier version of it. `None` where they hang on more than what
/// they name, or the text as a whole cannot be read.
pub(crate) fn early(
    before: &Elaboration,
    files: &[Source],
    libraries: &Libraries<'_>,
    items: Range<usize>,
) -> Option<Vec<Problem>> {
    let (old, new) = (before.files.first()?, files.first()?);
    let touched = new.parse.file.items.get(items.clone())?;
    let alone = |placed: &PlacedItem| {
        stands_alone(&placed.item.kind) && !shows_what_is_reached(Some(placed)) && !placed.item.damaged
    };
    let sound = new.parse.errors.is_empty() && old.key == new.key && !before.library;
    if !sound || touched.len() > MOST || !touched.iter().all(alone) {
        return None;
    }
    let moved = Moved::new(old, new);
    // Something that is named was declared in what the edit has touched: it may be there no more, and near to nothing.
    let mut gone = false;
    let mut only: Vec<u32> = items.clone().map(|item| item as u32).collect();
    for placed in touched {
        let text = new.item_text(placed)?;
        let words = tokens(text).into_iter().filter(|token| {
            use TokenKind::{Dec, DigitPath, Exp, Glued, Int, Path, Word};
            matches!(token.kind, Word | Path | DigitPath | Glued | Int | Exp | Dec)
        });
        for word in words {
            let word = word.text(text);
            // Of a path that leads nowhere its beginning may be known.
            let ends = word.match_indices('.').map(|(at, _)| at).chain([word.len()]);
            for entity in ends.flat_map(|end| before.circuit.lookup(word.get(..end).unwrap_or_default())) {
                // Their sides are taken in the order of all wires.
                if matches!(entity, Entity::Inline(_) | Entity::InlineCavity(..)) {
                    return None;
                }
                let places = [before.definition(entity), owner(&before.circuit, entity)];
                for loc in places.into_iter().flatten().filter(|loc| loc.file == FileId(0)) {
                    match moved.item(loc.item) {
                        Some(item) => only.push(item),
                        None => gone = true,
                    }
                }
            }
        }
    }
    only.extend(before.circuit.supplies.first().and_then(|supply| moved.item(supply.loc.item)));
    only.sort_unstable();
    only.dedup();
    let built = Builder::some(files, libraries, &only, Map::default(), false, Some(&before.circuit));
    let found = items.flat_map(|item| {
        let range = of_item(&built.problems, item as u32, |problem| problem.loc);
        built.problems.get(range).unwrap_or_default().to_vec()
    });
    let found: Vec<Problem> = found.collect();
    (!gone || found.is_empty()).then_some(found)
}
