//! What an instrument shows on a point: a meter, which hardly loads it, or a test lamp, which does. A feed that reads full
//! volts on the meter and leaves the lamp dark is a weak one: it cannot carry a load.

use crate::{NodeState, Solution, State, difference, solve};
use keyon_circuit::{ids::*, model::*, value::Num};
use std::collections::BTreeMap;

/// Ohms of a test lamp where nothing else is said: a small bulb of about 4 W at 12 V (common practice, no source).
pub const TEST_LAMP: f64 = 40.0;
/// Shares of the highest supply's stated volts from which a lamp is bright, and dim: those at which any lamp operates and
/// is weak (decision 25).
const BRIGHT: f64 = 0.7;
const DIM: f64 = 0.2;

/// Volts between two floating points below which nothing drives an instrument.
const OWN: f64 = 1e-6;

/// What is held to a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Instrument {
    /// A voltmeter of so many ohms.
    Meter(f64),
    /// A test lamp of so many ohms.
    Lamp(f64),
}

impl Instrument {
    /// Its ohms.
    pub fn ohms(self) -> f64 {
        match self {
            Self::Meter(ohms) | Self::Lamp(ohms) => ohms,
        }
    }
}

/// How bright a test lamp is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Glow {
    Bright,
    Dim,
    Dark,
}

impl Glow {
    /// As people and JSON read it.
    pub fn words(self) -> &'static str {
        match self {
            Self::Bright => "bright",
            Self::Dim => "dim",
            Self::Dark => "dark",
        }
    }
}

/// What is found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shown {
    /// Volts of the point over the other lead, the instrument between them.
    Volts(f64),
    /// Nothing drives the instrument: point and other lead hang in the air together.
    Floating,
    /// A potential without a limit meets another there: there is no figure.
    Clash,
    /// It alternates with a relay that cannot settle: no figure either.
    Unsettled,
}

/// Volts of `a` over `b` with an instrument of so many ohms between them: the circuit is solved with it, so that what it
/// draws counts (a relay may pull in through a test lamp).
pub fn across(circuit: &Circuit, state: &State, a: PointId, b: PointId, ohms: f64) -> Shown {
    let mut state = state.clone();
    state.changes.push(Change::Add { from: a, to: b, law: Law::Resistance(Num::exact(ohms)) });
    let solution = solve(circuit, &state);
    let volts = |p: PointId| solution.unloaded.get(p.index()).copied().flatten();
    let is = |state| [a, b].iter().any(|p| solution.node_states.get(p.index()) == Some(&state));
    // Both may float against ground and yet have a potential between them: a supply that is tied to nothing.
    // A state that is the same over a relay's cycle has other volts in it.
    let alternates = |p: PointId| {
        let state = solution.node_states.get(p.index()).copied().unwrap_or(NodeState::Open);
        state == NodeState::Chatters
            || (!solution.chatters.is_empty() && state != NodeState::Open && volts(p).is_none())
    };
    let own = || solution.amps.last().and_then(|amps| amps.known()).map_or(0.0, |amps| amps * ohms);
    match (volts(a), volts(b)) {
        (Some(a), Some(b)) => Shown::Volts(difference(a, b)),
        _ if is(NodeState::Clash) => Shown::Clash,
        _ if alternates(a) || alternates(b) => Shown::Unsettled,
        (None, None) if own().abs() > OWN => Shown::Volts(own()),
        _ => Shown::Floating,
    }
}

/// How bright a test lamp is with so many volts across it.
pub fn glow(circuit: &Circuit, volts: f64) -> Glow {
    let rated = circuit.supplies.iter().map(|s| s.volts.nominal.abs()).fold(0.0, f64::max);
    match volts.abs() {
        v if rated > 0.0 && v >= BRIGHT * rated => Glow::Bright,
        v if rated > 0.0 && v >= DIM * rated => Glow::Dim,
        _ => Glow::Dark,
    }
}

/// An instrument with one lead fixed, held to one point after another in a solved state. Points of one net show the
/// same: each net is solved once. Where something alternates, a net is what it is for a part of the time only: there each
/// point is solved by itself.
#[derive(Debug)]
pub struct Bench<'a> {
    circuit: &'a Circuit,
    solution: &'a Solution,
    instrument: Instrument,
    lead: PointId,
    known: BTreeMap<u32, Shown>,
}

impl<'a> Bench<'a> {
    /// The other lead is on `lead`: [`COMMON`] for the negative pole.
    pub fn new(circuit: &'a Circuit, solution: &'a Solution, instrument: Instrument, lead: PointId) -> Self {
        Self { circuit, solution, instrument, lead, known: BTreeMap::new() }
    }

    /// What it shows on a point.
    pub fn at(&mut self, point: PointId) -> Shown {
        let steady = self.solution.chatters.is_empty() && self.solution.state.duty.iter().all(|d| *d >= 1.0);
        let net = |p: PointId| if steady { self.solution.nets.get(p.index()).copied() } else { Some(p.0) };
        let Some(net_of) = net(point) else { return Shown::Floating };
        // Both leads on one net: nothing between them, wherever it floats.
        if Some(net_of) == net(self.lead) {
            return Shown::Volts(0.0);
        }
        if let Some(&known) = self.known.get(&net_of) {
            return known;
        }
        let state = &self.solution.state;
        let shown = across(self.circuit, state, point, self.lead, self.instrument.ohms());
        self.known.insert(net_of, shown);
        shown
    }
}
