//! From which current a load operates, and from which it does so weakly (decision 25).

use crate::{ElementState, phase::Flow, plan::Plan, trace::Trace};
use keyon_circuit::model::{ElementKind, Law, Rated};

/// Shares of the rated current.
const OPERATES: f64 = 0.7;
const WEAK: f64 = 0.2;
/// A motor turns that gets, stalled, so many times what it draws turning, whatever share of its rated current that is: a starter
/// pulls its battery down and starts all the same. (Its torque goes with its current; twice is ample. Our own limit.)
const AMPLE: f64 = 2.0;
/// A current that is just at its threshold counts as there.
const ROUNDING: f64 = 1e-9;

/// Amps from which a load operates, and is weak.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Threshold {
    pub(crate) operates: f64,
    pub(crate) weak: f64,
}

impl Threshold {
    /// With a threshold of its own, weak is from a fifth of it; else shares of the rated current count.
    fn new(own: Option<f64>, rated: Option<f64>) -> Option<Self> {
        match own {
            Some(own) => Some(Self { operates: own, weak: WEAK * own }),
            None => rated.map(|rated| Self { operates: OPERATES * rated, weak: WEAK * rated }),
        }
    }

    /// The same, operating from so many amps already.
    fn lowered_to(self, amps: f64) -> Self {
        Self { operates: self.operates.min(amps), weak: self.weak.min(amps) }
    }

    pub(crate) fn state(self, amps: f64) -> ElementState {
        let size = amps.abs() * (1.0 + ROUNDING);
        if size >= self.operates {
            ElementState::Operates
        } else if size >= self.weak {
            ElementState::Weak
        } else {
            ElementState::Rests
        }
    }
}

/// Whether `operates` means anything for an element: lamps, heaters, coils, windings. What a resistor, a sensor or a
/// pull-up does is a matter of volts.
pub(crate) fn can_operate(kind: ElementKind) -> bool {
    matches!(kind, ElementKind::Lamp | ElementKind::Heater | ElementKind::Coil | ElementKind::Winding)
}

/// The threshold of a part; `None` where it cannot operate (also because a fault made it something else), or where no
/// supply reaches it and it has no rated current of its own.
pub(crate) fn threshold(plan: &Plan<'_>, part: usize, flow: &Flow, trace: &Trace) -> Option<Threshold> {
    let volts = || feeder(plan, part, flow, trace);
    match plan.law(part)? {
        Law::Rated { watts, volts, .. } => Threshold::new(None, Some(watts.nominal / volts.nominal)),
        Law::Coil { ohms, pulls_in, rated, .. } => {
            let rated = || rated_amps(*rated, ohms.nominal).or_else(|| Some(volts()? / ohms.nominal));
            Threshold::new(pulls_in.map(|n| n.nominal), if pulls_in.is_some() { None } else { rated() })
        }
        Law::Winding { ohms, turns_at, rated, runs } => {
            let rated = || rated_amps(*rated, ohms.nominal).or_else(|| Some(volts()? / ohms.nominal));
            let found =
                Threshold::new(turns_at.map(|n| n.nominal), if turns_at.is_some() { None } else { rated() });
            match (found, runs) {
                (Some(found), Some(runs)) if turns_at.is_none() => {
                    Some(found.lowered_to(AMPLE * runs.nominal))
                }
                (found, _) => found,
            }
        }
        _ => None,
    }
}

/// Ohms of a winding once it turns: what draws its running current at its rated voltage.
pub(crate) fn turning_ohms(plan: &Plan<'_>, part: usize, flow: &Flow, trace: &Trace) -> Option<f64> {
    let Law::Winding { rated, runs: Some(runs), .. } = plan.law(part)? else { return None };
    let volts = match rated {
        Some(Rated::Volts(volts)) => volts.nominal,
        _ => feeder(plan, part, flow, trace)?,
    };
    Some(volts / runs.nominal).filter(|ohms| ohms.is_finite() && *ohms > 0.0)
}

fn rated_amps(rated: Option<Rated>, ohms: f64) -> Option<f64> {
    match rated? {
        Rated::Amps(amps) => Some(amps.nominal),
        Rated::Volts(volts) => Some(volts.nominal / ohms),
    }
}

/// Stated open-circuit volts of the supply that feeds a part from either side.
fn feeder(plan: &Plan<'_>, part: usize, flow: &Flow, trace: &Trace) -> Option<f64> {
    let at = |point: usize| trace.feeders[flow.stiff.of(point)];
    match (at(plan.parts[part].from), at(plan.parts[part].to)) {
        (Some(a), Some(b)) => Some(a.max(b)),
        (a, b) => a.or(b),
    }
}
