//! A circuit in one state, made ready to be solved: every element as a part with plain figures.

use crate::{State, sensor};
use keyon_circuit::{
    ids::*,
    model::{Change, Circuit, Element, ElementKind, Law, Owner, PointKind, When},
};

/// Most amps of a transducer's output (common practice, no source): shorted, it gives way.
const OUTPUT_LIMIT: f64 = 0.02;

/// How a part behaves while it conducts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Act {
    /// Passes nothing.
    Nothing,
    /// Joins its ends.
    Joint,
    /// Ohms, above zero.
    Ohms(f64),
    /// Conducts from `from` to `to` with this drop in volts.
    Diode(f64),
    /// `to` stands `volts` above `from` behind `inner` ohms, and gives no more than `limit` amps.
    Source { volts: f64, inner: f64, limit: Option<f64> },
    /// The output of a transducer: as a source; with `ratio` in proportion to what its feed has.
    Output { volts: f64, feed: usize, ratio: bool },
}

/// When a part conducts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Gate {
    Always,
    Never,
    In {
        control: usize,
        positions: u64,
    },
    /// While relay coil `coil` (an index into `Plan::coils`) is energised, or is not.
    Energised {
        coil: usize,
        open: bool,
    },
}

/// What a source is to tracing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum SourceKind {
    Supply,
    Reference,
}

/// An element with the changes applied, or one that a change added.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Part {
    pub(crate) from: usize,
    pub(crate) to: usize,
    pub(crate) act: Act,
    /// Ends continuity (decision 18).
    pub(crate) load: bool,
    pub(crate) gate: Gate,
    /// The module that must be alive.
    pub(crate) alive: Option<usize>,
    pub(crate) source: Option<SourceKind>,
    /// Amps of a fuse.
    pub(crate) fuse: Option<f64>,
    /// Of a supply that charges another one: the volts of that one, for tracing.
    pub(crate) charges: Option<f64>,
}

impl Part {
    /// The potential that a source counts as when ways with no load between are looked at: a generator that stands within the
    /// range of the battery it charges is no contradiction to it.
    pub(crate) fn level(&self) -> Option<f64> {
        match self.act {
            Act::Source { volts, .. } => Some(self.charges.unwrap_or(volts)),
            _ => None,
        }
    }
}

/// A part of a pulse's period in which nothing changes.
#[derive(Clone, Debug)]
pub(crate) struct Phase {
    pub(crate) positions: Vec<u8>,
    /// Share of the period.
    pub(crate) weight: f64,
}

/// A circuit in one state.
#[derive(Debug)]
pub(crate) struct Plan<'a> {
    pub(crate) circuit: &'a Circuit,
    pub(crate) state: &'a State,
    pub(crate) points: usize,
    /// Those of the circuit's elements, then those that changes added.
    pub(crate) parts: Vec<Part>,
    /// Coils on which contacts depend, by their part.
    pub(crate) coils: Vec<usize>,
    /// The first is the on phase.
    pub(crate) phases: Vec<Phase>,
    /// The common ground and what is joined to it ideally as a ground point: fixed at 0 V, never walked through.
    pub(crate) anchored: Vec<bool>,
    pub(crate) diodes: Vec<usize>,
    /// Sources (and outputs) that give way at a limit.
    pub(crate) limited: Vec<usize>,
    pub(crate) outputs: Vec<usize>,
}

impl<'a> Plan<'a> {
    pub(crate) fn new(circuit: &'a Circuit, state: &'a State) -> Self {
        let points = circuit.points.len().max(1);
        let mut coils: Vec<usize> = circuit
            .elements
            .iter()
            .filter_map(|e| match e.when {
                When::Energised { coil, .. } => Some(coil.index()),
                _ => None,
            })
            .filter(|&coil| coil < circuit.elements.len())
            .collect();
        coils.sort_unstable();
        coils.dedup();
        let mut plan = Self {
            circuit,
            state,
            points,
            parts: Vec::with_capacity(circuit.elements.len()),
            coils,
            phases: phases(state),
            anchored: vec![false; points],
            diodes: Vec::new(),
            limited: Vec::new(),
            outputs: Vec::new(),
        };
        for element in &circuit.elements {
            let part = plan.part(element);
            plan.parts.push(part);
        }
        plan.change();
        plan.index();
        plan.charging();
        plan
    }

    fn part(&self, element: &Element) -> Part {
        let mut part = Part {
            from: element.from.index(),
            to: element.to.index(),
            act: Act::Nothing,
            load: false,
            gate: match element.when {
                When::Always => Gate::Always,
                When::Never => Gate::Never,
                When::In { control, positions } => Gate::In { control: control.index(), positions },
                When::Energised { coil, open } => match self.coils.binary_search(&coil.index()) {
                    Ok(coil) => Gate::Energised { coil, open },
                    Err(_) => Gate::Never,
                },
            },
            alive: element.alive.map(|m| m.index()).filter(|&m| m < self.circuit.modules.len()),
            source: match element.kind {
                ElementKind::Supply => Some(SourceKind::Supply),
                kind if kind.is_source() => Some(SourceKind::Reference),
                _ => None,
            },
            charges: None,
            fuse: match element.kind {
                ElementKind::Fuse(_) => element.rating.map(|r| r.nominal),
                _ => None,
            },
        };
        self.shape(&mut part, element.kind, &element.law);
        self.supply_volts(&mut part, element.owner);
        if part.from >= self.points || part.to >= self.points {
            part.act = Act::Nothing;
            (part.from, part.to) = (0, 0);
        }
        part
    }

    /// A supply has the volts of the state.
    fn supply_volts(&self, part: &mut Part, owner: Owner) {
        if let (Act::Source { volts, .. }, Owner::Supply(index)) = (&mut part.act, owner)
            && let Some(&set) = self.state.supplies.get(index)
        {
            *volts = set;
        }
    }

    /// Finds supplies that charge each other: on one negative pole, one of them within the range of the other, or the higher one
    /// with a limit of its own; and with a resistance that decides what flows. Without one it would have no limit.
    fn charging(&mut self) {
        let circuit = self.circuit;
        if circuit.supplies.len() < 2 {
            return;
        }
        for at in 1..circuit.supplies.len() {
            // Against the first that fits, so that all of one group have one level.
            let first = (0..at).find(|&first| self.charge_each_other(first, at));
            let part = |supply: usize| circuit.supplies.get(supply).map(|s| s.element.index());
            if let (Some(a), Some(b)) = (first.and_then(part), part(at)) {
                let level = self.parts.get(a).and_then(Part::level);
                if let Some(part) = self.parts.get_mut(b) {
                    part.charges = level;
                }
            }
        }
    }

    fn charge_each_other(&self, a: usize, b: usize) -> bool {
        let source = |at: usize| {
            let supply = self.circuit.supplies.get(at)?;
            match self.parts.get(supply.element.index())?.act {
                Act::Source { volts, inner, limit } => Some((supply, volts, inner, limit)),
                _ => None,
            }
        };
        let (Some((one, low, r, _)), Some((other, high, s, _))) = (source(a), source(b)) else {
            return false;
        };
        let higher = if low > high { a } else { b };
        let limited = source(higher).is_some_and(|(.., limit)| limit.is_some());
        let within =
            |volts: f64, range: Option<(f64, f64)>| range.is_some_and(|(l, h)| l <= volts && volts <= h);
        let fits = limited || within(high, one.range) || within(low, other.range);
        // Two of the same kind that stand apart are no generator and its battery.
        let of_a_kind = one.volts.nominal == other.volts.nominal;
        let differ = low != high && low > 0.0 && high > 0.0 && !of_a_kind;
        one.negative == other.negative && fits && differ && r + s > 0.0
    }

    /// Gives a part its law.
    fn shape(&self, part: &mut Part, kind: ElementKind, law: &Law) {
        let inrush = self.state.options.inrush;
        part.act = match law {
            Law::Joint => Act::Joint,
            Law::Resistance(ohms) => resistance(ohms.nominal),
            Law::Rated { watts, volts, cold } => resistance(match cold {
                Some(cold) if inrush => cold.nominal,
                _ => volts.nominal * volts.nominal / watts.nominal,
            }),
            Law::Coil { ohms, .. } => resistance(ohms.nominal),
            Law::Winding { ohms, .. } => resistance(ohms.nominal),
            Law::Thermistor { .. } | Law::Track { .. } | Law::Variable { .. } => {
                resistance(sensor::sensed_ohms(law, kind, self.state).unwrap_or(f64::INFINITY))
            }
            Law::Diode { drop } => Act::Diode(drop.nominal.max(0.0)),
            Law::Source { volts, inner, limit, .. } => Act::Source {
                volts: volts.nominal,
                inner: if inner.nominal > 0.0 { inner.nominal } else { 0.0 },
                limit: limit.map(|l| l.nominal.abs()),
            },
            Law::Transducer { feed, volts, over, ratio, stimulus } => {
                let sensed = self.state.stimuli.get(stimulus.index()).copied().unwrap_or(over.0);
                if feed.index() < self.points {
                    let volts = sensor::transducer(*volts, *over, sensed);
                    Act::Output { volts, feed: feed.index(), ratio: *ratio }
                } else {
                    Act::Nothing
                }
            }
        };
        part.load = kind.is_load() && part.act != Act::Joint;
        let is_source = matches!(part.act, Act::Source { .. });
        part.source = if is_source { part.source.or(Some(SourceKind::Supply)) } else { None };
    }

    /// Applies the state's changes in their order.
    fn change(&mut self) {
        let count = self.parts.len();
        for change in &self.state.changes {
            match change {
                Change::Open(e) if e.index() < count => self.parts[e.index()].gate = Gate::Never,
                Change::Replace(e, law) if e.index() < count => {
                    let element = &self.circuit.elements[e.index()];
                    let mut part = self.parts[e.index()];
                    self.shape(&mut part, element.kind, law);
                    // Volts that the new law leaves alone are still the state's.
                    if let (Law::Source { volts: old, .. }, Law::Source { volts: new, .. }) =
                        (&element.law, law)
                        && old == new
                    {
                        self.supply_volts(&mut part, element.owner);
                    }
                    self.parts[e.index()] = part;
                }
                Change::Stuck(e, on) if e.index() < count => {
                    let part = &mut self.parts[e.index()];
                    if *on && part.gate != Gate::Never {
                        (part.gate, part.alive) = (Gate::Always, None);
                        if matches!(part.act, Act::Diode(_)) {
                            part.act = Act::Joint;
                        }
                    } else {
                        part.gate = Gate::Never;
                    }
                }
                Change::Drift(e, factor) if e.index() < count => {
                    drift(&mut self.parts[e.index()].act, *factor)
                }
                Change::Add { from, to, law } => {
                    let mut part = Part {
                        from: from.index(),
                        to: to.index(),
                        act: Act::Nothing,
                        load: false,
                        gate: Gate::Always,
                        alive: None,
                        source: None,
                        fuse: None,
                        charges: None,
                    };
                    // Whatever is put in is a load, unless it is a plain joint.
                    self.shape(&mut part, ElementKind::Resistor, law);
                    if part.from >= self.points || part.to >= self.points {
                        part.act = Act::Nothing;
                        (part.from, part.to) = (0, 0);
                    }
                    self.parts.push(part);
                }
                _ => {}
            }
        }
    }

    fn index(&mut self) {
        self.anchored[0] = true;
        for (index, part) in self.parts.iter().enumerate() {
            match part.act {
                Act::Diode(_) => self.diodes.push(index),
                Act::Source { limit: Some(_), .. } => self.limited.push(index),
                Act::Output { .. } => {
                    self.limited.push(index);
                    self.outputs.push(index);
                }
                Act::Joint if part.gate == Gate::Always => {
                    let is_ground = |p: usize| {
                        matches!(self.circuit.points.get(p).map(|p| p.kind), Some(PointKind::Ground(_)))
                    };
                    if self.circuit.elements.get(index).is_some_and(|e| e.kind == ElementKind::Ground) {
                        for (common, ground) in [(part.from, part.to), (part.to, part.from)] {
                            if common == 0 && is_ground(ground) {
                                self.anchored[ground] = true;
                            }
                        }
                    }
                }
                _ => {}
            }
        }
    }

    /// Most amps of a limited source.
    pub(crate) fn limit(&self, part: usize) -> f64 {
        match self.parts[part].act {
            Act::Source { limit: Some(limit), .. } => limit,
            Act::Output { .. } => OUTPUT_LIMIT,
            _ => f64::INFINITY,
        }
    }

    /// The law that a part has, changes applied; `None` for what is not an element of the circuit.
    pub(crate) fn law(&self, part: usize) -> Option<&'a Law> {
        let replaced = self.state.changes.iter().rev().find_map(|change| match change {
            Change::Replace(e, law) if e.index() == part => Some(law),
            _ => None,
        });
        replaced.or_else(|| self.circuit.elements.get(part).map(|e| &e.law))
    }
}

/// A resistance that may be none or endless.
fn resistance(ohms: f64) -> Act {
    if ohms.is_nan() || ohms == f64::INFINITY {
        Act::Nothing
    } else if ohms > 0.0 {
        Act::Ohms(ohms)
    } else {
        Act::Joint
    }
}

fn drift(act: &mut Act, factor: f64) {
    match act {
        Act::Ohms(ohms) => *act = resistance(*ohms * factor),
        Act::Source { volts, .. } | Act::Output { volts, .. } => *volts *= factor,
        _ => {}
    }
}

/// The phases of the pulses. All pulses start together, whatever their frequencies: the shorter a duty, the sooner its
/// stage goes to its off position (the first of a gang, open of a driver), so that a period falls into one stretch more
/// than there are different duties.
fn phases(state: &State) -> Vec<Phase> {
    let pulsed = |&(control, duty): &(usize, f64)| {
        duty < 1.0 && state.positions.get(control).is_some_and(|&position| position != 0)
    };
    let duties = || state.duty.iter().copied().enumerate().filter(pulsed);
    let mut ends: Vec<f64> = duties().map(|(_, duty)| duty.clamp(0.0, 1.0)).collect();
    ends.push(1.0);
    ends.sort_by(f64::total_cmp);
    ends.dedup();
    let mut phases = Vec::with_capacity(ends.len());
    let mut start = 0.0;
    for (index, &end) in ends.iter().enumerate() {
        let mut positions = state.positions.clone();
        for (control, duty) in duties() {
            if index > 0 && duty.clamp(0.0, 1.0) <= start {
                positions[control] = 0;
            }
        }
        phases.push(Phase { positions, weight: end - start });
        start = end;
    }
    phases
}

/// The parts of a circuit that a state's changes added, by the ids that a solution uses for them.
pub(crate) fn added(circuit: &Circuit, state: &State, element: ElementId) -> Option<Change> {
    let index = element.index().checked_sub(circuit.elements.len())?;
    state.changes.iter().filter(|change| matches!(change, Change::Add { .. })).nth(index).cloned()
}
