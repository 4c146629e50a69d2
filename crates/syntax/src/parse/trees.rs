//! The items of a text to trees: sound ones quickly and each by itself, the others by the grammar afterwards.
//!
//! The grammar is built for tokens that outlive it and costs more to build than hundreds of sound lines to read. So the
//! tokens of the unusual items are kept, and it is built once for all of them, if there are any.

use super::{
    item::{Reader, lone_wire},
    statement::Sigs,
};
use crate::{
    SyntaxError,
    grammar::run::{Mode, Runner},
    layout::{Layout, Problem},
    step::step,
    tree::Item,
};
use std::sync::Arc;

/// An item's tree and errors; places are relative to its first byte.
type Tree = (Arc<Item>, Vec<SyntaxError>);

/// The trees of the first `count` items, in their order; all are there.
pub(super) fn trees(text: &str, layout: &Layout, count: usize) -> Vec<Option<Tree>> {
    let mut out: Vec<Option<Tree>> = Vec::with_capacity(count);
    let mut unusual: Vec<(usize, Sigs<'_>)> = Vec::new();
    let mut sigs = Sigs::default();
    for (index, item) in layout.items.iter().enumerate().take(count) {
        step();
        let problems = problems(layout, index);
        if problems.is_empty()
            && let Some(wire) = lone_wire(text, layout, item)
        {
            out.push(Some((Arc::new(wire), Vec::new())));
            continue;
        }
        sigs.read(text, layout, item);
        let runner = Runner::new(Mode::Quick);
        let tree = Reader::new(text, layout, &sigs, &runner, item).item(item, problems);
        let sound = !runner.gave_up();
        drop(runner);
        if sound {
            out.push(Some((Arc::new(tree.0), tree.1)));
        } else {
            unusual.push((index, std::mem::take(&mut sigs)));
            out.push(None);
        }
    }
    let runner = Runner::new(Mode::All);
    for (index, sigs) in &unusual {
        step();
        if let (Some(item), Some(place)) = (layout.items.get(*index), out.get_mut(*index)) {
            let reader = Reader::new(text, layout, sigs, &runner, item);
            let (tree, errors) = reader.item(item, problems(layout, *index));
            *place = Some((Arc::new(tree), errors));
        }
    }
    out
}

/// The trees of all items by the grammar alone, to compare with.
#[cfg(test)]
pub(super) fn by_grammar(text: &str, layout: &Layout) -> Vec<Option<Tree>> {
    let sigs = layout.items.iter().map(|item| {
        let mut sigs = Sigs::default();
        sigs.read(text, layout, item);
        sigs
    });
    let sigs: Vec<Sigs<'_>> = sigs.collect();
    let runner = Runner::new(Mode::Grammar);
    let items = layout.items.iter().zip(&sigs).enumerate();
    let trees = items.map(|(index, (item, sigs))| {
        Reader::new(text, layout, sigs, &runner, item).item(item, problems(layout, index))
    });
    trees.map(|(tree, errors)| Some((Arc::new(tree), errors))).collect()
}

/// How many items of a text are read without the grammar.
#[cfg(test)]
pub(super) fn quickly_read(text: &str, layout: &Layout) -> usize {
    let mut sigs = Sigs::default();
    let mut quick = |(index, item): (usize, &crate::layout::ItemLayout)| {
        if lone_wire(text, layout, item).is_some() {
            return true;
        }
        sigs.read(text, layout, item);
        let runner = Runner::new(Mode::Quick);
        Reader::new(text, layout, &sigs, &runner, item).item(item, problems(layout, index));
        !runner.gave_up()
    };
    layout.items.iter().enumerate().filter(|one| quick(*one)).count()
}

/// What the layout found wrong in an item.
pub(super) fn problems(layout: &Layout, item: usize) -> &[Problem] {
    let start = layout.problems.partition_point(|p| (p.item as usize) < item);
    let end = layout.problems.partition_point(|p| p.item as usize <= item);
    layout.problems.get(start..end).unwrap_or_default()
}
