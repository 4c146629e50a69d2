//! Exercises: faults and questions.

use super::{Name, Quantity, Row, Setup, Text, Title};
use crate::Span;

/// `exercise NAME ["title"] [in SCENARIO] { … }`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Exercise {
    pub name: Name,
    pub title: Option<Title>,
    pub scenario: Option<Name>,
    pub faults: Vec<Fault>,
    pub symptoms: Vec<Row>,
    pub probes: Vec<Name>,
    pub asks: Vec<Ask>,
    pub setups: Vec<Setup>,
}

/// `ask KIND …` or `ask "free text" …`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Ask {
    /// `None` for free text.
    pub kind: Option<Name>,
    pub text: Option<Text>,
    pub points: Vec<Name>,
    pub span: Span,
}

/// One fault, verb first.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Fault {
    pub kind: FaultKind,
    pub span: Span,
}

/// What a fault does.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum FaultKind {
    /// A wire by number, stretch or ends, a device, a cavity, a splice leg, a fuse.
    Open(Target),
    Short {
        what: Target,
        to: Option<Name>,
    },
    Stuck {
        what: Name,
        position: Name,
    },
    Resistance {
        ohms: Quantity,
        place: Target,
    },
    Drift {
        what: Name,
        by: Quantity,
    },
}

/// A thing that a fault names.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum Target {
    Name(Name),
    /// A wire without a number: its ends, and `@2` for a second between the same ones.
    Ends(Name, Name, Option<u32>),
}
