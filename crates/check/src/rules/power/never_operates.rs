//! A device with feed and return that no state makes work.

use super::common::{devices, lacking, subject};
use crate::{
    Context, Finding,
    facts::{
        modules::Life,
        paths::{End, LoadPaths, Missing, state_of, works},
    },
    rules::sneak::by_design::is_ballast,
    words,
};
use keyon_circuit::{
    ids::DeviceId,
    model::{Change, ElementKind, Loc, When},
};
use keyon_solve::{Cancelled, ElementState, Solution, solve};

crate::rule::rule! {
    name: "never-operates",
    level: Warning,
    group: "power",
    summary: "A device has a feed and a return, but no state of the controls makes it operate.",
    why: "\
Paths that are never closed at the same time carry nothing: a feed that is live in one key position and a ground that \
exists only in another. The device looks wired and is dead; on the machine every single wire measures good.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    for found in devices(context) {
        let (id, device, paths) = found?;
        if let Some((loads, all)) = lacking(context, device, &paths, |m| m == Missing::Together) {
            if tells_of_a_fuse(context, id, &loads)? {
                continue;
            }
            let it = subject(context, device, &loads, all);
            if loads.iter().all(|load| load.bridged) {
                out.push(bridged(device.loc, &it));
                continue;
            }
            let when = when(context, id, &loads)?;
            out.push(
                RULE.at(device.loc, format!("{it} has a feed in some states and a return in others{when}, but never both at once: it cannot work"))
                    .help("compare the positions in which its feed and its return are closed"),
            );
            continue;
        }
        let working = |load: &&crate::facts::paths::LoadPaths| {
            context.circuit.elements.get(load.element.index()).is_some_and(|e| works(e.kind))
        };
        let mut complete: Vec<_> = paths
            .loads
            .iter()
            .filter(working)
            .filter(|load| {
                load.missing() == Missing::Nothing
                    && load.best == ElementState::Rests
                    && !load.beyond
                    && !context.facts.at_lost_common(load.element)
            })
            .cloned()
            .collect();
        for load in std::mem::take(&mut complete) {
            let e = context.circuit.elements.get(load.element.index());
            let lamp = e.filter(|e| e.kind == ElementKind::Lamp);
            if !lamp.map_or(Ok(false), |e| is_ballast(context, id, load.element, e))? {
                complete.push(load);
            }
        }
        let all = paths.loads.iter().filter(working).count() == complete.len();
        if !complete.is_empty() && !tells_of_a_fuse(context, id, &complete)? {
            let it = subject(context, device, &complete, all);
            if complete.iter().all(|load| load.bridged) {
                out.push(bridged(device.loc, &it));
                continue;
            }
            out.push(
                RULE.at(device.loc, format!("{it} has a feed and a return, but in no state does enough current flow to make it work"))
                    .help("look for a load in series with it, for a supply of too few volts, or for the same potential at both ends"),
            );
        }
    }
    for (m, module) in context.circuit.modules.iter().enumerate() {
        if context.facts.life(m.into())? == Life::NeverTogether {
            let message = format!(
                "`{}` has its feed in some states and its ground in others, but never both at once: it is always dead",
                module.name
            );
            out.push(
                RULE.at(module.loc, message)
                    .help("compare the positions in which its feed and its ground are closed"),
            );
        }
    }
    Ok(())
}

/// Of a load with a wire round it.
fn bridged(loc: Loc, it: &str) -> Finding {
    RULE.at(
        loc,
        format!("both ends of {it} are on the same wire: there are never any volts across it, so it cannot work"),
    )
    .help("lead one of its ends to its feed and the other to its ground or driver, and look for the wire that landed in the wrong place")
}

/// Cases of a device that are looked at with each fuse open.
const CASES: usize = 16;

/// Whether a device is there to tell of a blown fuse: with one of them open it works.
fn tells_of_a_fuse(context: &Context<'_>, device: DeviceId, loads: &[LoadPaths]) -> Result<bool, Cancelled> {
    let cases = context.facts.device_cases(device)?;
    for fuse in &context.circuit.fuses {
        if context.cancel.cancelled() {
            return Err(Cancelled);
        }
        let works = cases.cases.iter().take(CASES).any(|case| {
            let mut state = case.solution.state.clone();
            state.changes.push(Change::Open(fuse.element));
            // Relays stay as they are: what works only because one of them lets go is another matter.
            for (i, e) in context.circuit.elements.iter().enumerate() {
                if matches!(e.when, When::Energised { .. }) {
                    let closed = case.solution.conducts.get(i).copied().unwrap_or(false);
                    state.changes.push(Change::Stuck(i.into(), closed));
                }
            }
            let solution = solve(context.circuit, &state);
            loads.iter().any(|load| state_of(&solution, device, load.element) >= ElementState::Weak)
        });
        if works {
            return Ok(true);
        }
    }
    Ok(false)
}

/// " (fed with `key` in `start`, returned with `key` in `run`)": the controls of one state of each kind.
fn when(context: &Context<'_>, device: DeviceId, loads: &[LoadPaths]) -> Result<String, Cancelled> {
    let facts = context.facts;
    let cases = facts.device_cases(device)?;
    let Some(load) = loads.first() else { return Ok(String::new()) };
    let Some(e) = context.circuit.elements.get(load.element.index()) else { return Ok(String::new()) };
    let any = |s: &Solution, wanted: fn(End) -> bool| {
        [e.from, e.to].iter().any(|&p| wanted(facts.end(s, p, load.element)))
    };
    let state = |holds: &dyn Fn(&Solution) -> bool| {
        let case = cases.cases.iter().find(|case| holds(&case.solution))?;
        Some(words::with(context.circuit, &facts.fewest(&case.solution.state, holds).0))
    };
    let fed = state(&|s| any(s, |end| end.fed || end.fed_via));
    let returned = state(&|s| any(s, |end| end.grounded || end.grounded_via));
    Ok(match (fed, returned) {
        (Some(fed), Some(returned)) => format!(" (fed {fed}, returned {returned})"),
        _ => String::new(),
    })
}
