//! Volts and amps of one phase: the network of what conducts, with diodes and limits brought to a consistent set.
//!
//! Diodes with a fixed drop and sources that give way at a limit make a convex problem of complementarity: the one
//! solution is found by block pivoting with a least-index fallback (J. Júdice, F. Pires, "A block principal pivoting
//! algorithm for large-scale strictly monotone linear complementarity problems", Computers & Operations Research 21
//! (1994)): all elements that are in the wrong state change together while that helps, else the last of them alone.
//! While it is sought, diodes have a nanohm and a leak of a petaohm to ground, so that the search never meets a loop of
//! ideal branches or an island; the answer is then solved without them.

use crate::{
    clash::Core,
    dc::{Answer, Branch, Factored, Network},
    plan::{Act, Plan},
    stiff::Stiff,
};

/// Ohms in series with a diode and a limited source, siemens from their ends to ground, during the search only.
const SEARCH_OHMS: f64 = 1e-9;
const SEARCH_LEAK: f64 = 1e15;
/// A diode's voltage may exceed its drop, and its current be negative, by so much.
const SLACK_VOLTS: f64 = 1e-10;
const SLACK_AMPS: f64 = 1e-18;
/// A diode with less carries nothing but the arithmetic's own noise.
const IDLE_AMPS: f64 = 1e-12;
/// An output that follows its feed to less than this part of what it states gives nothing.
const DEAD_GAIN: f64 = 1e-15;
/// How often all may change together without any gain.
const PATIENCE: usize = 8;

/// What conducts in a phase.
#[derive(Clone, Copy)]
pub(crate) struct Wired<'a> {
    pub(crate) conducts: &'a [bool],
    /// Ohms of windings that turn, sorted by part.
    pub(crate) turning: &'a [(usize, f64)],
    pub(crate) stiff: &'a Stiff,
    /// Ways of unlimited current: taken out.
    pub(crate) core: Option<&'a Core>,
    /// Diodes on such ways.
    pub(crate) forced: &'a [usize],
    /// A meter: the point that it probes, against the common ground, and its ohms.
    pub(crate) meter: Option<(usize, f64)>,
}

/// The states of diodes and limited sources: a mark for each part.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Modes {
    /// Diodes: 1 conducts. Limited sources: 1 and -1 give their limit forward and backward.
    pub(crate) of: Vec<i8>,
}

/// Volts and amps.
#[derive(Clone, Debug)]
pub(crate) struct Electric {
    pub(crate) answer: Answer,
    /// Amps of each part.
    pub(crate) amps: Vec<f64>,
    pub(crate) factored: Factored,
    pub(crate) modes: Modes,
}

/// Solves what conducts, starting from `guess`.
pub(crate) fn solve(plan: &Plan<'_>, wired: Wired<'_>, guess: Modes) -> Electric {
    let out = |part: usize| wired.core.is_some_and(|core| core.parts[part]);
    let live = |&part: &usize| wired.conducts[part] && !out(part) && !wired.forced.contains(&part);
    let mut moving: Vec<usize> = plan.diodes.iter().chain(&plan.limited).copied().filter(live).collect();
    moving.sort_unstable();
    let mut search = Search { plan, wired, moving, gains: vec![1.0; plan.outputs.len()] };
    let mut modes = guess;
    let mut solved = search.settle(&mut modes);
    // Outputs that follow their feed: their volts depend on the solution, hardly ever by more than a trace.
    for _ in 0..60 {
        if !search.follow(&solved.answer) {
            break;
        }
        solved = search.settle(&mut modes);
    }
    let Solved { answer, factored, branch_of } = solved;
    let amps = branch_of.iter().map(|&b| answer.amps.get(b as usize).copied().unwrap_or(0.0)).collect();
    Electric { answer, amps, factored, modes }
}

/// The most amps that a source gives with the ways of a clash left in, where resistances limit them; `None` where ideal
/// ones contradict each other.
pub(crate) fn prospective(plan: &Plan<'_>, wired: Wired<'_>, mut modes: Modes) -> Option<f64> {
    let sources: Vec<usize> = (0..plan.parts.len())
        .filter(|&part| wired.core.is_some_and(|core| core.parts[part]))
        .filter(|&part| matches!(plan.parts[part].act, Act::Source { .. }))
        .collect();
    wired.forced.iter().for_each(|&diode| modes.of[diode] = 1);
    let moving = plan.diodes.iter().chain(&plan.limited).copied().filter(|&part| wired.conducts[part]);
    let mut moving: Vec<usize> = moving.collect();
    moving.sort_unstable();
    let wired = Wired { core: None, forced: &[], ..wired };
    let search = Search { plan, wired, moving, gains: vec![1.0; plan.outputs.len()] };
    search.settle(&mut modes);
    let solved = search.solve(&modes, false)?;
    let amps = |part: usize| solved.answer.amps.get(solved.branch_of[part] as usize).copied();
    sources.into_iter().filter_map(amps).map(f64::abs).reduce(f64::max)
}

struct Solved {
    answer: Answer,
    factored: Factored,
    branch_of: Vec<u32>,
}

struct Search<'a> {
    plan: &'a Plan<'a>,
    wired: Wired<'a>,
    /// Diodes and limited sources that take part.
    moving: Vec<usize>,
    /// What outputs give in proportion to what they state.
    gains: Vec<f64>,
}

impl Search<'_> {
    /// Brings the modes to a consistent set and solves with it.
    fn settle(&self, modes: &mut Modes) -> Solved {
        if let Some(solved) = self.solve(modes, false)
            && self.is_settled(modes, &solved)
        {
            return solved;
        }
        let mut best = usize::MAX;
        let mut patience = PATIENCE;
        let most = 100 + 20 * self.moving.len();
        for _ in 0..most {
            let Some(solved) = self.solve(modes, true) else { break };
            let wrong: Vec<(usize, i8)> = self.wrong(modes, &solved).collect();
            if wrong.is_empty() {
                break;
            }
            let all = if wrong.len() < best {
                best = wrong.len();
                patience = PATIENCE;
                true
            } else {
                patience = patience.saturating_sub(1);
                patience > 0
            };
            let from = if all { 0 } else { wrong.len() - 1 };
            for &(part, mode) in &wrong[from..] {
                modes.of[part] = mode;
            }
        }
        match self.solve(modes, false).or_else(|| self.solve(modes, true)) {
            Some(solved) => solved,
            None => self.nothing(),
        }
    }

    /// Nothing flows anywhere: only where even the search's own network has no solution.
    fn nothing(&self) -> Solved {
        let factored = Network::new(self.plan.points).factor();
        let points = self.plan.points;
        let answer = Answer { volts: vec![0.0; points], floating: vec![true; points], amps: Vec::new() };
        Solved { answer, factored, branch_of: vec![u32::MAX; self.plan.parts.len()] }
    }

    /// Whether an exact solution is consistent, beyond doubt.
    fn is_settled(&self, modes: &Modes, solved: &Solved) -> bool {
        let floats = |point: usize| solved.answer.floating[point];
        let ends_float =
            |&part: &usize| floats(self.plan.parts[part].from) || floats(self.plan.parts[part].to);
        // A diode that carries nothing is on neither side by itself: the search's leak to ground decides.
        let amps =
            |part: usize| solved.answer.amps.get(solved.branch_of[part] as usize).copied().unwrap_or(0.0);
        let idle = |&part: &usize| {
            modes.of[part] == 1
                && matches!(self.plan.parts[part].act, Act::Diode(_))
                && amps(part).abs() < IDLE_AMPS
        };
        !self.moving.iter().any(|part| ends_float(part) || idle(part))
            && self.wrong(modes, solved).next().is_none()
    }

    /// The parts whose mode does not fit, with the one that they ask for.
    fn wrong(&self, modes: &Modes, solved: &Solved) -> impl Iterator<Item = (usize, i8)> {
        self.moving.iter().filter_map(|&index| {
            let part = &self.plan.parts[index];
            let volts = &solved.answer.volts;
            let across = volts[part.from] - volts[part.to];
            let amps = solved.answer.amps.get(solved.branch_of[index] as usize).copied().unwrap_or(0.0);
            let mode = modes.of[index];
            let asks = match part.act {
                Act::Diode(drop) if mode == 0 => i8::from(across > drop + SLACK_VOLTS),
                Act::Diode(_) => i8::from(amps >= -SLACK_AMPS),
                _ => {
                    let limit = self.plan.limit(index);
                    let (volts, inner) = self.source(index)?;
                    match mode {
                        0 if amps > limit * (1.0 + 1e-12) => 1,
                        0 if amps < -limit * (1.0 + 1e-12) => -1,
                        0 => 0,
                        // At its limit it stays while more would flow without one.
                        1 => i8::from(across + volts - inner * limit > -SLACK_VOLTS),
                        _ => -i8::from(across + volts + inner * limit < SLACK_VOLTS),
                    }
                }
            };
            (asks != mode).then_some((index, asks))
        })
    }

    /// Volts and ohms of a source or an output.
    fn source(&self, index: usize) -> Option<(f64, f64)> {
        match self.plan.parts[index].act {
            Act::Source { volts, inner, .. } => Some((volts, inner)),
            Act::Output { volts, .. } => {
                let at = self.plan.outputs.binary_search(&index).ok()?;
                Some((volts * self.gains[at], 0.0))
            }
            _ => None,
        }
    }

    /// Sets the gains by what the feeds have; whether any changed.
    fn follow(&mut self, answer: &Answer) -> bool {
        let mut changed = false;
        for (at, &index) in self.plan.outputs.iter().enumerate() {
            let part = &self.plan.parts[index];
            let Act::Output { feed, ratio: true, .. } = part.act else { continue };
            if !self.wired.conducts[index] {
                continue;
            }
            let nominal = self.nominal_feed(feed);
            let gain = match nominal {
                Some(nominal) if !answer.floating[feed] => {
                    (answer.volts[feed] - answer.volts[part.from]) / nominal
                }
                _ => 1.0,
            };
            // One that dies away, step by step, is dead.
            let gain = if gain.abs() < DEAD_GAIN { 0.0 } else { gain };
            changed |= (gain - self.gains[at]).abs() > 1e-14 * gain.abs();
            self.gains[at] = gain;
        }
        changed
    }

    /// The volts that the source which feeds a transducer is stated to have.
    fn nominal_feed(&self, feed: usize) -> Option<f64> {
        let stiff = self.wired.stiff;
        let source = stiff.labels_of(stiff.of(feed)).iter().find_map(|label| label.source)?;
        let stated = self.plan.circuit.elements.get(source).and_then(|e| match &e.law {
            keyon_circuit::model::Law::Source { volts, .. } => Some(volts.nominal),
            _ => None,
        });
        let stated = stated.or(match self.plan.parts[source].act {
            Act::Source { volts, .. } => Some(volts),
            _ => None,
        });
        stated.filter(|volts| *volts != 0.0)
    }

    /// Solves with these modes; `searching` with the traces that keep any set of modes solvable.
    fn solve(&self, modes: &Modes, searching: bool) -> Option<Solved> {
        let plan = self.plan;
        let mut network = Network::new(plan.points);
        let mut branch_of = vec![u32::MAX; plan.parts.len()];
        let trace = if searching { SEARCH_OHMS } else { 0.0 };
        for (index, part) in plan.parts.iter().enumerate() {
            if !self.wired.conducts[index] || self.wired.core.is_some_and(|core| core.parts[index]) {
                continue;
            }
            let mode = modes.of[index];
            let branch = match part.act {
                Act::Nothing => continue,
                Act::Joint => Branch::Short,
                Act::Ohms(ohms) => {
                    let turning = self.wired.turning.binary_search_by_key(&index, |t| t.0);
                    Branch::Resistor(turning.map_or(ohms, |at| self.wired.turning[at].1))
                }
                Act::Diode(_) if mode == 0 => continue,
                Act::Diode(drop) => Branch::Source { volts: -drop, ohms: trace },
                Act::Source { limit: None, volts, inner } => Branch::Source { volts, ohms: inner },
                Act::Source { .. } | Act::Output { .. } => match (mode, self.source(index)) {
                    (0, Some((volts, inner))) => Branch::Source { volts, ohms: inner.max(trace) },
                    _ => Branch::Current { amps: f64::from(mode) * plan.limit(index) },
                },
            };
            branch_of[index] = network.branch(part.from, part.to, branch) as u32;
        }
        if let Some(core) = self.wired.core {
            self.hold(core, &mut network);
        }
        if let Some((point, ohms)) = self.wired.meter {
            network.resistor(point, 0, ohms);
        }
        if searching {
            for &index in &self.moving {
                network.resistor(plan.parts[index].from, 0, SEARCH_LEAK);
                network.resistor(plan.parts[index].to, 0, SEARCH_LEAK);
            }
        }
        let factored = network.factor();
        let answer = factored.solve().ok()?;
        Some(Solved { answer, factored, branch_of })
    }

    /// Points on the way of an unlimited current: held at the lowest potential that meets there.
    fn hold(&self, core: &Core, network: &mut Network) {
        let stiff = self.wired.stiff;
        let mut first: Option<(usize, usize)> = None;
        let mut points = core.points.clone();
        points.sort_by_key(|&p| stiff.of(p));
        for point in points {
            let cluster = stiff.of(point);
            if stiff.frame[cluster] == 0 {
                network.source(0, point, stiff.volts[cluster], 0.0);
            } else {
                match first {
                    Some((of, other)) if of == cluster => _ = network.short(other, point),
                    _ => first = Some((cluster, point)),
                }
            }
        }
    }
}
