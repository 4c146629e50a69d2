//! How large each block is, where its links land, and what it looks like.

mod bars;
mod device;
mod module;
mod underside;
mod values;

use crate::{
    block::{Block, Net, Thing},
    layer::{Layers, Side},
    scene::{Class, Mark, Sketch, Words, width_of},
};
use keyon_circuit::model::Circuit;

pub(crate) use crate::glyph::STEP;
pub(crate) use module::inside;

/// Letters of names and values.
pub(crate) const LABEL: f64 = 10.0;
/// Letters of pins and notes.
pub(crate) const SMALL: f64 = 8.0;

/// Where a link lands on a block.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Slot {
    /// Steps from the block's left edge.
    pub(crate) x: i32,
    pub(crate) side: Side,
}

/// A block with its size.
#[derive(Clone, Debug, Default)]
pub(crate) struct Body {
    /// Steps.
    pub(crate) width: i32,
    /// Pixels.
    pub(crate) height: f64,
    /// Of each landing, in the order of [`Landings`].
    pub(crate) slots: Vec<Slot>,
    pub(crate) marks: Vec<Mark>,
    /// Where no wire may pass: left, top, right, bottom, in pixels from the upper left corner.
    pub(crate) solid: Vec<[f64; 4]>,
}

/// The link ends that land on a block: link, which end, pin, side.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Landing {
    pub(crate) link: usize,
    pub(crate) end: usize,
    pub(crate) pin: usize,
    pub(crate) side: Side,
    /// Where the other end would like it: set while the order is sought.
    pub(crate) wish: f64,
}

/// The landings of each block.
pub(crate) fn landings(net: &Net, layers: &Layers) -> Vec<Vec<Landing>> {
    let mut all = vec![Vec::new(); net.blocks.len()];
    for (link, (l, sides)) in net.links.iter().zip(&layers.sides).enumerate() {
        for end in [0, 1] {
            let (block, pin) = l.ends[end];
            all[block].push(Landing { link, end, pin, side: sides[end], wish: 0.0 });
        }
    }
    all
}

/// Makes a block's body. Landings keep their order; where they stand follows their wishes.
pub(crate) fn body(circuit: &Circuit, block: &Block, landings: &[Landing]) -> Body {
    match block.thing {
        Thing::Device(d) => device::body(circuit, d, block, landings),
        Thing::Module(m) => module::body(circuit, m, block, landings),
        Thing::Fuse(_) | Thing::Inline(..) => bars::in_line(circuit, block, landings),
        _ => bars::bar(circuit, block, landings),
    }
}

/// The names of a thing: its name, then what else is said, in lines.
pub(crate) fn wrapped(text: &str, letters: usize, most: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= letters => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    if lines.len() > most {
        lines.truncate(most);
        if let Some(last) = lines.last_mut() {
            last.push('…');
        }
    }
    lines.into_iter().map(|line| cut(&line, letters + 6)).collect()
}

/// At most so many letters.
pub(crate) fn cut(text: &str, letters: usize) -> String {
    if text.chars().count() <= letters {
        return text.to_owned();
    }
    text.chars().take(letters.saturating_sub(1)).chain(['…']).collect()
}

/// Steps that pixels take.
pub(crate) fn steps(pixels: f64) -> i32 {
    (pixels / STEP).ceil() as i32
}

/// A column of lines: the first bold.
pub(crate) struct Column {
    pub(crate) lines: Vec<String>,
}

impl Column {
    pub(crate) fn new(name: &str, rest: impl IntoIterator<Item = String>) -> Self {
        let mut lines = vec![cut(name, 24)];
        lines.extend(rest.into_iter().filter(|line| !line.is_empty()));
        Self { lines }
    }
    pub(crate) fn width(&self) -> f64 {
        self.lines.iter().map(|line| width_of(line, LABEL)).fold(0.0, f64::max)
    }
    pub(crate) fn height(&self) -> f64 {
        self.lines.len() as f64 * (LABEL + 2.0)
    }
    /// Draws it with its upper left corner at `(x, y)`.
    pub(crate) fn draw(&self, (x, y): (f64, f64), sketch: &mut Sketch) {
        for (i, line) in self.lines.iter().enumerate() {
            let at = (x, y + LABEL * 0.85 + i as f64 * (LABEL + 2.0));
            if i == 0 { sketch.bold(at, line, LABEL) } else { sketch.text(at, line, LABEL) }
        }
    }
}

/// A small text in the middle of a place.
pub(crate) fn middle(at: (f64, f64), text: &str, size: f64, class: Class, sketch: &mut Sketch) {
    let words = Words { at, text: text.to_owned(), size, bold: false, middle: true, upright: false };
    sketch.words(class, words);
}
