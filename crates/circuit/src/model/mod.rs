//! The model of one circuit: what everything above this crate works on.
//!
//! Points are nodes, elements are edges. *Every* wire stretch, cavity, terminal and fuse is an edge of its own, also
//! where it has no resistance ([`Law::Joint`]): so each can be opened as a fault and probed on both sides. Whoever
//! computes merges points over the joints that are closed into *nets*.

mod control;
mod element;
mod loose;
mod module;
mod state;
mod things;
mod whereabouts;

pub use control::*;
pub use element::*;
pub use module::*;
pub use state::*;
pub use things::*;

use crate::{ids::*, index::Index};
use keyon_syntax::Span;
use smol_str::SmolStr;

/// A place in a source text: resolved to absolute bytes by [`crate::Elaboration::span`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Loc {
    /// Which file.
    pub file: FileId,
    /// Index of the item in that file's tree.
    pub item: u32,
    /// Relative to the item.
    pub span: Span,
}

/// One circuit, elaborated.
#[derive(Clone, Debug)]
pub struct Circuit {
    /// From the `circuit` line; `"circuit"` and no title where there is none.
    pub name: SmolStr,
    #[allow(missing_docs)]
    pub title: Option<String>,
    /// The `circuit` line.
    pub loc: Option<Loc>,
    /// Nodes. Point 0 is the common ground.
    pub points: Vec<Point>,
    /// Edges, in source order.
    pub elements: Vec<Element>,
    #[allow(missing_docs)]
    pub supplies: Vec<Supply>,
    #[allow(missing_docs)]
    pub grounds: Vec<GroundPoint>,
    #[allow(missing_docs)]
    pub splices: Vec<Splice>,
    #[allow(missing_docs)]
    pub wires: Vec<Wire>,
    #[allow(missing_docs)]
    pub inlines: Vec<Inline>,
    #[allow(missing_docs)]
    pub devices: Vec<Device>,
    #[allow(missing_docs)]
    pub modules: Vec<Module>,
    /// In source order: the order of table columns.
    pub controls: Vec<Control>,
    #[allow(missing_docs)]
    pub stimuli: Vec<Stimulus>,
    #[allow(missing_docs)]
    pub scenarios: Vec<Scenario>,
    #[allow(missing_docs)]
    pub expects: Vec<Expect>,
    /// Kept with their spans for later work.
    pub exercises: Vec<Exercise>,
    /// Kept with their spans for later work.
    pub readings: Vec<Readings>,
    /// Fuses, breakers and links.
    pub fuses: Vec<Fuse>,
    /// Loads of the branches that leave the page.
    pub elsewhere: Vec<ElementId>,
    /// All branches that leave the page, also those without a load.
    pub branches: Vec<Branch>,
    /// `about { … }`: kept, not read.
    pub about: Vec<(SmolStr, Vec<String>)>,
    /// `view NAME`.
    pub view: Option<ScenarioId>,
    /// Points next to something that could not be read or resolved: consequences there are not reported.
    pub tainted: Vec<PointId>,
    /// Points that are known, of wires and fuses whose other end is not: in doubt unless something else holds them.
    pub beside: Vec<PointId>,
    /// A wire was not read to its end: that may have been where one is missing.
    pub lost_end: bool,
    /// The items of such wires, once for each end of which nothing is known.
    pub lost_ends: Vec<u32>,
    /// Names; see [`Circuit::lookup`](crate::Circuit::lookup).
    pub index: Index,
}

impl Default for Circuit {
    /// Without anything but the common ground.
    fn default() -> Self {
        Self {
            name: SmolStr::new_static("circuit"),
            title: None,
            loc: None,
            points: vec![Point { name: SmolStr::new_static("ground"), kind: PointKind::Common, loc: None }],
            elements: Vec::new(),
            supplies: Vec::new(),
            grounds: Vec::new(),
            splices: Vec::new(),
            wires: Vec::new(),
            inlines: Vec::new(),
            devices: Vec::new(),
            modules: Vec::new(),
            controls: Vec::new(),
            stimuli: Vec::new(),
            scenarios: Vec::new(),
            expects: Vec::new(),
            exercises: Vec::new(),
            readings: Vec::new(),
            fuses: Vec::new(),
            elsewhere: Vec::new(),
            branches: Vec::new(),
            about: Vec::new(),
            view: None,
            tainted: Vec::new(),
            beside: Vec::new(),
            lost_end: false,
            lost_ends: Vec::new(),
            index: Index::default(),
        }
    }
}

/// The common ground's point.
pub const COMMON: PointId = PointId(0);

/// A node.
#[derive(Clone, Debug)]
pub struct Point {
    /// `left_valve.2`, `SCU.A.4`, `C201.1.a`, `S12`, `battery`; the device's or module's side of a pin adds
    /// `.inside`; nodes inside a module that no pin shows are `SCU.temp_in.rail` and the like.
    pub name: SmolStr,
    #[allow(missing_docs)]
    pub kind: PointKind,
    /// Where it is declared.
    pub loc: Option<Loc>,
}

/// What a node is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PointKind {
    /// The common ground, point 0, named `ground`.
    Common,
    /// A supply's positive terminal (behind its inner resistance). Index into `supplies`.
    Supply(usize),
    /// A ground point. Index into `grounds`.
    Ground(usize),
    /// Index into `splices`.
    Splice(usize),
    /// The wire side of a device's pin: index into the device's `pins`. Probed, wired.
    Pin(DeviceId, usize),
    /// The device's side of that pin.
    PinInside(DeviceId, usize),
    /// The wire side of a module's cavity: indices into `connectors` and `cavities`.
    Cavity(ModuleId, usize, usize),
    /// The module's side of it.
    CavityInside(ModuleId, usize, usize),
    /// One side of an in-line cavity; `false` is side a.
    InlineSide(InlineId, usize, bool),
    /// Inside a module or a device; never probed.
    Internal,
}
