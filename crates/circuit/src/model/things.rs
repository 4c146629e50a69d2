//! What a circuit is made of besides modules: supplies, splices, wires, in-line connectors, devices.

use crate::{ids::*, model::*, value::Num};
use smol_str::SmolStr;

#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Supply {
    pub name: SmolStr,
    pub title: Option<String>,
    pub point: PointId,
    pub element: ElementId,
    /// COMMON unless `negative` names another.
    pub negative: PointId,
    pub volts: Num,
    /// Lowest and highest of `range`.
    pub range: Option<(f64, f64)>,
    pub loc: Loc,
}

#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct GroundPoint {
    pub name: SmolStr,
    pub title: Option<String>,
    pub point: PointId,
    pub element: ElementId,
    pub attributes: Attributes,
    pub loc: Loc,
}

#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Splice {
    pub name: SmolStr,
    pub title: Option<String>,
    pub point: PointId,
    /// What lands on it, in source order: leg 1 is the first.
    pub legs: Vec<ElementId>,
    /// `shared by`, resolved; `None` where nothing was declared.
    pub shared_by: Option<Vec<DeviceOrModule>>,
    pub attributes: Attributes,
    pub loc: Loc,
}

/// A sharer of a return.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)]
pub enum DeviceOrModule {
    Device(DeviceId),
    Module(ModuleId),
}

/// A wire item.
#[derive(Clone, Debug)]
pub struct Wire {
    /// The number, or the name by ends (`S12->SCU.A.1`, `…@2`).
    pub name: SmolStr,
    /// Whether a number was written.
    pub numbered: bool,
    #[allow(missing_docs)]
    pub title: Option<String>,
    /// One a stretch; named `431.1`, `431.2` where there are several, else as the wire.
    pub stretches: Vec<Stretch>,
    #[allow(missing_docs)]
    pub loc: Loc,
}

/// One stretch of a wire.
#[derive(Clone, Debug)]
pub struct Stretch {
    #[allow(missing_docs)]
    pub element: ElementId,
    /// Area in mm² (of the AWG size, if it is one).
    pub area: Option<f64>,
    /// As written: `0.75 mm2`, `AWG 18`.
    pub gauge: Option<SmolStr>,
    /// Metres.
    pub length: Option<Num>,
    /// As written: `OG/BK`.
    pub colour: Option<SmolStr>,
    /// The names of both ends in the source.
    pub ends: [Loc; 2],
}

#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Inline {
    pub name: SmolStr,
    pub title: Option<String>,
    pub cavities: Vec<InlineCavity>,
    pub attributes: Attributes,
    pub loc: Loc,
}

/// A cavity of an in-line connector. The first wire named is on side a, the second on side b.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct InlineCavity {
    pub name: SmolStr,
    pub a: PointId,
    pub b: PointId,
    pub joint: ElementId,
    /// Wire ends that land here, in source order (more than two is `double-cavity`).
    pub landings: Vec<ElementId>,
    pub loc: Loc,
}

/// A device: from `device`, or a single element or switch at top level.
#[derive(Clone, Debug)]
pub struct Device {
    #[allow(missing_docs)]
    pub name: SmolStr,
    #[allow(missing_docs)]
    pub title: Option<String>,
    /// The part it is one of.
    pub part: Option<PartUse>,
    #[allow(missing_docs)]
    pub pins: Vec<Pin>,
    /// All its elements in source order, terminals excepted: loads, contacts, diodes.
    pub elements: Vec<ElementId>,
    /// Its positions, if it is a control.
    pub control: Option<ControlId>,
    /// Named grades: the state in which just these elements operate.
    pub grades: Vec<(SmolStr, Vec<ElementId>)>,
    #[allow(missing_docs)]
    pub attributes: Attributes,
    /// Declared at top level by its kind (`lamp`, `switch`, …), not with `device`.
    pub bare: bool,
    /// The item's name.
    pub loc: Loc,
}

/// Of which part a device or module is.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct PartUse {
    pub name: SmolStr,
    /// The part's own item; `None` for a built-in.
    pub loc: Option<Loc>,
}

#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Pin {
    pub name: SmolStr,
    /// Wire side.
    pub outside: PointId,
    pub inside: PointId,
    /// The joint between.
    pub terminal: ElementId,
    /// Marked `unused`, and where.
    pub unused: Option<Loc>,
    /// Wire stretches and ties that land on it.
    pub landings: Vec<ElementId>,
    pub loc: Loc,
}

/// What was said of a thing's place and dangers.
#[derive(Clone, Debug, Default)]
#[allow(missing_docs)]
pub struct Attributes {
    pub place: Option<String>,
    /// `easy`, `cover`, `buried`.
    pub access: Option<SmolStr>,
    pub sealed: bool,
    /// Rows and columns.
    pub face: Option<(u32, u32)>,
    pub moves: bool,
    pub hazards: Vec<String>,
    pub restricted: bool,
}

/// A fuse, breaker or link; its rating is its element's.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Fuse {
    pub name: SmolStr,
    pub title: Option<String>,
    pub kind: FuseKind,
    pub element: ElementId,
    pub attributes: Attributes,
    pub loc: Loc,
}

/// A branch that leaves the page (`elsewhere`).
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Branch {
    pub title: Option<String>,
    pub point: PointId,
    /// Its load, if one is given.
    pub element: Option<ElementId>,
    pub loc: Loc,
}
