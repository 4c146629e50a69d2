//! Whether a signal is plausible.

use crate::{NodeState, Solution};
use keyon_circuit::{
    ids::*,
    model::{Cavity, Circuit, ElementKind, Law, Role},
};

use super::curve::Taken;

/// How near an end of its rails a signal counts as at it: there only a broken or bridged wire takes it (common practice,
/// no source).
const AT_THE_RAIL: f64 = 0.01;

/// What a module makes of one input.
#[derive(Clone, Debug, PartialEq)]
pub struct InputView {
    /// Connector and cavity.
    pub at: (usize, usize),
    /// Against the module's own ground; `None` where it floats or clashes.
    pub volts: Option<f64>,
    #[allow(missing_docs)]
    pub signal: Signal,
    /// Of a digital input: above its threshold.
    pub high: Option<bool>,
    /// Of an analog one: what its sensor would have to sense to give this reading.
    pub taken_for: Option<Taken>,
}

/// A signal against what is plausible.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Signal {
    /// Within the input's range, or a digital one with volts.
    Plausible,
    /// Below it: the fault memory says "signal low".
    Low,
    /// Above it: "signal high".
    High,
    /// Nothing holds the pin: it may read anything.
    Floating,
    /// A clash, or a relay that cannot settle: there is no reading.
    Unsettled,
}

impl Signal {
    /// As people and JSON read it.
    pub fn words(self) -> &'static str {
        match self {
            Self::Plausible => "plausible",
            Self::Low => "signal low",
            Self::High => "signal high",
            Self::Floating => "floats",
            Self::Unsettled => "no reading",
        }
    }
}

/// The lowest and highest plausible volts of an input, if it has any limits. Rails are left out: at 0 V, and at the volts
/// of a pull-up or reference, a signal means a fault.
pub fn plausible(circuit: &Circuit, module: ModuleId, cavity: &Cavity) -> Option<(f64, f64)> {
    let (low, high) = cavity.range?;
    let module = circuit.modules.get(module.index())?;
    let rails = |cavity: &Cavity| -> Vec<f64> {
        let stated = match cavity.role {
            Role::Reference { volts } => Some(volts.nominal),
            _ => None,
        };
        let inner = cavity.elements.iter().filter_map(|e| circuit.elements.get(e.index()));
        let inner = inner.filter(|e| e.kind == ElementKind::Rail).filter_map(|e| match &e.law {
            Law::Source { volts, .. } => Some(volts.nominal),
            _ => None,
        });
        inner.chain(stated).collect()
    };
    let all = module.connectors.iter().flat_map(|c| &c.cavities);
    let is_rail = |volts: f64| all.clone().flat_map(rails).any(|rail| (rail - volts).abs() < 1e-9);
    let margin = AT_THE_RAIL * (high - low).abs();
    Some((if low == 0.0 { margin } else { low }, if is_rail(high) { high - margin } else { high }))
}

pub(super) fn input(
    circuit: &Circuit,
    solution: &Solution,
    module: ModuleId,
    at: (usize, usize),
    cavity: &Cavity,
) -> Option<InputView> {
    let Role::Senses { digital } = cavity.role else { return None };
    let volts = solution.input_volts(circuit, module, at.0, at.1);
    let high = cavity.threshold.filter(|_| digital).and_then(|limit| volts.map(|v| v >= limit));
    let signal = match (volts, plausible(circuit, module, cavity)) {
        (None, _) => match solution.node_states.get(cavity.inside.index()) {
            Some(NodeState::Open) => Signal::Floating,
            _ => Signal::Unsettled,
        },
        (Some(volts), Some((low, _))) if volts < low => Signal::Low,
        (Some(volts), Some((_, high))) if volts > high => Signal::High,
        _ => Signal::Plausible,
    };
    Some(InputView { at, volts, signal, high, taken_for: None })
}
