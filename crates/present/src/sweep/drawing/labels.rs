//! Where words find room in the field: clear of the lines and of each other.

use super::{BOTTOM, Field, HEIGHT, LEFT, TOP, curves::Curves};
use crate::plot::svg::text_width;

/// Words at a place: where they begin, their base line.
pub(super) type Place = (f64, f64);

/// The room that is left.
pub(super) struct Labels<'a> {
    curves: &'a Curves,
    right: f64,
    /// Left, top, right, bottom of what stands already.
    taken: Vec<[f64; 4]>,
}

impl<'a> Labels<'a> {
    pub(super) fn new(curves: &'a Curves, field: &Field) -> Self {
        Self { curves, right: field.right, taken: Vec::new() }
    }

    /// Words stay clear of a line across the field too.
    pub(super) fn across(&mut self, y: f64) {
        self.taken.push([LEFT, y - 1.0, self.right, y + 1.0]);
    }

    /// The first of some places where the words fit and touch nothing; else the first where they fit; else the first.
    pub(super) fn place(&mut self, words: &str, size: f64, places: &[Place]) -> Place {
        let bounds = |&(x, y): &Place| [x, y - 0.8 * size, x + text_width(words, size), y + 0.25 * size];
        let fits = |place: &&Place| {
            let [left, top, right, bottom] = bounds(place);
            left >= LEFT && right <= self.right && top >= TOP - 1.0 && bottom <= HEIGHT - BOTTOM
        };
        let free = |place: &&Place| {
            let [left, top, right, bottom] = bounds(place);
            let apart = |t: &[f64; 4]| right < t[0] || left > t[2] || bottom < t[1] || top > t[3];
            !self.curves.crosses((left - 2.0, right + 2.0), (top - 1.0, bottom + 1.0))
                && self.taken.iter().all(apart)
        };
        let fitting = || places.iter().filter(fits);
        let found = fitting().find(free).or_else(|| fitting().next()).or(places.first());
        let place = found.copied().unwrap_or_default();
        self.taken.push(bounds(&place));
        place
    }
}
