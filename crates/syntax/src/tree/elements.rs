//! Loads and other elements, at top level and in bodies: what each does.

use super::{Attributes, Name, Path, Quantity, Range, Title, Value};
use crate::Span;

/// A two-pin element at top level; its pins are `1` and `2`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct TopElement {
    pub keyword: Name,
    pub name: Name,
    pub title: Option<Title>,
    pub path: Option<Path>,
    pub law: Law,
    pub attributes: Attributes,
}

/// An element in a body: an edge between pins.
#[derive(Clone, Debug)]
pub struct Edge {
    #[allow(missing_docs)]
    pub keyword: Name,
    #[allow(missing_docs)]
    pub name: Option<Name>,
    /// Points omitted mean the pins in order. For a changeover see [`Law::Changeover`].
    pub path: Option<Path>,
    #[allow(missing_docs)]
    pub law: Law,
    /// The whole statement.
    pub span: Span,
}

/// What an element does. `None` in a required place means that it was not readable.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum Law {
    Resistor {
        ohms: Option<Value>,
    },
    /// Rated watts and volts; `cold` is the resistance when cold.
    Lamp {
        watts: Option<Value>,
        volts: Option<Value>,
        cold: Option<Value>,
    },
    Heater {
        watts: Option<Value>,
        volts: Option<Value>,
        cold: Option<Value>,
    },
    /// `rated` is a current (or a voltage).
    Coil {
        ohms: Option<Value>,
        pulls_in: Option<Value>,
        drops_out: Option<Value>,
        rated: Option<Value>,
    },
    /// `motor` is the same. `runs` is the current it draws turning at its rated voltage.
    Winding {
        ohms: Option<Value>,
        turns_at: Option<Value>,
        rated: Option<Value>,
        runs: Option<Value>,
    },
    Thermistor {
        curve: Option<Curve>,
        stimulus: StimulusClauses,
    },
    /// `A .. B ohm`: anything between, by hand.
    Variable {
        range: Option<Range>,
        stimulus: StimulusClauses,
    },
    Diode {
        drop: Option<Value>,
    },
    Track {
        ohms: Option<Value>,
        wiper: Option<Name>,
        travel: Option<Range>,
        stimulus: StimulusClauses,
    },
    Transducer {
        out: Option<Name>,
        volts: Option<Range>,
        over: Option<Range>,
        ratio: Option<Span>,
        stimulus: StimulusClauses,
    },
    /// `ohms` is the contact's resistance, `rated` the current it may carry.
    Contact {
        ohms: Option<Value>,
        rated: Option<Value>,
        condition: Option<Condition>,
    },
    /// `common -> (rest PIN, active PIN)`.
    Changeover {
        common: Option<Name>,
        rest: Option<Name>,
        active: Option<Name>,
        ohms: Option<Value>,
        rated: Option<Value>,
        condition: Option<Condition>,
    },
}

/// A thermistor's curve.
#[derive(Clone, Debug)]
pub enum Curve {
    /// `OHMS at TEMPERATURE beta KELVIN`.
    Beta {
        #[allow(missing_docs)]
        ohms: Value,
        #[allow(missing_docs)]
        at: Value,
        #[allow(missing_docs)]
        beta: Value,
    },
    /// `[OHMS at TEMPERATURE] steinhart A B C`: 1/T = A + B ln R + C (ln R)^3, T in kelvin, R in ohms.
    Steinhart {
        #[allow(missing_docs)]
        at: Option<(Value, Value)>,
        #[allow(missing_docs)]
        a: f64,
        #[allow(missing_docs)]
        b: f64,
        #[allow(missing_docs)]
        c: f64,
        #[allow(missing_docs)]
        span: Span,
    },
    /// `[OHMS at TEMPERATURE] table { TEMPERATURE OHMS, … }`.
    Table {
        #[allow(missing_docs)]
        at: Option<(Value, Value)>,
        #[allow(missing_docs)]
        rows: Vec<(Quantity, Quantity)>,
        #[allow(missing_docs)]
        span: Span,
    },
}

/// `span A .. B nominal C`.
#[derive(Clone, Debug, Default)]
#[allow(missing_docs)]
pub struct StimulusClauses {
    pub span: Option<Range>,
    pub nominal: Option<Value>,
}

/// When a contact is closed (for a changeover: in its active place).
#[derive(Clone, Debug)]
pub enum Condition {
    /// `closed when K energised`, `open when K energised` (`open` true), `when K energised`.
    Energised {
        #[allow(missing_docs)]
        coil: Name,
        #[allow(missing_docs)]
        open: bool,
    },
    /// `closed in run, start`, `open in pressed` (`open` true), `in on`.
    Positions {
        #[allow(missing_docs)]
        positions: Vec<Name>,
        #[allow(missing_docs)]
        open: bool,
    },
}

/// `switch NAME ["title"] [A -> B] [positions … [closed in …]]`: two pins, positions off, on by default.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Switch {
    pub name: Name,
    pub title: Option<Title>,
    pub path: Option<Path>,
    pub positions: Vec<Name>,
    /// `None`: closed in all but the first.
    pub closed_in: Option<Vec<Name>>,
    pub attributes: Attributes,
}
