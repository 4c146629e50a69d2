//! One phase: which modules are alive, where potentials clash, volts and amps, all consistent with one another.

use crate::{
    clash::{self, Core},
    conduct::{self, Held},
    electric::{self, Electric, Modes, Wired},
    plan::{Act, Phase, Plan},
    stiff::{Closed, Stiff},
};

/// One phase, solved.
#[derive(Clone, Debug)]
pub(crate) struct Flow {
    /// Whether each part conducts; diodes by their gate.
    pub(crate) conducts: Vec<bool>,
    /// Whether each module is alive.
    pub(crate) alive: Vec<bool>,
    /// Diodes that conduct.
    pub(crate) on: Vec<bool>,
    pub(crate) stiff: Stiff,
    pub(crate) core: Option<Core>,
    pub(crate) electric: Electric,
    /// Diodes on ways of unlimited current.
    forced: Vec<usize>,
}

impl Flow {
    /// Volts of a point with a meter on it, diodes brought to what they then do. What conducts otherwise, stays.
    pub(crate) fn metered(&self, plan: &Plan<'_>, turning: &[(usize, f64)], point: usize, ohms: f64) -> f64 {
        let wired = Wired {
            conducts: &self.conducts,
            turning,
            stiff: &self.stiff,
            core: self.core.as_ref(),
            forced: &self.forced,
            meter: Some((point, ohms)),
        };
        electric::solve(plan, wired, self.electric.modes.clone()).answer.volts[point]
    }

    /// The most amps that a source gives into a clash, where resistances limit them.
    pub(crate) fn prospective(&self, plan: &Plan<'_>, turning: &[(usize, f64)]) -> Option<f64> {
        let wired = Wired {
            conducts: &self.conducts,
            turning,
            stiff: &self.stiff,
            core: Some(self.core.as_ref()?),
            forced: &self.forced,
            meter: None,
        };
        electric::prospective(plan, wired, self.electric.modes.clone())
    }

    /// Whether a part lies on the way of an unlimited current.
    pub(crate) fn unlimited(&self, part: usize) -> bool {
        self.core.as_ref().is_some_and(|core| core.parts[part])
    }
}

/// Solves a phase.
pub(crate) fn solve(plan: &Plan<'_>, phase: &Phase, held: &Held, guess: Option<&Modes>) -> Flow {
    let gates = conduct::gates(plan, phase, held);
    let mut modes = guess.cloned().unwrap_or_else(|| Modes { of: vec![0; plan.parts.len()] });
    let most = 4 + 2 * (plan.circuit.modules.len() + plan.outputs.len());
    let mut on = diodes_on(plan, &modes, &[]);
    let mut round = 0;
    loop {
        let (conducts, alive, stiff) = alive(plan, &gates, &on);
        let (stiff, forced, core) = clashes(plan, &conducts, &on, stiff);
        let wired = Wired {
            conducts: &conducts,
            turning: &held.turning,
            stiff: &stiff,
            core: core.as_ref(),
            forced: &forced,
            meter: None,
        };
        let electric = electric::solve(plan, wired, modes);
        let mut now = diodes_on(plan, &electric.modes, &forced);
        // A module must not die of the clash that it makes itself: the diode through which it is fed goes on to count.
        for &diode in plan.diodes.iter().filter(|&&d| on[d] && stiff.clash[stiff.of(plan.parts[d].from)]) {
            now[diode] = true;
        }
        round += 1;
        if now == on || round > most {
            // What conducts is decided: the words follow the diodes as they came out.
            return Flow { conducts, alive, on: now, stiff, core, electric, forced };
        }
        modes = electric.modes;
        on = now;
    }
}

fn diodes_on(plan: &Plan<'_>, modes: &Modes, forced: &[usize]) -> Vec<bool> {
    let mut on = vec![false; plan.parts.len()];
    for &diode in &plan.diodes {
        on[diode] = modes.of[diode] > 0;
    }
    forced.iter().for_each(|&diode| on[diode] = true);
    on
}

/// Which modules and transducers are alive, and what conducts therefore: from all dead upwards, until nothing more
/// comes alive; and what is held then, if that was needed to know it.
fn alive(plan: &Plan<'_>, gates: &[bool], on: &[bool]) -> (Vec<bool>, Vec<bool>, Option<Stiff>) {
    let modules = &plan.circuit.modules;
    let mut alive: Vec<bool> = modules.iter().map(|m| m.feeds.is_empty() && m.grounds.is_empty()).collect();
    let mut outputs = vec![false; plan.outputs.len()];
    loop {
        let mut conducts = gates.to_vec();
        for (index, part) in plan.parts.iter().enumerate() {
            if part.alive.is_some_and(|m| !alive[m]) {
                conducts[index] = false;
            }
        }
        for (&output, &is_alive) in plan.outputs.iter().zip(&outputs) {
            conducts[output] &= is_alive;
        }
        if alive.iter().all(|a| *a) && outputs.iter().all(|o| *o) {
            return (conducts, alive, None);
        }
        let stiff = Stiff::new(plan, Closed { conducts: &conducts, on, forced: &[] });
        let mut more = false;
        for (module, is_alive) in modules.iter().zip(&mut alive).filter(|(_, alive)| !**alive) {
            let reached = |pins: &[(usize, usize)], flags: &[bool]| {
                pins.is_empty()
                    || pins.iter().any(|&(c, k)| {
                        let cavity = module.connectors.get(c).and_then(|c| c.cavities.get(k));
                        cavity.is_some_and(|cavity| {
                            let point = cavity.inside.index();
                            point < plan.points && flags[stiff.of(point)]
                        })
                    })
            };
            if reached(&module.feeds, &stiff.alive_feed) && reached(&module.grounds, &stiff.alive_ground) {
                *is_alive = true;
                more = true;
            }
        }
        for (&output, is_alive) in plan.outputs.iter().zip(&mut outputs).filter(|(_, alive)| !**alive) {
            let Act::Output { feed, .. } = plan.parts[output].act else { continue };
            if gates[output]
                && plan.parts[output].alive.is_none_or(|m| alive[m])
                && stiff.alive_feed[stiff.of(feed)]
                && stiff.alive_ground[stiff.of(plan.parts[output].from)]
            {
                *is_alive = true;
                more = true;
            }
        }
        if !more {
            return (conducts, alive, Some(stiff));
        }
    }
}

/// Where potentials clash, with the diodes that take part. `known` is what is held without any of them, if that is known.
fn clashes(
    plan: &Plan<'_>,
    conducts: &[bool],
    on: &[bool],
    mut known: Option<Stiff>,
) -> (Stiff, Vec<usize>, Option<Core>) {
    let mut forced = Vec::new();
    loop {
        let closed = Closed { conducts, on, forced: &forced };
        let stiff = known.take().unwrap_or_else(|| Stiff::new(plan, closed));
        let more = clash::overdriven(plan, &stiff, conducts, &forced);
        if more.is_empty() {
            let core = clash::core(plan, &stiff, closed);
            return (stiff, forced, core);
        }
        forced.extend(more);
        forced.sort_unstable();
        forced.dedup();
    }
}
