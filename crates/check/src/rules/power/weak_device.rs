//! A device that never gets more than a weak current.

use super::common::{devices, subject};
use crate::rules::sneak::by_design::is_ballast;
use crate::{
    Context, Finding,
    facts::paths::{LoadPaths, state_of, works},
    words,
};
use keyon_circuit::{
    ids::*,
    model::{Element, Law, Owner},
};
use keyon_solve::{Cancelled, ElementState, Solution};

crate::rule::rule! {
    name: "weak-device",
    level: Warning,
    group: "power",
    summary: "A device is fed and returned in some state, but only weakly in all such states.",
    why: "\
A lamp that glows dimly, a motor that hums, a relay that may or may not pull in: something in series takes the voltage. \
It passes a quick test with a meter and fails in use, most often in the cold or at low battery.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    for found in devices(context) {
        let (id, device, paths) = found?;
        let working = |load: &&LoadPaths| {
            context.circuit.elements.get(load.element.index()).is_some_and(|e| works(e.kind))
        };
        let weak: Vec<LoadPaths> = paths
            .loads
            .iter()
            .filter(working)
            .filter(|load| load.best == ElementState::Weak && !load.beyond)
            .filter(|load| !context.facts.at_lost_common(load.element))
            .cloned()
            .collect();
        let mut by_design = Vec::new();
        for load in &weak {
            let e = context.circuit.elements.get(load.element.index());
            if let Some(e) = e
                && (is_ballast(context, id, load.element, e)? || is_inner(context, id, load, e)?)
            {
                by_design.push(load.element);
            }
        }
        let weak: Vec<LoadPaths> =
            weak.into_iter().filter(|load| !by_design.contains(&load.element)).collect();
        let all = paths.loads.iter().filter(working).count() == weak.len();
        if let Some(load) = weak.first() {
            let it = subject(context, device, &weak, all);
            let mut finding = RULE.at(device.loc, message(context, id, load, &it)?);
            finding.help = Some(
                "find what is in series with it: another load, a long thin wire, a pulled-down supply".into(),
            );
            out.push(finding);
        }
    }
    Ok(())
}

/// Whether a coil or a winding that says at what it works by nothing is in series with another load of its own device: how many
/// volts it gets there is the maker's affair, as in a gauge of two coils.
fn is_inner(context: &Context<'_>, id: DeviceId, load: &LoadPaths, e: &Element) -> Result<bool, Cancelled> {
    let unrated = match &e.law {
        Law::Coil { pulls_in, rated, .. } => pulls_in.is_none() && rated.is_none(),
        Law::Winding { turns_at, rated, runs, .. } => turns_at.is_none() && rated.is_none() && runs.is_none(),
        _ => false,
    };
    if !unrated {
        return Ok(false);
    }
    let cases = context.facts.device_cases(id)?;
    let weak = |s: &Solution| state_of(s, id, load.element) == ElementState::Weak;
    let Some(case) = cases.cases.iter().find(|case| weak(&case.solution)) else { return Ok(false) };
    let own = |point| {
        context.facts.graph().steps(point).iter().any(|step| {
            let other = context.circuit.elements.get(step.element.index());
            let carries = case.solution.amps.get(step.element.index()).and_then(|a| a.known()).unwrap_or(0.0);
            let load_of_own = |o: &Element| o.kind.is_load() && o.owner == Owner::Device(id);
            step.element != load.element && carries.abs() > 1e-6 && other.is_some_and(load_of_own)
        })
    };
    Ok(own(e.from) || own(e.to))
}

/// With the state in which it is weak, and how much it gets there.
fn message(context: &Context<'_>, id: DeviceId, load: &LoadPaths, it: &str) -> Result<String, Cancelled> {
    let cases = context.facts.device_cases(id)?;
    let weak = |s: &keyon_solve::Solution| state_of(s, id, load.element) == ElementState::Weak;
    let Some(case) = cases.cases.iter().find(|case| weak(&case.solution)) else {
        return Ok(format!("{it} gets only a weak current in every state"));
    };
    let (away, solution) = context.facts.fewest(&case.solution.state, weak);
    let amps = solution.amps.get(load.element.index()).and_then(|a| a.known()).unwrap_or_default();
    let taken = taker(context, &solution, load.element, amps >= 0.0)
        .map_or(String::new(), |(thing, volts)| {
            format!("; {thing} in series takes {}", words::quantity(volts, "V"))
        });
    Ok(format!(
        "{it} is never more than weak: {} it gets {}, too little for its work{taken}",
        words::with(context.circuit, &away),
        words::quantity(amps.abs(), "A")
    ))
}

/// What takes most of the volts on the way of a load's current, besides the load.
fn taker(
    context: &Context<'_>,
    solution: &Solution,
    load: ElementId,
    forward: bool,
) -> Option<(String, f64)> {
    let circuit = context.circuit;
    let e = circuit.elements.get(load.index())?;
    let (enters, leaves) = if forward { (e.from, e.to) } else { (e.to, e.from) };
    let paths = [solution.path_to_source(circuit, enters), solution.path_to_ground(circuit, leaves)];
    let volts = |p: PointId| solution.unloaded.get(p.index()).copied().flatten();
    let drop = |&(id, _): &(ElementId, bool)| {
        let e = circuit.elements.get(id.index()).filter(|e| id != load && !e.kind.is_source())?;
        Some((id, (volts(e.from)? - volts(e.to)?).abs()))
    };
    let drops = paths.iter().flatten().flat_map(|path| path.steps.iter().filter_map(drop));
    let (id, volts) = drops.max_by(|a, b| a.1.total_cmp(&b.1))?;
    (volts > 0.5).then(|| (words::thing(circuit, id), volts))
}
