//! What a module sees of its own outputs: as much as volts and amps at the pin tell it.

use super::ground_of;
use crate::{Amps, NodeState, Solution};
use keyon_circuit::{
    ids::*,
    model::{Cavity, Circuit, ElementKind, Module, Role, Way},
};

/// Amps below which a stage that is on carries nothing (common practice, no source).
const NOTHING: f64 = 1e-4;
/// Share of the feed's volts at which a pin counts as pulled there while its stage is off, and above which a stage that is
/// on counts as overpowered (common practice, no source).
const PULLED: f64 = 0.2;
const OVERPOWERED: f64 = 0.5;
/// Share by which a reference may be off its volts (common practice, no source).
const REFERENCE_OFF: f64 = 0.05;

/// What a module sees of one output.
#[derive(Clone, Debug, PartialEq)]
pub struct OutputView {
    /// Connector and cavity.
    pub at: (usize, usize),
    /// The position of its control: `on`, `low`, the gang's; `None` for a reference.
    pub position: Option<usize>,
    /// Volts of the pin against the module's own ground; `None` where it floats or clashes.
    pub volts: Option<f64>,
    #[allow(missing_docs)]
    pub seen: Seen,
}

/// What an output looks like from inside.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Seen {
    /// As it should be.
    Normal,
    /// At rest in a way that tells nothing.
    Idle,
    /// Off, and nothing pulls the pin through a load; or on, and no current flows.
    OpenLoad,
    /// The pin is held at the supply's potential against the stage, or without a load.
    ShortToSupply,
    /// … at ground's.
    ShortToGround,
    /// More current than the stage's limit.
    Overload,
    /// A relay that cannot settle: nothing to tell.
    Unsettled,
}

impl Seen {
    /// As people and JSON read it.
    pub fn words(self) -> &'static str {
        match self {
            Self::Normal => "normal",
            Self::Idle => "idle",
            Self::OpenLoad => "open load",
            Self::ShortToSupply => "short to supply",
            Self::ShortToGround => "short to ground",
            Self::Overload => "overload",
            Self::Unsettled => "unsettled",
        }
    }
}

/// What is known at a pin.
struct Pin {
    state: NodeState,
    volts: Option<f64>,
    /// Volts of the module's feed over its ground.
    feed: f64,
    /// Share of the period in which the stage is on.
    duty: f64,
    limit: Option<f64>,
}

pub(super) fn output(
    circuit: &Circuit,
    solution: &Solution,
    module: &Module,
    at: (usize, usize),
    cavity: &Cavity,
) -> Option<OutputView> {
    let volts_at = |p: PointId| solution.unloaded.get(p.index()).copied().flatten();
    let over_ground = |p: PointId| Some(crate::difference(volts_at(p)?, volts_at(ground_of(module))?));
    let first_feed = module.feeds.first().and_then(|&(c, k)| module.connectors.get(c)?.cavities.get(k));
    let nominal = || circuit.supplies.first().map_or(12.0, |s| s.volts.nominal);
    let control = cavity.control.map(ControlId::index);
    let position = control.and_then(|c| solution.state.positions.get(c)).map_or(0, |&p| usize::from(p));
    let pin = Pin {
        state: solution.node_states.get(cavity.inside.index()).copied().unwrap_or(NodeState::Open),
        volts: over_ground(cavity.inside),
        feed: first_feed.and_then(|f| over_ground(f.inside)).unwrap_or_else(nominal),
        duty: control.and_then(|c| solution.state.duty.get(c)).copied().unwrap_or(1.0),
        limit: cavity.limit.map(|l| l.nominal),
    };
    let seen = match &cavity.role {
        Role::Reference { volts } => reference(circuit, solution, cavity, &pin, volts.nominal),
        Role::Drives(way) => driver(circuit, solution, cavity, &pin, Some(*way), position == 0),
        Role::Switches => driver(circuit, solution, cavity, &pin, None, position == 0),
        _ => return None,
    };
    let position = (!matches!(cavity.role, Role::Reference { .. })).then_some(position);
    Some(OutputView { at, position, volts: pin.volts, seen })
}

fn driver(
    circuit: &Circuit,
    solution: &Solution,
    cavity: &Cavity,
    pin: &Pin,
    way: Option<Way>,
    at_rest: bool,
) -> Seen {
    if pin.state == NodeState::Chatters {
        return Seen::Unsettled;
    }
    let stage = |e: &&ElementId| {
        circuit.elements.get(e.index()).is_some_and(|e| e.kind == ElementKind::Stage)
            && solution.conducts.get(e.index()).copied().unwrap_or(false)
    };
    let Some(&on) = cavity.elements.iter().find(stage) else { return off(pin, way) };
    let Some(element) = circuit.elements.get(on.index()) else { return Seen::Idle };
    // A stage runs from the feed to the pin, or from the pin to the ground.
    let low = element.from == cavity.inside;
    let short = if low { Seen::ShortToSupply } else { Seen::ShortToGround };
    let amps = match solution.amps.get(on.index()) {
        Some(Amps::Known(amps)) if pin.state != NodeState::Clash => amps.abs(),
        _ => return short,
    };
    let volts = |p: PointId| solution.unloaded.get(p.index()).copied().flatten();
    let across = volts(element.from).zip(volts(element.to)).map_or(0.0, |(a, b)| (a - b).abs());
    // Over a pulse the mean volts across a stage are those of its pauses.
    if pin.duty >= 1.0 && across > OVERPOWERED * pin.feed.abs() {
        short
    } else if pin.limit.is_some_and(|limit| amps > limit * pin.duty * (1.0 + 1e-9)) {
        Seen::Overload
    } else if amps >= NOTHING * pin.duty {
        Seen::Normal
    } else if at_rest {
        // Both ends of a motor on one potential: no current is as it should be.
        Seen::Idle
    } else {
        Seen::OpenLoad
    }
}

/// A stage that is off looks at what pulls the pin.
fn off(pin: &Pin, way: Option<Way>) -> Seen {
    use NodeState::*;
    let share = pin.volts.map(|volts| volts / pin.feed);
    match (way, pin.state) {
        (_, Clash) => Seen::Unsettled,
        (Some(Way::Low), Grounded) => Seen::ShortToGround,
        (Some(Way::High), Fed) => Seen::ShortToSupply,
        (Some(Way::Low), _) if share.is_some_and(|s| s >= PULLED) => Seen::Normal,
        (Some(Way::High), Grounded | GroundedViaLoad | Between)
            if share.is_some_and(|s| s <= 1.0 - PULLED) =>
        {
            Seen::Normal
        }
        (Some(Way::Low | Way::High), _) => Seen::OpenLoad,
        // Between two halves a motor hangs in the air: nothing to tell.
        _ => Seen::Idle,
    }
}

fn reference(circuit: &Circuit, solution: &Solution, cavity: &Cavity, pin: &Pin, stated: f64) -> Seen {
    let of =
        |e: &&ElementId| circuit.elements.get(e.index()).is_some_and(|e| e.kind == ElementKind::Reference);
    let amps = cavity.elements.iter().find(of).and_then(|e| solution.amps.get(e.index()));
    let share = pin.volts.map(|volts| volts / stated);
    match (amps, share) {
        (Some(Amps::Unlimited), _) | (_, None) => Seen::ShortToGround,
        (_, Some(share)) if share > 1.0 + REFERENCE_OFF => Seen::ShortToSupply,
        (_, Some(share)) if share < OVERPOWERED => Seen::ShortToGround,
        (_, Some(share)) if share < 1.0 - REFERENCE_OFF => Seen::Overload,
        _ => Seen::Normal,
    }
}
