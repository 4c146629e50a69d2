//! A device that never gets more than a weak current.

use super::common::{devices, subject};
use crate::{
    Context, Finding,
    facts::paths::{DevicePaths, LoadPaths, state_of, works},
    words,
};
use keyon_circuit::{ids::DeviceId, model::Device};
use keyon_solve::{Cancelled, ElementState};

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
            .cloned()
            .collect();
        let all = paths.loads.iter().filter(working).count() == weak.len();
        if let Some(load) = weak.first() {
            let it = subject(context, device, &weak, all);
            let mut finding = RULE.at(device.loc, message(context, id, device, &paths, load, &it)?);
            finding.help = Some(
                "find what is in series with it: another load, a long thin wire, a pulled-down supply".into(),
            );
            out.push(finding);
        }
    }
    Ok(())
}

/// With the state in which it is weak, and how much it gets there.
fn message(
    context: &Context<'_>,
    id: DeviceId,
    _device: &Device,
    _paths: &DevicePaths,
    load: &LoadPaths,
    it: &str,
) -> Result<String, Cancelled> {
    let cases = context.facts.device_cases(id)?;
    let weak = |s: &keyon_solve::Solution| state_of(s, id, load.element) == ElementState::Weak;
    let Some(case) = cases.cases.iter().find(|case| weak(&case.solution)) else {
        return Ok(format!("{it} gets only a weak current in every state"));
    };
    let (away, solution) = context.facts.fewest(&case.solution.state, weak);
    let amps = solution.amps.get(load.element.index()).and_then(|a| a.known()).unwrap_or_default().abs();
    Ok(format!(
        "{it} is never more than weak: {} it gets {}, not enough to do its work",
        words::with(context.circuit, &away),
        words::quantity(amps, "A")
    ))
}
