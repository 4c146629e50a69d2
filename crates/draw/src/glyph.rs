//! Symbols of elements, after the forms of IEC 60617, drawn by us. Each stands in a box with its terminals at the edge.

use crate::{
    changeover::{self, Throw},
    layer::Side,
    scene::{At, Class, Sketch, width_of},
};
use keyon_circuit::{
    ids::{ElementId, PointId},
    model::{Circuit, Element, ElementKind, FuseKind},
};

/// Pixels of one step across.
pub(crate) const STEP: f64 = 12.0;
/// Height of a symbol, leads included.
pub(crate) const HIGH: f64 = 46.0;

/// Letters of what is said beside a symbol.
pub(crate) const NOTE: f64 = 8.0;

/// An element, or the two halves of a track, about to be drawn.
#[derive(Clone, Debug)]
pub(crate) struct Glyph {
    pub(crate) element: ElementId,
    pub(crate) kind: ElementKind,
    /// The ends: inside points.
    pub(crate) ends: [PointId; 2],
    /// A wiper's or a transducer's output.
    pub(crate) third: Option<PointId>,
    /// A contact that opens where it acts.
    pub(crate) breaks: bool,
    /// Something moves it.
    pub(crate) moved: bool,
    /// What stands beside it inside a frame.
    pub(crate) note: String,
    /// Of contacts with one blade: where it may rest. `ends` are the common terminal and the first of these.
    pub(crate) throws: Vec<Throw>,
}

/// Where a glyph's terminals are: steps across from its left edge, and the side.
#[derive(Clone, Debug)]
pub(crate) struct Placed {
    pub(crate) width: i32,
    /// The two ends, then the third.
    pub(crate) terminals: Vec<(PointId, i32, Side)>,
}

impl Glyph {
    /// Where its terminals go when its ends shall leave at `sides` and its third terminal at `third`.
    pub(crate) fn place(&self, sides: [Side; 2], third: Side) -> Placed {
        if !self.throws.is_empty() {
            return changeover::place(self, sides[0]);
        }
        let [a, b] = self.ends;
        let (width, xs, third_x) = if sides[0] != sides[1] {
            if self.third.is_some() { (5, [1, 1], 4) } else { (2, [1, 1], 0) }
        } else if self.third.is_some() {
            (6, [1, 5], 3)
        } else {
            // What is said of it stands between its leads.
            let noted = (width_of(&self.note, NOTE) / STEP).ceil() as i32 + 1;
            let far = 1 + noted.max(3);
            (far + 1, [1, far], 0)
        };
        let mut terminals = vec![(a, xs[0], sides[0]), (b, xs[1], sides[1])];
        if let Some(point) = self.third {
            terminals.push((point, third_x, third));
        }
        Placed { width, terminals }
    }

    /// Draws it with its upper left corner at `(x, y)`.
    pub(crate) fn draw(&self, placed: &Placed, (x, y): At, sketch: &mut Sketch) {
        if !self.throws.is_empty() {
            return changeover::draw(self, placed, (x, y), sketch);
        }
        let [a, b] = [0, 1].map(|i| placed.terminals.get(i).copied());
        let (Some((pa, xa, sa)), Some((pb, xb, sb))) = (a, b) else { return };
        let middle = y + HIGH / 2.0;
        let edge = |side: Side| if side == Side::Top { y } else { y + HIGH };
        if sa != sb {
            let x = x + f64::from(xa) * STEP;
            let turn = if sa == Side::Top { Frame::Down } else { Frame::Up };
            let frame = Frame2 { at: (x, middle), turn };
            let half = self.half();
            sketch.line(Class::Lead(pa), &[(x, edge(sa)), frame.map((-half, 0.0))]);
            sketch.line(Class::Lead(pb), &[frame.map((half, 0.0)), (x, edge(sb))]);
            self.body(&frame, sketch);
            self.third_lead(placed, (x, middle), edge, true, (x - f64::from(xa) * STEP, y), sketch);
        } else {
            let (left, right) = (x + f64::from(xa) * STEP, x + f64::from(xb) * STEP);
            let frame = Frame2 { at: ((left + right) / 2.0, middle), turn: Frame::Right };
            let half = self.half();
            sketch.line(Class::Lead(pa), &[(left, edge(sa)), (left, middle), frame.map((-half, 0.0))]);
            sketch.line(Class::Lead(pb), &[frame.map((half, 0.0)), (right, middle), (right, edge(sb))]);
            self.body(&frame, sketch);
            self.third_lead(placed, frame.at, edge, false, (x, y), sketch);
        }
    }

    /// The arrow of a wiper, the output of a transducer.
    fn third_lead(
        &self,
        placed: &Placed,
        (cx, cy): At,
        edge: impl Fn(Side) -> f64,
        vertical: bool,
        (x, _): At,
        sketch: &mut Sketch,
    ) {
        let Some(&(point, step, side)) = placed.terminals.get(2) else { return };
        let tx = x + f64::from(step) * STEP;
        let arrow = matches!(self.kind, ElementKind::Track(_));
        if vertical {
            let tip = (cx + 5.0, cy);
            sketch.line(
                Class::Lead(point),
                &[(tx, edge(side)), (tx, cy), (tip.0 + if arrow { 6.0 } else { 4.0 }, cy)],
            );
            if arrow {
                let back = tip.0 + 7.0;
                sketch.area(Class::Lead(point), &[tip, (back, cy - 3.2), (back, cy + 3.2)], true);
            }
        } else {
            let away = if side == Side::Bottom { 1.0 } else { -1.0 };
            let tip = (tx, cy + 5.0 * away);
            sketch.line(
                Class::Lead(point),
                &[(tx, edge(side)), (tx, tip.1 + if arrow { 6.0 * away } else { 4.0 * away })],
            );
            if arrow {
                let back = tip.1 + 7.0 * away;
                sketch.area(Class::Lead(point), &[tip, (tx - 3.2, back), (tx + 3.2, back)], true);
            }
        }
    }

    /// Half of the body's length along the current.
    fn half(&self) -> f64 {
        match self.kind {
            ElementKind::Lamp => 9.0,
            ElementKind::Winding => 11.0,
            ElementKind::Diode => 6.0,
            ElementKind::Coil => 8.0,
            _ => 12.0,
        }
    }

    fn body(&self, f: &Frame2, sketch: &mut Sketch) {
        let s = if self.kind.is_load() { Class::Load(self.element) } else { Class::Symbol };
        let line = |sketch: &mut Sketch, points: &[At]| {
            sketch.line(Class::Symbol, &points.iter().map(|&p| f.map(p)).collect::<Vec<_>>());
        };
        let long_box = [(-12.0, -5.0), (12.0, -5.0), (12.0, 5.0), (-12.0, 5.0)].map(|p| f.map(p));
        match self.kind {
            ElementKind::Lamp => {
                sketch.circle(s, f.at, 9.0);
                let d = 9.0 * std::f64::consts::FRAC_1_SQRT_2;
                line(sketch, &[(-d, -d), (d, d)]);
                line(sketch, &[(-d, d), (d, -d)]);
            }
            ElementKind::Winding => {
                sketch.circle(s, f.at, 11.0);
                sketch.words(
                    Class::Text,
                    crate::scene::Words {
                        at: (f.at.0, f.at.1 + 4.2),
                        text: "M".into(),
                        size: 11.0,
                        bold: true,
                        middle: true,
                        upright: false,
                    },
                );
            }
            ElementKind::Coil => {
                // The coil of something that it moves: wide across the current.
                let across = [(-8.0, -10.0), (8.0, -10.0), (8.0, 10.0), (-8.0, 10.0)].map(|p| f.map(p));
                sketch.area(s, &across, false);
                line(sketch, &[(-8.0, -4.0), (8.0, 4.0)]);
            }
            ElementKind::Diode => {
                sketch.area(s, &[(-6.0, -6.0), (6.0, 0.0), (-6.0, 6.0)].map(|p| f.map(p)), true);
                line(sketch, &[(6.0, -6.5), (6.0, 6.5)]);
            }
            ElementKind::Contact => {
                sketch.circle(s, f.map((-12.0, 0.0)), 1.8);
                sketch.circle(s, f.map((12.0, 0.0)), 1.8);
                // Both positions of its blade, of which one will be shown.
                let mut blade = |closed: bool, end: At| {
                    let class = Class::Blade { contact: self.element, closed, rest: closed == self.breaks };
                    sketch.line(class, &[(-10.6, -0.8), end].map(|p| f.map(p)));
                };
                if self.breaks {
                    blade(true, (13.0, -5.0));
                    blade(false, (9.0, -12.0));
                    line(sketch, &[(10.0, -6.0), (10.0, -2.0)]);
                } else {
                    blade(false, (9.0, -9.0));
                    blade(true, (10.6, -0.8));
                }
            }
            ElementKind::Fuse(kind) => {
                sketch.area(s, &long_box, false);
                match kind {
                    FuseKind::Breaker => line(sketch, &[(-5.0, -5.0), (5.0, 5.0)]),
                    _ => line(sketch, &[(-12.0, 0.0), (12.0, 0.0)]),
                }
                // Pulled, or blown.
                let gone = Class::Blade { contact: self.element, closed: false, rest: false };
                for turn in [1.0, -1.0] {
                    sketch.line(gone, &[(-8.0, -8.0 * turn), (8.0, 8.0 * turn)].map(|p| f.map(p)));
                }
            }
            ElementKind::Thermistor => {
                sketch.area(s, &long_box, false);
                line(sketch, &[(-11.0, 9.0), (-6.0, 9.0), (7.0, -9.0)]);
            }
            ElementKind::Variable => {
                sketch.area(s, &long_box, false);
                line(sketch, &[(-10.0, 9.0), (10.0, -9.0)]);
                sketch.area(s, &[(10.0, -9.0), (4.0, -7.6), (7.6, -3.6)].map(|p| f.map(p)), true);
            }
            ElementKind::Heater => {
                sketch.area(s, &long_box, false);
                for x in [-6.0, 0.0, 6.0] {
                    line(sketch, &[(x, -5.0), (x, 5.0)]);
                }
            }
            ElementKind::Transducer => {
                sketch.area(
                    s,
                    &[(-12.0, -9.0), (12.0, -9.0), (12.0, 9.0), (-12.0, 9.0)].map(|p| f.map(p)),
                    false,
                );
                line(sketch, &[(-12.0, 9.0), (12.0, -9.0)]);
            }
            _ => sketch.area(s, &long_box, false),
        }
    }
}

/// Which way the current's line runs on the sheet.
#[derive(Clone, Copy, Debug)]
enum Frame {
    Down,
    Up,
    Right,
}

/// A symbol's own axes: along the current, and across.
#[derive(Clone, Copy, Debug)]
struct Frame2 {
    at: At,
    turn: Frame,
}

impl Frame2 {
    fn map(&self, (along, across): At) -> At {
        let (x, y) = self.at;
        match self.turn {
            Frame::Down => (x - across, y + along),
            Frame::Up => (x - across, y - along),
            Frame::Right => (x + along, y + across),
        }
    }
}

/// The glyphs of a device, tracks joined from their halves. What moves stands together, last.
pub(crate) fn glyphs(circuit: &Circuit, elements: &[ElementId]) -> Vec<Glyph> {
    use keyon_circuit::model::{Law, When};
    let mut glyphs: Vec<Glyph> = Vec::new();
    for &id in elements {
        let Some(e) = circuit.elements.get(id.index()) else { continue };
        if let (ElementKind::Track(false), Some(first)) = (e.kind, glyphs.last_mut())
            && matches!(first.kind, ElementKind::Track(true))
            && first.third == Some(e.from)
        {
            first.ends[1] = e.to;
            continue;
        }
        let (ends, third) = match (&e.law, e.kind) {
            (Law::Transducer { feed, .. }, _) => ([*feed, e.from], Some(e.to)),
            (_, ElementKind::Track(true)) => ([e.from, e.to], Some(e.to)),
            _ => ([e.from, e.to], None),
        };
        let breaks = match e.when {
            When::Energised { open, .. } => open,
            When::In { positions, .. } => positions & 1 == 1,
            _ => false,
        };
        let moved = e.kind == ElementKind::Contact;
        let note = note(circuit, e);
        glyphs.push(Glyph {
            element: id,
            kind: e.kind,
            ends,
            third,
            breaks,
            moved,
            note,
            throws: Vec::new(),
        });
    }
    let rank = |g: &Glyph| match g.kind {
        ElementKind::Contact => 2,
        ElementKind::Coil => 1,
        _ => 0,
    };
    if glyphs.iter().any(|g| g.moved) {
        glyphs.sort_by_key(rank);
    }
    glyphs
}

/// What is said beside an element inside a frame: a contact's positions, an element's name.
fn note(circuit: &Circuit, e: &Element) -> String {
    use keyon_circuit::model::When;
    match e.when {
        When::In { control, positions } => {
            let Some(control) = circuit.controls.get(control.index()) else { return String::new() };
            let closed = control.positions.iter().enumerate().filter(|(i, _)| positions >> i & 1 == 1);
            closed.map(|(_, name)| name.as_str()).collect::<Vec<_>>().join(",")
        }
        // Of several coils or windings, which one it is.
        _ if matches!(e.kind, ElementKind::Coil | ElementKind::Winding) => {
            e.name.rsplit_once('.').map_or("", |(_, own)| own).to_owned()
        }
        _ => String::new(),
    }
}
