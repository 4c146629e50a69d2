//! What is said of a wire at its ends: words beside it, and small signs that stand on it.

use crate::{
    block::Link,
    body::SMALL,
    scene::{At, Class, Mark, Shape, Words, width_of},
};

/// From the middle of one tag to the next, in pixels.
pub(crate) const TAG: f64 = 14.0;
/// Half of a tag's width: two wires side by side leave no more.
const HALF: f64 = 5.6;

/// A sign on a wire: a letter in a circle, a number in a square.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tag {
    #[allow(missing_docs)]
    pub text: String,
    /// In a circle; else in a square.
    pub round: bool,
}

/// What stands at an end of a link.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Said {
    /// Beside the link, reading upwards.
    pub text: String,
    /// On the link, from the end inwards.
    pub tags: Vec<Tag>,
}

/// How much room that takes.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Room {
    /// Pixels along the link; none where no text stands there.
    pub(crate) text: Option<f64>,
    /// How many tags stand there.
    pub(crate) tags: usize,
}

/// What stands at one of a link's ends (index into its points); `true`: its lower end.
pub type Labels<'a> = &'a dyn Fn(&Link, usize, bool) -> Option<Said>;

/// How much room that has. `None`: there is none.
pub type Rooms<'a> = &'a dyn Fn(&Link, usize, bool) -> Option<Room>;

impl From<String> for Said {
    fn from(text: String) -> Self {
        Self { text, tags: Vec::new() }
    }
}

impl Said {
    /// The room that it takes.
    pub fn room(&self) -> Room {
        let text = (!self.text.is_empty()).then(|| width_of(&self.text, SMALL));
        Room { text, tags: self.tags.len() }
    }
}

impl Room {
    /// For the longer of two texts, and the more tags.
    pub(crate) fn grow(&mut self, other: Self) {
        *self = self.or(other);
    }

    /// The room for whichever of two will be said.
    #[must_use]
    pub fn or(self, other: Self) -> Self {
        let text = match (self.text, other.text) {
            (Some(a), Some(b)) => Some(a.max(b)),
            (a, b) => a.or(b),
        };
        Self { text, tags: self.tags.max(other.tags) }
    }

    /// Pixels from the end of a link to its tags.
    pub(crate) fn text_height(&self) -> f64 {
        self.text.map_or(2.0, |text| text + 8.0)
    }

    /// Pixels from the end of a link to where nothing is said any more.
    pub(crate) fn height(&self) -> f64 {
        if self.text.is_none() && self.tags == 0 { 0.0 } else { self.text_height() + self.tags as f64 * TAG }
    }
}

impl Tag {
    /// Its marks, on the link of that index, with its middle at a place.
    pub(crate) fn marks(&self, (x, y): At, link: usize) -> [Mark; 2] {
        let class = Class::Tag(link);
        let shape = if self.round {
            Shape::Circle((x, y), HALF, false)
        } else {
            let (left, top, right, bottom) = (x - HALF, y - HALF, x + HALF, y + HALF);
            Shape::Area(vec![(left, top), (right, top), (right, bottom), (left, bottom)], false)
        };
        // What does not fit is written smaller.
        let most = 2.0 * HALF - 1.6;
        let size = (SMALL + 1.0).min(SMALL * most / width_of(&self.text, SMALL).max(1.0));
        let at = (x, y + size * 0.36);
        let words = Words { at, text: self.text.clone(), size, bold: true, middle: true, upright: false };
        [Mark { class, shape }, Mark { class, shape: Shape::Text(words) }]
    }
}
