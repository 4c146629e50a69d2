//! The tree of a file: what was written, without knowing what any name means.
//!
//! One struct an item, one field a thing that can be written. All spans are relative to the item (see [`Span`]).
//! A damaged statement gives an item with what could be read of it; `Item::damaged` says so.

mod atoms;
mod devices;
mod elements;
mod exercises;
mod heads;
mod modules;
mod states;
mod wiring;

use crate::Span;
pub use atoms::{Name, Path, Quantity, Range, Text, Title, Value, ValueKind};
pub use devices::{Argument, Body, Device, DeviceKind, Grade, Param, Part, PartCall, PartKind, Pin};
pub use elements::{Condition, Curve, Edge, Law, StimulusClauses, Switch, TopElement};
pub use exercises::{Ask, Exercise, Fault, FaultKind, Target};
pub use heads::{About, CircuitHead, ControlItem, Use, Variant};
pub use modules::{
    CavityRow, Gang, GangRow, Housing, Module, ModuleKind, Options, Pinout, PullTo, Role, Way,
};
pub use states::{Assertion, Expect, Probe, Readings, Row, Scenario, Setting, Setup, SetupKind};
use std::sync::Arc;
pub use wiring::{
    Attributes, Conductor, Elsewhere, Fuse, FuseKind, Gauge, Ground, Inline, Splice, Supply, Wire,
};

/// A file's items in source order.
#[derive(Clone, Debug, Default)]
pub struct File {
    /// Each item with its absolute place.
    pub items: Vec<PlacedItem>,
}

/// An item and where it stands.
#[derive(Clone, Debug)]
pub struct PlacedItem {
    /// Absolute byte offset of the item's first byte (its first `##` or `allow` line, if it has any).
    pub start: u32,
    /// The tree; shared with the next parse as long as no edit touches it.
    pub item: Arc<Item>,
}

/// One item: a statement at top level with its doc comment, `allow` lines and body.
#[derive(Clone, Debug)]
pub struct Item {
    /// The whole item, from its doc comment or `allow` lines to its last token; starts at 0.
    pub span: Span,
    /// The statement itself, without doc and allows; its first token is the keyword.
    pub statement: Span,
    /// The `##` lines that belong to it.
    pub doc: Option<Box<Doc>>,
    /// The `allow` lines above it.
    pub allows: Vec<Allow>,
    /// Whether a part of it could not be read: consequences are not to be reported.
    pub damaged: bool,
    /// What it is.
    pub kind: ItemKind,
}

/// The kinds of item. What is large is boxed, so that the many wires of a file stay small.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum ItemKind {
    Circuit(Box<CircuitHead>),
    Use(Use),
    View(Name),
    Spare(Vec<Name>),
    Supply(Box<Supply>),
    Ground(Box<Ground>),
    Splice(Box<Splice>),
    Inline(Box<Inline>),
    Wire(Wire),
    Fuse(Box<Fuse>),
    /// A load or other two-pin element at top level.
    Element(Box<TopElement>),
    Switch(Box<Switch>),
    Device(Box<Device>),
    Part(Box<Part>),
    Module(Box<Module>),
    Scenario(Box<Scenario>),
    Expect(Expect),
    Exercise(Box<Exercise>),
    Readings(Box<Readings>),
    Elsewhere(Box<Elsewhere>),
    About(About),
    Control(Box<ControlItem>),
    Variant(Variant),
    /// `allow` lines with no item after them.
    Stray,
    /// Lines that begin no item; one error stands for all of them.
    Junk,
}

impl ItemKind {
    /// The name that it declares; empty where it could not be read.
    pub fn name(&self) -> Option<&Name> {
        Some(match self {
            Self::Circuit(item) => &item.name,
            Self::Supply(item) => &item.name,
            Self::Ground(item) => &item.name,
            Self::Splice(item) => &item.name,
            Self::Inline(item) => &item.name,
            Self::Wire(item) => item.label.as_ref()?,
            Self::Fuse(item) => &item.name,
            Self::Element(item) => &item.name,
            Self::Switch(item) => &item.name,
            Self::Device(item) => &item.name,
            Self::Part(item) => &item.name,
            Self::Module(item) => &item.name,
            Self::Scenario(item) => &item.name,
            Self::Exercise(item) => &item.name,
            Self::Readings(item) => item.name.as_ref()?,
            Self::Control(item) => &item.name,
            Self::Variant(item) => &item.name,
            Self::Use(_)
            | Self::View(_)
            | Self::Spare(_)
            | Self::Expect(_)
            | Self::Elsewhere(_)
            | Self::About(_)
            | Self::Stray
            | Self::Junk => return None,
        })
    }
    /// The body of a device, or of a part that is one.
    pub fn body(&self) -> Option<&Body> {
        match self {
            Self::Device(device) => match &device.what {
                DeviceKind::Body(body) => Some(body),
                _ => None,
            },
            Self::Part(part) => match &part.what {
                PartKind::Device(body) => Some(body),
                PartKind::Module(_) => None,
            },
            _ => None,
        }
    }
    /// The connectors and gangs of a module, or of a part that is one.
    pub fn pinout(&self) -> Option<&Pinout> {
        match self {
            Self::Module(module) => match &module.what {
                ModuleKind::Body(pinout) => Some(pinout),
                _ => None,
            },
            Self::Part(part) => match &part.what {
                PartKind::Module(pinout) => Some(pinout),
                PartKind::Device(_) => None,
            },
            _ => None,
        }
    }
}

/// Markdown of `##` lines, the marks and one blank after them taken off, joined with `\n`.
#[derive(Clone, Debug)]
pub struct Doc {
    #[allow(missing_docs)]
    pub text: String,
    #[allow(missing_docs)]
    pub span: Span,
}

/// `allow RULE "reason"`.
#[derive(Clone, Debug)]
pub struct Allow {
    /// The rule's name as written.
    pub rule: Name,
    /// Why; `None` is itself reported.
    pub reason: Option<Text>,
    /// The whole line.
    pub span: Span,
}
