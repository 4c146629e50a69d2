//! Devices and parts: their bodies, parameters and arguments.

use super::{Allow, Attributes, Edge, Name, Pinout, Title, Value};
use crate::Span;

/// `PART(args)`, for a device or a module.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct PartCall {
    /// The part's name, `alias.part` for a qualified library.
    pub part: Name,
    /// A lone value without a name is the only parameter.
    pub arguments: Vec<Argument>,
    pub span: Span,
}

/// One argument of a part.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Argument {
    pub name: Option<Name>,
    pub value: Value,
}

/// `device NAME ["title"] : PART(args)`, or with a body.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Device {
    pub name: Name,
    pub title: Option<Title>,
    pub what: DeviceKind,
    pub attributes: Attributes,
}

/// Where a device's inside is written.
// A `Device` is behind a pointer already: one more for its body would save nothing.
#[derive(Clone, Debug)]
#[allow(missing_docs, clippy::large_enum_variant)]
pub enum DeviceKind {
    Call(PartCall),
    Body(Body),
    /// Neither could be read.
    Missing,
}

/// The body of a device or of a part.
#[derive(Clone, Debug, Default)]
pub struct Body {
    /// With their `unused` marks.
    pub pins: Vec<Pin>,
    /// The first is the rest position.
    pub positions: Vec<Name>,
    #[allow(missing_docs)]
    pub edges: Vec<Edge>,
    /// `grade trickle { A }`: a name for the state in which just these elements operate.
    pub grades: Vec<Grade>,
    /// `where`, `moves`, … written as lines in the body.
    pub attributes: Attributes,
    /// `allow` lines, each with the span of the statement that it covers.
    pub allows: Vec<(Allow, Span)>,
    /// From `{` to `}`.
    pub span: Span,
}

/// A pin of a body.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Pin {
    pub name: Name,
    pub unused: bool,
}

/// `grade NAME { element, … }`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Grade {
    pub name: Name,
    pub elements: Vec<Name>,
}

/// `part NAME(params) ["title"] { … }`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Part {
    pub name: Name,
    pub params: Vec<Param>,
    pub title: Option<Title>,
    pub what: PartKind,
    pub attributes: Attributes,
}

/// A part is a kind of device, or, if its body has connectors, a kind of module.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum PartKind {
    Device(Body),
    Module(Pinout),
}

/// `NAME: DIMENSION [= VALUE]`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Param {
    pub name: Name,
    /// As written; one of the nine dimension names.
    pub dimension: Name,
    pub default: Option<Value>,
}
