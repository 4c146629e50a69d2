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
    /// Of a contact that stood otherwise before: the strokes of its blade where it stands, and of one where it stood.
    pub moved: Option<Asked<'a, ElementId, Option<[Pen; 2]>>>,
    /// The outline of a load of which something is to be said, and what fills it, `#rrggbb`.
    pub works: Option<Asked<'a, ElementId, Option<(Pen, &'static str)>>>,
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
            moved: None,
            works: None,
            sample: None,
            name: None,
            ink: "#111111",
            faint: "#4d4d4d",
        }
    }

    /// Whether a mark is drawn at all: of a contact's blades the one that stands so, and the other where it has moved.
    pub(crate) fn shows(&self, class: Class) -> bool {
        match class {
            Class::Blade { contact, .. } => self.stands(class) || self.moved(contact).is_some(),
            Class::Neutral { .. } => self.stands(class) || self.neutral_moved(class).is_some(),
            _ => true,
        }
    }

    /// Whether a blade stands as a mark draws it.
    fn stands(&self, class: Class) -> bool {
        let closed = |contact| self.closed.as_ref().map(|is_closed| is_closed(contact));
        match class {
            Class::Blade { contact, closed: drawn, rest } => closed(contact).map_or(rest, |is| is == drawn),
            Class::Neutral { throws: [a, b], rest } => {
                closed(a).zip(closed(b)).map_or(rest, |(a, b)| !a && !b)
            }
            _ => false,
        }
    }

    /// Where only one of two throws has changed, the blade stands between them or stood there.
    fn neutral_moved(&self, class: Class) -> Option<[Pen; 2]> {
        let Class::Neutral { throws: [a, b], .. } = class else { return None };
        let (a, b) = (self.moved(a), self.moved(b));
        if a.is_some() == b.is_some() { None } else { a.or(b) }
    }

    fn moved(&self, contact: ElementId) -> Option<[Pen; 2]> {
        self.moved.as_ref().and_then(|moved| moved(contact))
    }

    /// The strokes of a mark that is no wire.
    pub(crate) fn pen(&self, class: Class) -> Pen {
        let plain = || Pen::new(self.ink, 1.3, "");
        match class {
            Class::Lead(point) => (self.lead)(point),
            Class::Tag(_) => Pen::new(self.ink, 0.9, ""),
            Class::Frame => Pen::new(self.faint, 1.0, ""),
            Class::Linkage => Pen::new(self.faint, 1.0, "4 3"),
            Class::Load(load) => self.working(load).map_or_else(plain, |working| working.0),
            Class::Blade { contact, .. } => self.blade(class, self.moved(contact)),
            Class::Neutral { .. } => self.blade(class, self.neutral_moved(class)),
            Class::Sample(index) => self.sample.as_ref().map_or_else(plain, |sample| sample(index).0),
            _ => plain(),
        }
    }

    fn blade(&self, class: Class, moved: Option<[Pen; 2]>) -> Pen {
        let Some([stands, stood]) = moved else { return Pen::new(self.ink, 1.3, "") };
        if self.stands(class) { stands } else { stood }
    }

    /// What fills an area that is not black: frames let the wires' ground show, symbols cover what lies below.
    pub(crate) fn fill(&self, class: Class) -> &'static str {
        match class {
            Class::Frame => "none",
            Class::Load(load) => self.working(load).map_or(PAPER, |w| w.1),
            Class::Sample(index) => self.sample.as_ref().map_or(PAPER, |sample| sample(index).1),
            _ => PAPER,
        }
    }

    fn working(&self, load: ElementId) -> Option<(Pen, &'static str)> {
        self.works.as_ref().and_then(|works| works(load))
    }
}

const PAPER: &str = "#ffffff";
