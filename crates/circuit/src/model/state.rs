//! States and what is said about them: scenarios, expectations, exercises, readings.

use crate::{ids::*, model::*};
use keyon_syntax::unit::Dimension;
use smol_str::SmolStr;

#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Scenario {
    pub name: SmolStr,
    pub title: Option<String>,
    pub settings: Settings,
    pub actions: Vec<String>,
    pub loc: Loc,
}

/// An `expect` block.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Expect {
    /// `None` where it could not be resolved: then nothing is judged.
    pub scenario: Option<ScenarioId>,
    pub changes: Vec<Change>,
    pub rows: Vec<Row>,
    pub loc: Loc,
}

/// A row of `expect`, `readings` or a `symptom`. Rows with names that do not resolve are left out.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Row {
    pub probe: Probe,
    pub assertion: Assertion,
    /// Its `with`.
    pub settings: Settings,
    pub loc: Loc,
}

/// What is measured or seen.
#[derive(Clone, Copy, Debug, PartialEq)]
#[allow(missing_docs)]
pub enum Probe {
    /// Volts or node state of a point, black lead on the common ground.
    Point(PointId),
    /// What a module's input reads: volts against the module's own ground, without a meter; high or low.
    Input(ModuleId, usize, usize),
    /// A device's state, or its current.
    Device(DeviceId),
    /// An element's state, or its current: a fuse, a wire, `burner.A`.
    Element(ElementId),
    /// Red first.
    Across(PointId, PointId),
    Ohms(PointId, PointId),
    Clamp(ElementId),
    Lamp(PointId, PointId),
}

/// What a row says. SI units.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum Assertion {
    Below(f64, Dimension),
    Above(f64, Dimension),
    /// `about X +- Y`, `A .. B`.
    Between(f64, f64, Dimension),
    Is(f64, Dimension),
    /// Words joined with one blank: `operates`, `operates forward`, `fed via load`, `blown`, `high` …
    State(SmolStr),
}

/// An `exercise`, kept for later work.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Exercise {
    pub name: SmolStr,
    pub title: Option<String>,
    pub scenario: Option<ScenarioId>,
    /// Each fault with the words for it.
    pub faults: Vec<(Vec<Change>, SmolStr, Loc)>,
    pub symptoms: Vec<Row>,
    /// Names of points, connectors, devices that a learner may probe.
    pub probes: Vec<SmolStr>,
    /// What `probes` names, resolved.
    pub probe_entities: Vec<crate::Entity>,
    pub asks: Vec<Ask>,
    pub changes: Vec<Change>,
    pub loc: Loc,
}

/// A `readings` block, kept for later work.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Readings {
    pub name: Option<SmolStr>,
    pub title: Option<String>,
    pub scenario: Option<ScenarioId>,
    pub rows: Vec<Row>,
    pub changes: Vec<Change>,
    /// The meter's accuracy where the block gives one: a ratio of the reading, or volts, amps, ohms.
    pub accuracy: Vec<(f64, Dimension)>,
    pub loc: Loc,
}

/// The kinds of questions.
pub const ASK_KINDS: [&str; 9] =
    ["volts", "across", "amps", "state", "path", "table", "mark", "cavity", "colour"];

/// A question of an exercise.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Ask {
    /// One of [`ASK_KINDS`]; `None` for free text.
    pub kind: Option<SmolStr>,
    pub text: Option<String>,
    pub about: Vec<crate::Entity>,
    pub loc: Loc,
}
