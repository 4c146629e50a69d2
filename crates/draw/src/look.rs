//! How a drawing looks: a pen for each wire and each point.

use crate::{block::Link, scene::Class};
use keyon_circuit::ids::{ElementId, PointId};

/// A stroke.
#[derive(Clone, Debug, PartialEq)]
pub struct Pen {
    /// `#rrggbb`.
    pub ink: String,
    /// Pixels.
    pub width: f64,
    /// Lengths of dashes and gaps; empty: solid.
    pub dashes: &'static str,
}

impl Pen {
    #[allow(missing_docs)]
    pub fn new(ink: &str, width: f64, dashes: &'static str) -> Self {
        Self { ink: ink.to_owned(), width, dashes }
    }
}

/// Asks something of a thing that is drawn.
pub(crate) type Asked<'a, T, R> = Box<dyn Fn(T) -> R + 'a>;

/// Says how marks look.
pub struct Look<'a> {
    /// The strokes of a wire, one over the other.
    pub link: Asked<'a, Link, Vec<Pen>>,
    /// Of a lead inside a symbol.
    pub lead: Asked<'a, PointId, Pen>,
    /// Whether a contact is drawn closed; `None`: as it stands at rest.
    pub closed: Option<Asked<'a, ElementId, bool>>,
    /// Whether a wire is interrupted: then each half carries what its own end carries, and a cross stands between.
    pub broken: Option<Asked<'a, Link, bool>>,
    /// What fills a load that works, `#rrggbb`.
    pub works: Option<Asked<'a, ElementId, Option<&'static str>>>,
    /// The strokes of a legend's entries, by their index, and what fills an area among them.
    pub sample: Option<Asked<'a, usize, (Pen, &'static str)>>,
    /// What a point is called: then each wire can be tapped, by its `data-at`.
    pub name: Option<Asked<'a, PointId, String>>,
    /// Ink of symbols and names.
    pub ink: &'static str,
    /// Ink of frames, linkages and wire labels.
    pub faint: &'static str,
}

impl std::fmt::Debug for Look<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Look").field("ink", &self.ink).finish_non_exhaustive()
    }
}

impl Look<'_> {
    /// Black on white.
    pub fn plain() -> Self {
        Self {
            link: Box::new(|_| vec![Pen::new("#111111", 1.3, "")]),
            lead: Box::new(|_| Pen::new("#111111", 1.3, "")),
            closed: None,
            broken: None,
            works: None,
            sample: None,
            name: None,
            ink: "#111111",
            faint: "#4d4d4d",
        }
    }

    /// Whether a mark is drawn at all: of a contact's blades the one that stands so.
    pub(crate) fn shows(&self, class: Class) -> bool {
        let Class::Blade { contact, closed, rest } = class else { return true };
        self.closed.as_ref().map_or(rest, |is_closed| is_closed(contact) == closed)
    }

    /// The strokes of a mark that is no wire.
    pub(crate) fn pen(&self, class: Class) -> Pen {
        match class {
            Class::Lead(point) => (self.lead)(point),
            Class::Tag(_) => Pen::new(self.ink, 0.9, ""),
            Class::Frame => Pen::new(self.faint, 1.0, ""),
            Class::Linkage => Pen::new(self.faint, 1.0, "4 3"),
            // On grey paper, and to whom no hue speaks, the heavier outline says it.
            Class::Load(load) if self.filling(load).is_some() => Pen::new(self.ink, 2.2, ""),
            Class::Sample(index) => {
                self.sample.as_ref().map_or_else(|| Pen::new(self.ink, 1.3, ""), |sample| sample(index).0)
            }
            _ => Pen::new(self.ink, 1.3, ""),
        }
    }

    /// What fills an area that is not black: frames let the wires' ground show, symbols cover what lies below.
    pub(crate) fn fill(&self, class: Class) -> &'static str {
        match class {
            Class::Frame => "none",
            Class::Load(load) => self.filling(load).unwrap_or(PAPER),
            Class::Sample(index) => self.sample.as_ref().map_or(PAPER, |sample| sample(index).1),
            _ => PAPER,
        }
    }

    fn filling(&self, load: ElementId) -> Option<&'static str> {
        self.works.as_ref().and_then(|works| works(load))
    }
}

const PAPER: &str = "#ffffff";
