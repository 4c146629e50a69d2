//! Control modules: connectors, cavities, gangs.

use crate::{ids::*, model::*, value::Num};
use smol_str::SmolStr;

/// A control module, drawn with only what this circuit needs.
#[derive(Clone, Debug)]
pub struct Module {
    #[allow(missing_docs)]
    pub name: SmolStr,
    #[allow(missing_docs)]
    pub title: Option<String>,
    #[allow(missing_docs)]
    pub part: Option<PartUse>,
    #[allow(missing_docs)]
    pub connectors: Vec<Connector>,
    /// Indices (connector, cavity) of its described feeds, in order.
    pub feeds: Vec<(usize, usize)>,
    /// … and grounds. Where none is described its inside ground is [`COMMON`].
    pub grounds: Vec<(usize, usize)>,
    /// Gangs, each a control.
    pub gangs: Vec<Gang>,
    #[allow(missing_docs)]
    pub attributes: Attributes,
    /// The item's name.
    pub loc: Loc,
}

#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Connector {
    pub name: SmolStr,
    pub title: Option<String>,
    pub cavities: Vec<Cavity>,
    pub attributes: Attributes,
    pub loc: Loc,
}

/// A cavity that this circuit shows.
#[derive(Clone, Debug)]
pub struct Cavity {
    /// `4`.
    pub number: SmolStr,
    /// `left_cmd`; empty when unused.
    pub name: SmolStr,
    #[allow(missing_docs)]
    pub role: Role,
    /// Wire side, `SCU.A.4`.
    pub outside: PointId,
    /// The module's side.
    pub inside: PointId,
    /// The joint between.
    pub terminal: ElementId,
    /// What the role and its options made: stages, reference, pulls …
    pub elements: Vec<ElementId>,
    /// Its own control, or the gang that moves it.
    pub control: Option<ControlId>,
    /// Most amps of a stage or reference.
    pub limit: Option<Num>,
    /// Coil suppression inside.
    pub clamp: bool,
    /// Own pulse frequency in hertz (a gang's is in its control).
    pub pwm: Option<Num>,
    /// `shared by`, resolved, and where it stands.
    pub shared_by: Option<(Vec<DeviceOrModule>, Loc)>,
    /// Lowest and highest volts that an analog input takes for plausible.
    pub range: Option<(f64, f64)>,
    /// Volts from which a digital input reads `high`.
    pub threshold: Option<f64>,
    /// Wire stretches that land on it.
    pub landings: Vec<ElementId>,
    /// Marked `unused`, and where.
    pub unused: Option<Loc>,
    /// Where its name stands (its number is declared where its point is).
    pub name_loc: Option<Loc>,
    /// The cavity row, which may be in a library.
    pub loc: Loc,
}

/// What a cavity does.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs)]
pub enum Role {
    Feed,
    Ground,
    Drives(Way),
    Switches,
    Reference { volts: Num },
    Return { switched: bool },
    Senses { digital: bool },
    Bus { name: SmolStr, volts: Option<f64> },
    Unused,
}

/// A gang: several stages that one control moves.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Gang {
    pub control: ControlId,
    /// Cavities (connector, cavity) of its stages that this circuit shows.
    pub stages: Vec<(usize, usize)>,
    /// How many stages its rows name, shown or not.
    pub named: usize,
    /// Positions that leave a stage unnamed.
    pub gaps: Vec<(SmolStr, SmolStr, Loc)>,
    /// Each position's row.
    pub rows: Vec<Loc>,
    pub loc: Loc,
}
