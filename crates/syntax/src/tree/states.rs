//! States and what is said of them: scenarios, set-ups, claims, readings.

use super::{Name, Quantity, Range, Text, Title};
use crate::Span;

/// `scenario NAME ["title"] { … }`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Scenario {
    pub name: Name,
    pub title: Option<Title>,
    pub settings: Vec<Setting>,
    pub setups: Vec<Setup>,
    /// `do "hold the left boom switch"`.
    pub actions: Vec<Text>,
}

/// `key run`, `temp 25 degC`, `left_cmd on 40 %`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Setting {
    pub subject: Name,
    /// A position; `None` for a stimulus.
    pub position: Option<Name>,
    /// The stimulus's value, or a position's duty.
    pub quantity: Option<Quantity>,
    pub span: Span,
}

/// What a person does to the circuit, as against what has failed.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Setup {
    pub kind: SetupKind,
    pub span: Span,
}

/// The kinds of set-up.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum SetupKind {
    /// A device, a module's connector, or an in-line connector.
    Unplug(Name),
    /// A fuse.
    Pull(Name),
    Jumper(Name, Name),
    /// `load A to B 21 W 12 V` or `load A to B 4 ohm`.
    Load {
        from: Name,
        to: Name,
        values: Vec<Quantity>,
    },
}

/// `expect in SCENARIO { … }`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Expect {
    pub scenario: Option<Name>,
    pub setups: Vec<Setup>,
    pub claims: Vec<Row>,
}

/// One line of `expect` or `readings`, a `symptom`: what is measured or seen, and what it is said to be.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Row {
    pub probe: Probe,
    pub assertion: Option<Assertion>,
    /// `with temp 25 degC, unplug left_valve`.
    pub with_settings: Vec<Setting>,
    pub with_setups: Vec<Setup>,
    pub span: Span,
}

/// How a row is measured.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum Probe {
    /// A point, a device, a fuse, an input, a wire.
    One(Name),
    /// Two leads, red first.
    Across(Name, Name),
    /// `ohms A to B`: unpowered.
    Ohms(Name, Name),
    /// `clamp 431`: a current.
    Clamp(Name),
    /// `lamp A`, `lamp A to B`: a test lamp, to ground where B is not given.
    Lamp(Name, Option<Name>),
}

/// What a row says.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum Assertion {
    Below(Quantity),
    Above(Quantity),
    About(Quantity, Quantity),
    Range(Range),
    /// A reading as it was taken.
    Is(Quantity),
    /// `operates`, `operates forward`, `fed via load`, `blown`, `good`, `high`, `bright`: words joined with one blank.
    State(Name),
}

/// `readings [NAME] ["title"] in SCENARIO [accuracy …] { … }`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Readings {
    pub name: Option<Name>,
    pub title: Option<Title>,
    pub scenario: Option<Name>,
    pub accuracy: Vec<Quantity>,
    pub rows: Vec<Row>,
    pub setups: Vec<Setup>,
}
