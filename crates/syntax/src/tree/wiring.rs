//! Supplies, grounds, splices, in-line connectors, wires, fuses.

use super::{Name, Path, Quantity, Range, Text, Title, Value};
use crate::Span;

/// What may be said of a thing's place and of the danger in it. Written as clauses at the end of a header
/// (before `{` or the line's end), and in a body as lines of their own.
#[derive(Clone, Debug, Default)]
pub struct Attributes {
    /// `where "left of the tank"`.
    pub place: Option<Text>,
    /// `access easy|cover|buried`.
    pub access: Option<Name>,
    /// `sealed`: no back-probing.
    pub sealed: Option<Span>,
    /// `face 2 x 6`: rows and columns of a connector.
    pub face: Option<(u32, u32, Span)>,
    /// `moves`.
    pub moves: Option<Span>,
    /// `hazard "…"`.
    pub hazards: Vec<Text>,
    /// `restricted`.
    pub restricted: Option<Span>,
}

/// `supply NAME ["title"] VALUE …`.
#[derive(Clone, Debug)]
pub struct Supply {
    #[allow(missing_docs)]
    pub name: Name,
    #[allow(missing_docs)]
    pub title: Option<Title>,
    /// Electromotive force in volts; `None` when damaged.
    pub volts: Option<Value>,
    /// `inner`: source resistance.
    pub inner: Option<Value>,
    /// `range`: resting to charging voltages, and cranking at the low end.
    pub range: Option<Range>,
    /// `negative POINT`: the other pole, if it is not the common ground.
    pub negative: Option<Name>,
    /// `limit`: most current it gives.
    pub limit: Option<Value>,
    /// `live in CONTROL POSITION`.
    pub live: Option<(Name, Name)>,
}

/// `ground NAME ["title"] [VALUE]`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Ground {
    pub name: Name,
    pub title: Option<Title>,
    /// Resistance to the common ground.
    pub value: Option<Value>,
    pub attributes: Attributes,
}

/// `splice NAME ["title"] [shared by …]`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Splice {
    pub name: Name,
    pub title: Option<Title>,
    pub shared_by: Vec<Name>,
    pub attributes: Attributes,
}

/// An in-line connector, `connector C201 "8-way" { 1, 2, 3 }`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Inline {
    pub name: Name,
    pub title: Option<Title>,
    /// In order; a range `1 .. 8` is already spread out (each name has the range's span).
    pub cavities: Vec<Name>,
    pub attributes: Attributes,
}

/// `wire [NUMBER] A -> B [-> C …] gauge colour length`.
#[derive(Clone, Debug)]
pub struct Wire {
    /// The number; a wire without one is named by its ends.
    pub label: Option<Name>,
    #[allow(missing_docs)]
    pub title: Option<Box<Title>>,
    /// The points of the chain, two or more unless damaged.
    pub points: Vec<Name>,
    /// One an arrow: what stands behind the point that the arrow leads to.
    pub stretches: Vec<Conductor>,
}

/// What is said of one stretch of wire. What is rare is boxed: there are more stretches than anything else.
#[derive(Clone, Debug, Default)]
pub struct Conductor {
    /// Area in mm² or an AWG size.
    pub gauge: Option<Gauge>,
    /// With its tolerance, if it has one.
    pub length: Option<Value>,
    /// The colours as written: IEC 60757 letters or the library's own (`OG/BK`).
    pub colour: Option<Name>,
    /// `at 60 degC`: the wire's temperature.
    pub at: Option<Box<Quantity>>,
    /// `fitted with NAME` (true) or `fitted without NAME` (false).
    pub fitted: Option<Box<(bool, Name)>>,
}

/// A conductor's size.
#[derive(Clone, Debug)]
pub enum Gauge {
    /// Area.
    Area(Quantity),
    /// American wire gauge: `18` is 18, `2/0` is -1, `3/0` is -2 (zeros n/0 as 1 - n).
    Awg(i32, Span),
}

/// Which protective device.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum FuseKind {
    Fuse,
    Breaker,
    Link,
}

/// `fuse|breaker|link NAME ["title"] A -> B RATING`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Fuse {
    pub kind: FuseKind,
    pub name: Name,
    pub title: Option<Title>,
    pub path: Option<Path>,
    pub rating: Option<Value>,
    pub attributes: Attributes,
}

/// `elsewhere "cab fan" 3 A S12`: a branch that leaves the page.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Elsewhere {
    pub title: Option<Text>,
    pub load: Option<Value>,
    pub point: Option<Name>,
}
