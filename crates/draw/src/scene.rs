//! What a drawing consists of: strokes, areas and texts, each with what it stands for.

use keyon_circuit::ids::{ElementId, PointId};

/// A place on the sheet: right and down, in pixels of 1/96 inch.
pub type At = (f64, f64);

/// What a mark stands for; it decides how it looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Class {
    /// A wire of the loom: index into the links of the drawing.
    Link(usize),
    /// A lead inside a symbol, or a bar: it carries what its point carries.
    Lead(PointId),
    /// The body of a symbol.
    Symbol,
    /// The body of a load: it shows whether it works.
    Load(ElementId),
    /// The blade of a contact: one is drawn of the two.
    Blade {
        #[allow(missing_docs)]
        contact: ElementId,
        /// It conducts where it stands like this.
        closed: bool,
        /// It stands like this at rest.
        rest: bool,
    },
    /// The blade between two throws: drawn where it rests on neither.
    Neutral {
        #[allow(missing_docs)]
        throws: [ElementId; 2],
        /// It stands like this at rest.
        rest: bool,
    },
    /// The outline of a device or module.
    Frame,
    /// What moves together.
    Linkage,
    /// A label.
    Text,
    /// A label that stands back.
    Faint,
    /// A sign that stands on a wire: index into the links of the drawing.
    Tag(usize),
    /// What a legend shows: index into its entries.
    Sample(usize),
}

/// A mark.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// An open line.
    Line(Vec<At>),
    /// A closed line; filled with ink or with paper.
    Area(Vec<At>, bool),
    /// Centre, radius; filled with ink or with paper.
    Circle(At, f64, bool),
    /// Cubic curves: a start, then pairs of handles and ends.
    Curve(At, Vec<[At; 3]>),
    /// A text.
    Text(Words),
}

/// A text on the sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Words {
    /// Where its base line begins, or has its middle.
    pub at: At,
    #[allow(missing_docs)]
    pub text: String,
    /// Height of the letters' box, in pixels.
    pub size: f64,
    #[allow(missing_docs)]
    pub bold: bool,
    /// It stands with its middle at `at`.
    pub middle: bool,
    /// It reads upwards.
    pub upright: bool,
}

/// A mark and what it stands for.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    #[allow(missing_docs)]
    pub class: Class,
    #[allow(missing_docs)]
    pub shape: Shape,
}

/// A drawing before it is given a look.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Scene {
    /// Width and height in pixels.
    pub size: At,
    /// Later ones lie above.
    pub marks: Vec<Mark>,
    /// Where symbols stand: no wire passes here. Left, top, right, bottom.
    pub bodies: Vec<[f64; 4]>,
}

/// Width of a letter, of its size: the drawing's face has letters of one width.
pub const LETTER: f64 = 0.6;

/// How wide a text is at a size, in pixels.
pub fn width_of(text: &str, size: f64) -> f64 {
    // What lies outside the Latin and Greek letters may be as wide as it is high.
    text.chars().map(|c| if u32::from(c) < 0x1100 { LETTER } else { 1.0 }).sum::<f64>() * size
}

impl Words {
    /// The box that it fills: left, top, right, bottom.
    pub fn bounds(&self) -> [f64; 4] {
        let (x, y) = self.at;
        let long = width_of(&self.text, self.size);
        let before = if self.middle { long / 2.0 } else { 0.0 };
        let (up, down) = (self.size * 0.76, self.size * 0.2);
        if self.upright {
            [x - up, y + before - long, x + down, y + before]
        } else {
            [x - before, y - up, x - before + long, y + down]
        }
    }
}

impl Scene {
    /// Adds marks that were made with their own origin.
    pub fn add(&mut self, (dx, dy): At, marks: &[Mark]) {
        let shift = |(x, y): At| (x + dx, y + dy);
        let all = |points: &[At]| points.iter().map(|&p| shift(p)).collect::<Vec<_>>();
        for mark in marks {
            let shape = match &mark.shape {
                Shape::Line(points) => Shape::Line(all(points)),
                Shape::Area(points, filled) => Shape::Area(all(points), *filled),
                Shape::Circle(at, radius, filled) => Shape::Circle(shift(*at), *radius, *filled),
                Shape::Curve(at, curves) => {
                    Shape::Curve(shift(*at), curves.iter().map(|c| c.map(shift)).collect())
                }
                Shape::Text(words) => Shape::Text(Words { at: shift(words.at), ..words.clone() }),
            };
            self.marks.push(Mark { class: mark.class, shape });
        }
    }
}

/// Collects the marks of one symbol.
#[derive(Clone, Debug, Default)]
pub(crate) struct Sketch(pub(crate) Vec<Mark>);

impl Sketch {
    fn push(&mut self, class: Class, shape: Shape) {
        self.0.push(Mark { class, shape });
    }
    pub(crate) fn line(&mut self, class: Class, points: &[At]) {
        self.push(class, Shape::Line(points.to_vec()));
    }
    pub(crate) fn area(&mut self, class: Class, points: &[At], filled: bool) {
        self.push(class, Shape::Area(points.to_vec(), filled));
    }
    pub(crate) fn rect(&mut self, class: Class, [left, top, right, bottom]: [f64; 4]) {
        self.area(class, &[(left, top), (right, top), (right, bottom), (left, bottom)], false);
    }
    pub(crate) fn circle(&mut self, class: Class, at: At, radius: f64) {
        self.push(class, Shape::Circle(at, radius, false));
    }
    pub(crate) fn dot(&mut self, class: Class, at: At) {
        self.push(class, Shape::Circle(at, 4.0, true));
    }
    pub(crate) fn curve(&mut self, class: Class, from: At, curves: Vec<[At; 3]>) {
        self.push(class, Shape::Curve(from, curves));
    }
    pub(crate) fn words(&mut self, class: Class, words: Words) {
        if !words.text.is_empty() {
            self.push(class, Shape::Text(words));
        }
    }
    pub(crate) fn text(&mut self, at: At, text: &str, size: f64) {
        let words = Words { at, text: text.to_owned(), size, bold: false, middle: false, upright: false };
        self.words(Class::Text, words);
    }
    pub(crate) fn bold(&mut self, at: At, text: &str, size: f64) {
        let words = Words { at, text: text.to_owned(), size, bold: true, middle: false, upright: false };
        self.words(Class::Text, words);
    }
}
