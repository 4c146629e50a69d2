//! Reading windows: the lowest and highest that tolerances allow.
//!
//! As long as the same things conduct, every reading is a quotient of two expressions that are linear in each single
//! value (a resistance, a conductance, a source's volts): alone, each value moves it one way only, and the extremes over
//! all bands lie at corners, where every value stands at one end of its band. Few values: all corners are solved. Many:
//! each is moved to both ends of its band, and all together to where each moves the reading farthest; that is the extreme
//! if there every single value still pulls the way it did alone. That the same things conduct is seen from the corners
//! too: what makes a diode or a relay change over is such a quotient itself.
//!
//! Where that does not hold (something changes over, a pulse mixes several states, a value pulls now this way now that, a
//! track's two parts change together) the window is sampled: points within all bands are drawn with a fixed seed, and the
//! window says so.

mod search;
mod values;

use crate::{Cancel, Cancelled, State};
use keyon_circuit::{ids::*, model::Circuit};

/// How a window was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Method {
    /// Exact: the extremes lie at corners of the bands, and those were solved.
    Corners,
    /// Sampled with a fixed seed: what lies beyond was not met, and is not excluded.
    Sampled,
}

impl Method {
    /// As people and JSON read it.
    pub fn words(self) -> &'static str {
        match self {
            Self::Corners => "corners",
            Self::Sampled => "sampled",
        }
    }
}

/// The lowest and highest readings that are possible.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    #[allow(missing_docs)]
    pub low: f64,
    #[allow(missing_docs)]
    pub high: f64,
    #[allow(missing_docs)]
    pub method: Method,
}

impl Window {
    fn at(value: f64) -> Self {
        Self { low: value, high: value, method: Method::Corners }
    }
    fn with(self, value: f64) -> Self {
        Self { low: self.low.min(value), high: self.high.max(value), ..self }
    }
}

/// What may vary.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bands {
    /// Values with a tolerance.
    pub tolerances: bool,
    /// Supplies over their `range`; one that the state has set to other than its stated volts stays there.
    pub ranges: bool,
}

/// What is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reading {
    /// Volts of a point, as the meter reads them.
    Volts(PointId),
    /// Volts of a module's input against its own ground: module, connector, cavity.
    Input(ModuleId, usize, usize),
    /// Amps of an element.
    Amps(ElementId),
}

/// The windows of several readings in one state; `None` where nothing can be read at some corner (a clash).
///
/// # Errors
/// When `cancel` asks for it.
pub fn windows(
    circuit: &Circuit,
    state: &State,
    readings: &[Reading],
    bands: Bands,
    cancel: &dyn Cancel,
) -> Result<Vec<Option<Window>>, Cancelled> {
    let values = values::values(circuit, state, bands);
    search::Bench { circuit, state, values, readings, cancel }.windows()
}

/// The window of one reading; see [`windows`].
pub fn window(circuit: &Circuit, state: &State, reading: Reading, bands: Bands) -> Option<Window> {
    let found = windows(circuit, state, &[reading], bands, &crate::Never);
    found.ok()?.into_iter().next().flatten()
}
