//! Modules: connectors, cavities, gangs.

use super::{Allow, Attributes, Doc, Name, PartCall, Quantity, Range, Title, Value};
use crate::Span;

/// `module NAME ["title"] { … }` or `: PART uses …`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Module {
    pub name: Name,
    pub title: Option<Title>,
    pub what: ModuleKind,
    pub attributes: Attributes,
}

/// Where a module's pinout is written.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum ModuleKind {
    Call { call: PartCall, uses: Option<Vec<Name>> },
    Body(Pinout),
    Missing,
}

/// Connectors and gangs of a module.
#[derive(Clone, Debug, Default)]
#[allow(missing_docs)]
pub struct Pinout {
    pub housings: Vec<Housing>,
    pub gangs: Vec<Gang>,
    pub attributes: Attributes,
    /// Each with the span of the statement that it covers.
    pub allows: Vec<(Allow, Span)>,
    pub span: Span,
}

/// One connector of a module.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Housing {
    pub name: Name,
    pub title: Option<Title>,
    pub doc: Option<Doc>,
    pub rows: Vec<CavityRow>,
    pub attributes: Attributes,
    pub span: Span,
}

/// One cavity of a module's connector.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct CavityRow {
    pub cavity: Name,
    /// `None`: marked `unused`.
    pub name: Option<Name>,
    /// `None` when unused or not readable.
    pub role: Option<Role>,
    pub options: Options,
    pub doc: Option<Doc>,
    pub span: Span,
}

/// What a cavity does.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum Role {
    Feed,
    Ground,
    Drives { way: Way, to: Option<Name>, from: Option<Name> },
    Switches { rest: Name, other: Name },
    Reference { volts: Option<Value> },
    Return { switched: bool },
    Senses { digital: bool },
    Bus { name: Name, value: Option<Value> },
    Unused,
}

/// Towards which side a stage drives.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum Way {
    Low,
    High,
    Half,
}

/// Options of a cavity, in any order.
#[derive(Clone, Debug, Default)]
#[allow(missing_docs)]
pub struct Options {
    pub on: Option<Value>,
    pub limit: Option<Value>,
    pub pwm: Option<Value>,
    pub clamp: Option<Span>,
    pub inner: Option<Value>,
    pub draws: Option<Value>,
    pub pull_up: Option<(Value, PullTo)>,
    pub pull_down: Option<Value>,
    pub threshold: Option<Value>,
    pub range: Option<Range>,
    pub shared_by: Option<Vec<Name>>,
}

/// Where a pull-up leads.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum PullTo {
    Volts(Quantity),
    Pin(Name),
}

/// `gang NAME ["title"] [pwm F] { position stage place … }`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Gang {
    pub name: Name,
    pub title: Option<Title>,
    pub doc: Option<Doc>,
    pub pwm: Option<Value>,
    pub rows: Vec<GangRow>,
    pub span: Span,
}

/// One position of a gang.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct GangRow {
    pub position: Name,
    /// Stage and where it goes.
    pub sets: Vec<(Name, Name)>,
    pub span: Span,
}
