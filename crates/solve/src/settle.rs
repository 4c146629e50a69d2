//! Relays, turning windings and fuses, brought to rest.
//!
//! From rest, all coils are judged at once on their mean current, again and again, until nothing changes. Where that
//! runs in a circle, they are judged one by one, the first that wants to change first (two relays that lock each other
//! out: one of them wins); only if that runs in a circle too the circuit chatters. Fuses in a clash open at once, the
//! weakest first; when relays have settled the most overloaded fuse opens, and all begins anew from rest.

use crate::{
    conduct::Held,
    electric::Modes,
    holds,
    phase::{self, Flow},
    plan::Plan,
    rating, solution,
    trace::{self, Trace},
};
use keyon_circuit::model::Law;

/// A fuse opens above so many times its rating (decision 28).
pub(crate) const BLOWS_AT: f64 = 1.35;

/// One consistent set of phases.
#[derive(Clone, Debug)]
pub(crate) struct Still {
    pub(crate) flows: Vec<Flow>,
    pub(crate) held: Held,
    /// Node states of the on phase.
    pub(crate) trace: Trace,
}

/// What a circuit settles to.
#[derive(Clone, Debug)]
pub(crate) struct Settled {
    /// One, or the cycle of a circuit that chatters.
    pub(crate) cycle: Vec<Still>,
    /// Fuses that opened, with the amps that opened them.
    pub(crate) blown: Vec<(usize, Option<f64>)>,
    /// Coils (as `Plan::coils`) that change over the cycle.
    pub(crate) chatters: Vec<usize>,
    /// Coils that rest and would also stay.
    pub(crate) holds: Vec<usize>,
}

/// A fuse that opens, with its amps if there is a limit to them.
pub(crate) struct Blow {
    part: usize,
    amps: Option<f64>,
}

impl Still {
    /// Mean amps of a part over the phases.
    pub(crate) fn amps(&self, plan: &Plan<'_>, part: usize) -> f64 {
        let phases = plan.phases.iter().zip(&self.flows);
        solution::sum(phases.map(|(phase, flow)| phase.weight * flow.electric.amps[part]))
    }
}

/// Brings a circuit to rest.
pub(crate) fn settle(plan: &Plan<'_>) -> Settled {
    let mut held = Held {
        energised: vec![false; plan.coils.len()],
        blown: vec![false; plan.parts.len()],
        turning: Vec::new(),
    };
    let mut blown = Vec::new();
    loop {
        held.energised.fill(false);
        let blow = match relays(plan, &held) {
            Err(blow) => blow,
            Ok((cycle, chatters)) => match overloaded(plan, &cycle) {
                Some(blow) => blow,
                None => {
                    let holds = match cycle.as_slice() {
                        [still] => holds::holding(plan, still),
                        _ => Vec::new(),
                    };
                    return Settled { cycle, blown, chatters, holds };
                }
            },
        };
        held.blown[blow.part] = true;
        blown.push((blow.part, blow.amps));
    }
}

/// The phases for these relays and fuses.
pub(crate) fn still(plan: &Plan<'_>, held: &Held, before: Option<&Still>) -> Result<Still, Blow> {
    let mut held = held.clone();
    held.turning.clear();
    let modes = |flows: &[Flow]| flows.iter().map(|flow| flow.electric.modes.clone()).collect();
    let mut guess: Vec<Modes> = before.map_or_else(Vec::new, |before| modes(&before.flows));
    loop {
        let mut flows: Vec<Flow> = Vec::with_capacity(plan.phases.len());
        for (index, phase) in plan.phases.iter().enumerate() {
            let start = guess.get(index).or(flows.last().map(|flow| &flow.electric.modes));
            let flow = phase::solve(plan, phase, &held, start);
            flows.push(flow);
        }
        if !plan.state.options.keep_fuses
            && let Some(part) = shorted_fuse(plan, &flows)
        {
            return Err(Blow { part, amps: None });
        }
        let trace = trace::trace(plan, &flows[0]);
        let still = Still { flows, held, trace };
        let more = start_turning(plan, &still);
        if more.is_empty() {
            return Ok(still);
        }
        held = still.held;
        held.turning.extend(more);
        held.turning.sort_by_key(|&(part, _)| part);
        guess = modes(&still.flows);
    }
}

/// The weakest fuse on the way of an unlimited current.
fn shorted_fuse(plan: &Plan<'_>, flows: &[Flow]) -> Option<usize> {
    let counts = |flow: &Flow, index: usize| {
        plan.phases[index].weight > 0.0 || flows.len() == 1 || flow.core.is_none()
    };
    let cores =
        flows.iter().enumerate().filter(|&(i, flow)| counts(flow, i)).filter_map(|(_, f)| f.core.as_ref());
    let fuses = cores.flat_map(|core| {
        core.parts
            .iter()
            .enumerate()
            .filter(|(_, on)| **on)
            .filter_map(|(i, _)| Some((plan.parts[i].fuse?, i)))
    });
    fuses.min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1))).map(|(_, part)| part)
}

/// Windings that now start to turn, with the ohms they then have.
fn start_turning(plan: &Plan<'_>, still: &Still) -> Vec<(usize, f64)> {
    if plan.state.options.inrush {
        return Vec::new();
    }
    let turns = |part: usize| still.held.turning.binary_search_by_key(&part, |t| t.0).is_ok();
    let starts = |part: usize| {
        if turns(part) || !still.flows[0].conducts[part] && still.flows.len() == 1 {
            return None;
        }
        let threshold = rating::threshold(plan, part, &still.flows[0], &still.trace)?;
        let ohms = rating::turning_ohms(plan, part, &still.flows[0], &still.trace)?;
        threshold.state(still.amps(plan, part)).operates().then_some((part, ohms))
    };
    let runs = |&part: &usize| matches!(plan.law(part), Some(Law::Winding { runs: Some(_), .. }));
    (0..plan.circuit.elements.len())
        .filter(|&part| matches!(plan.circuit.elements[part].law, Law::Winding { .. }))
        .filter(runs)
        .filter_map(starts)
        .collect()
}

/// Judges each coil on its mean current.
pub(crate) fn judge(plan: &Plan<'_>, still: &Still) -> Vec<bool> {
    let coil = |(index, &part): (usize, &usize)| {
        let Some(threshold) = rating::threshold(plan, part, &still.flows[0], &still.trace) else {
            return false;
        };
        let amps = still.amps(plan, part).abs();
        if still.held.energised[index] {
            amps > drops_out(plan, part).unwrap_or(threshold.weak)
        } else {
            threshold.state(amps).operates()
        }
    };
    plan.coils.iter().enumerate().map(coil).collect()
}

pub(crate) fn drops_out(plan: &Plan<'_>, part: usize) -> Option<f64> {
    match plan.law(part)? {
        Law::Coil { drops_out, .. } => drops_out.map(|n| n.nominal),
        _ => None,
    }
}

/// From rest to a fixed point or a cycle.
fn relays(plan: &Plan<'_>, held: &Held) -> Result<(Vec<Still>, Vec<usize>), Blow> {
    let all = |_: &[bool], next: Vec<bool>| next;
    let cycle = run(plan, still(plan, held, None)?, all)?;
    if cycle.len() == 1 {
        return Ok((cycle, Vec::new()));
    }
    let one_by_one = |now: &[bool], next: Vec<bool>| {
        let mut turned = now.to_vec();
        if let Some(first) = (0..now.len()).find(|&i| now[i] != next[i]) {
            turned[first] = next[first];
        }
        turned
    };
    let alone = run(plan, still(plan, held, None)?, one_by_one)?;
    if alone.len() == 1 {
        return Ok((alone, Vec::new()));
    }
    let changes =
        |&coil: &usize| cycle.iter().any(|s| s.held.energised[coil] != cycle[0].held.energised[coil]);
    let chatters = (0..plan.coils.len()).filter(changes).collect();
    Ok((cycle, chatters))
}

/// Runs relays from a start until they stay (one set) or come round (the cycle).
pub(crate) fn run(
    plan: &Plan<'_>,
    start: Still,
    step: impl Fn(&[bool], Vec<bool>) -> Vec<bool>,
) -> Result<Vec<Still>, Blow> {
    let mut past: Vec<Still> = Vec::new();
    let mut now = start;
    let most = 16 + 4 * plan.coils.len();
    loop {
        let next = step(&now.held.energised, judge(plan, &now));
        if next == now.held.energised {
            return Ok(vec![now]);
        }
        if let Some(from) = past.iter().position(|s| s.held.energised == next) {
            past.push(now);
            return Ok(past.split_off(from));
        }
        let mut held = now.held.clone();
        held.energised = next;
        let new = still(plan, &held, Some(&now))?;
        past.push(now);
        now = new;
        if past.len() > most {
            // A cycle longer than anybody would build: its last stretch stands for it.
            let from = past.len() - 2;
            return Ok(past.split_off(from));
        }
    }
}

/// The most overloaded fuse.
fn overloaded(plan: &Plan<'_>, cycle: &[Still]) -> Option<Blow> {
    if plan.state.options.keep_fuses {
        return None;
    }
    let mut worst: Option<(f64, Blow)> = None;
    for (part, rating) in plan.parts.iter().enumerate().filter_map(|(i, p)| Some((i, p.fuse?))) {
        let amps = cycle.iter().map(|s| s.amps(plan, part).abs()).fold(0.0, f64::max);
        let load = amps / rating;
        if load > BLOWS_AT * (1.0 + 1e-9) && worst.as_ref().is_none_or(|(most, _)| load > *most) {
            worst = Some((load, Blow { part, amps: Some(amps) }));
        }
    }
    worst.map(|(_, blow)| blow)
}
