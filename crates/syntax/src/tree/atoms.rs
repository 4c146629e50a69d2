//! What all statements are made of: names, texts, quantities, ranges, paths.

use crate::{Span, unit::Unit};
use smol_str::SmolStr;

/// A name, a pin, a wire number, or a dotted path: always the spelling (`431.10` is not `431.1`, `01` is not `1`).
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Name {
    /// As written, after Unicode normalisation (NFC). A path keeps its dots.
    pub text: SmolStr,
    /// Where.
    pub span: Span,
}

impl Name {
    /// The parts between the dots.
    pub fn segments(&self) -> impl DoubleEndedIterator<Item = &str> {
        self.text.split('.')
    }
}

/// Text in quotes, unescaped.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Text {
    #[allow(missing_docs)]
    pub text: String,
    /// With the quotes.
    pub span: Span,
}

/// A title, and the same in other languages (`"Kraftstoff" en "Fuel"`).
#[derive(Clone, Debug)]
pub struct Title {
    /// The first text.
    pub text: Text,
    /// Language letters and text.
    pub others: Vec<(Name, Text)>,
}

/// A number with its unit.
#[derive(Clone, Debug)]
pub struct Quantity {
    /// The number as written, sign included.
    pub number: f64,
    /// The unit; `None` where it was left out (the first bound of a range takes the second's) or is not one.
    pub unit: Option<Unit>,
    /// Number and unit.
    pub span: Span,
}

/// A quantity or a part's parameter, perhaps with a tolerance.
#[derive(Clone, Debug)]
pub struct Value {
    #[allow(missing_docs)]
    pub kind: ValueKind,
    /// What follows `+-`: percent, or the same dimension.
    pub tolerance: Option<Quantity>,
    #[allow(missing_docs)]
    pub span: Span,
}

/// What a value is.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum ValueKind {
    Quantity(Quantity),
    Parameter(Name),
}

/// `A .. B`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Range {
    pub low: Value,
    pub high: Value,
    pub span: Span,
}

/// `A -> B`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Path {
    pub from: Name,
    pub to: Name,
}
