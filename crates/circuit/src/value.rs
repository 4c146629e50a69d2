//! Numbers with tolerance, in SI units.

/// A value with the band in which a real part may lie. Without a tolerance the three are equal.
#[derive(Clone, Copy, Debug, PartialEq)]
#[allow(missing_docs)]
pub struct Num {
    pub nominal: f64,
    pub low: f64,
    pub high: f64,
}

impl Num {
    /// A value without a tolerance.
    pub fn exact(value: f64) -> Self {
        Self { nominal: value, low: value, high: value }
    }
}
