//! The cavities on a module's lower edge: number, symbol and name, from the edge inwards.

use super::{
    SMALL, STEP, cut, middle,
    module::{NUMBERS, SYMBOLS, inside},
};
use crate::scene::{At, Class, Mark, Shape, Sketch, Words, width_of};
use keyon_circuit::model::{Cavity, Circuit, Module, Role};

/// Steps from one to the next: numbers have their connector's name before them.
const APART: i32 = 3;

/// A cavity whose wire leaves below.
pub(super) struct Leaving<'a> {
    pub(super) connector: &'a str,
    pub(super) cavity: &'a Cavity,
    pub(super) lead: Class,
}

/// All of them.
pub(super) struct Underside<'a> {
    those: Vec<Leaving<'a>>,
    /// Pixels that names take with the symbols below them.
    highest: f64,
}

impl<'a> Underside<'a> {
    pub(super) fn new(those: Vec<Leaving<'a>>) -> Self {
        let high = |l: &Leaving<'_>| symbol_high(l.cavity) + width_of(&cut(&l.cavity.name, 16), SMALL);
        let highest = those.iter().map(high).fold(0.0, f64::max);
        Self { those, highest }
    }

    /// Steps.
    pub(super) fn width(&self) -> i32 {
        APART * self.those.len() as i32
    }

    /// Pixels.
    pub(super) fn height(&self) -> f64 {
        if self.those.is_empty() { 0.0 } else { NUMBERS + self.highest + 6.0 }
    }

    /// Draws them from a step on, above the lower edge, and says at which step each stands.
    pub(super) fn draw(
        &self,
        circuit: &Circuit,
        module: &Module,
        (first, edge): (i32, f64),
        sketch: &mut Sketch,
    ) -> Vec<i32> {
        let mut at = Vec::with_capacity(self.those.len());
        for (n, leaving) in self.those.iter().enumerate() {
            let step = first + APART * n as i32;
            let x = f64::from(step) * STEP;
            let (connector, cavity) = (leaving.connector, leaving.cavity);
            let number = match connector {
                "" => cavity.number.to_string(),
                _ => format!("{connector}.{}", cavity.number),
            };
            middle((x, edge - 3.5), &cut(&number, 7), SMALL, Class::Text, sketch);
            if symbol_high(cavity) > 0.0 {
                let mut upright = Sketch::default();
                inside(circuit, module, cavity, leaving.lead, (x, 0.0), &mut upright);
                sketch.0.extend(upright.0.into_iter().map(|mark| turned(mark, edge - NUMBERS - 3.0)));
            }
            let name = (x + SMALL * 0.3, edge - NUMBERS - symbol_high(cavity));
            let text = cut(&cavity.name, 16);
            let words = Words { at: name, text, size: SMALL, bold: false, middle: false, upright: true };
            sketch.words(Class::Text, words);
            at.push(step);
        }
        at
    }
}

/// Pixels of its symbol. A ground has none: below its wire stands that of the ground itself.
fn symbol_high(cavity: &Cavity) -> f64 {
    if cavity.role == Role::Ground { 0.0 } else { SYMBOLS }
}

/// A mark turned over, with what was at zero at `edge`; letters stay upright.
fn turned(mark: Mark, edge: f64) -> Mark {
    let over = |(x, y): At| (x, edge - y);
    let all = |points: Vec<At>| points.into_iter().map(over).collect();
    let shape = match mark.shape {
        Shape::Line(points) => Shape::Line(all(points)),
        Shape::Area(points, filled) => Shape::Area(all(points), filled),
        Shape::Circle(at, radius, filled) => Shape::Circle(over(at), radius, filled),
        Shape::Curve(at, curves) => Shape::Curve(over(at), curves.into_iter().map(|c| c.map(over)).collect()),
        Shape::Text(words) => {
            let at = over((words.at.0, words.at.1 - words.size * 0.7));
            Shape::Text(Words { at, ..words })
        }
    };
    Mark { class: mark.class, shape }
}
