//! Where the items of one version of a text are in a later one.

use crate::Source;
use keyon_syntax::tree::PlacedItem;
use std::{ops::Range, sync::Arc};

/// Both versions begin and end with the same items; what lies between is what an edit has touched.
#[derive(Clone, Debug)]
pub struct Moved {
    /// The first that may differ.
    before: usize,
    /// How many at the end are the same.
    after: usize,
    was: usize,
    is: usize,
}

impl Moved {
    /// Compares two versions of a text.
    pub fn new(old: &Source, new: &Source) -> Self {
        let (was, is) = (&old.parse.file.items, &new.parse.file.items);
        // Neighbours of an edit are read again, and the same.
        let same = |(a, b): &(&PlacedItem, &PlacedItem)| {
            Arc::ptr_eq(&a.item, &b.item) || old.item_text(a) == new.item_text(b)
        };
        let before = was.iter().zip(is).take_while(same).count();
        let left = was.len().min(is.len()) - before;
        let after = was.iter().rev().zip(is.iter().rev()).take(left).take_while(same).count();
        Self { before, after, was: was.len(), is: is.len() }
    }

    /// The items of the later version that differ.
    pub fn touched(&self) -> Range<usize> {
        self.before..self.is - self.after
    }

    /// Where an item is now; `None` for one that differs.
    pub fn item(&self, item: u32) -> Option<u32> {
        let at = item as usize;
        if at < self.before {
            return Some(item);
        }
        let from_end = self.was.checked_sub(at).filter(|&end| 0 < end && end <= self.after)?;
        Some((self.is - from_end) as u32)
    }
}
