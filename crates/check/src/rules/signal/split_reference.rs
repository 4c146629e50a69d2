//! A sensor between two references, or two modules.

use crate::{Context, Finding, words};
use keyon_circuit::{
    ids::*,
    model::{COMMON, Role},
};
use keyon_solve::Cancelled;
use std::collections::BTreeSet;

crate::rule::rule! {
    name: "split-reference",
    level: Warning,
    group: "signal",
    summary: "One sensor hangs on two different references, or is returned to another module than the one that gives its reference.",
    why: "\
Two references differ by some tens of millivolts, and two modules' grounds by more whenever a load is on: the difference is added to the \
reading. And when one of the modules is off, the sensor reads nonsense at the other.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    let shorts = facts.shorts()?;
    let sensors = (0..circuit.devices.len()).flat_map(|i| facts.sensors_of(DeviceId::from(i)));
    for sensor in sensors {
        let Some(device) = circuit.devices.get(sensor.device.index()) else { continue };
        let mut references = BTreeSet::new();
        let mut pulls = BTreeSet::new();
        let mut returns = BTreeSet::new();
        for pin in facts.sensor_pins(&sensor) {
            for (module, at, cavity) in facts.cavities_on(&facts.wired(pin)) {
                match cavity.role {
                    Role::Reference { .. } => _ = references.insert((module, at)),
                    Role::Return { .. } => _ = returns.insert((module, at)),
                    Role::Senses { .. } => _ = pulls.insert(module),
                    _ => {}
                }
            }
        }
        let name = |&(module, at): &(ModuleId, (usize, usize))| {
            let cavity = circuit.cavity(module, at.0, at.1)?;
            Some(facts.pin_name(module, cavity))
        };
        // Two references joined with no load between are a finding of their own.
        let joined = |(m, (c, k)): &(ModuleId, (usize, usize))| {
            let elements = circuit.cavity(*m, *c, *k).map_or(&[][..], |c| &c.elements);
            shorts.iter().any(|s| elements.iter().any(|e| s.source == *e || s.other == Some(*e)))
        };
        if references.iter().any(joined) {
            continue;
        }
        if references.len() > 1 {
            let names: Vec<String> = references.iter().filter_map(name).collect();
            out.push(
                RULE.at(
                    device.loc,
                    format!(
                        "`{}` hangs on {}: what they differ by is added to its reading",
                        device.name,
                        words::names(&names)
                    ),
                )
                .help("wire it to one reference alone, that of the module that reads it"),
            );
            continue;
        }
        // A two-wire sensor has its reference from the pull-up of the module that reads it.
        let sources: BTreeSet<ModuleId> =
            if references.is_empty() { pulls } else { references.iter().map(|(m, _)| *m).collect() };
        let [&source] = sources.iter().collect::<Vec<_>>()[..] else { continue };
        let foreign: Vec<String> = returns.iter().filter(|(m, _)| *m != source).filter_map(name).collect();
        if !foreign.is_empty() && returns.iter().all(|(m, _)| *m != source) {
            let module = circuit.modules.get(source.index()).map_or("", |m| m.name.as_str());
            out.push(
                RULE.at(
                    device.loc,
                    format!(
                        "`{}` has its reference from `{module}` but is returned to {}: what the two modules' grounds differ by is added to \
                         its reading",
                        device.name,
                        words::names(&foreign)
                    ),
                )
                .help(format!("return it to `{module}`")),
            );
            continue;
        }
        // Of two wires one may be on the frame: its pull-up is made for that. A reference goes with its return.
        let Some(module) = circuit.modules.get(source.index()).filter(|_| !references.is_empty()) else {
            continue;
        };
        let cavities = || module.connectors.iter().flat_map(|c| &c.cavities);
        let own = cavities().find(|c| matches!(c.role, Role::Return { .. }) && !c.landings.is_empty());
        let frame = facts.sensor_pins(&sensor).into_iter().any(|pin| facts.wired(pin).has(COMMON));
        if let Some(own) = own.filter(|_| frame && returns.is_empty()) {
            out.push(
                RULE.at(
                    device.loc,
                    format!(
                        "`{}` has its reference from `{}` but is returned to a ground point: what that differs by from the module's \
                         ground is added to its reading",
                        device.name, module.name
                    ),
                )
                .help(format!("return it to {}", words::names([facts.pin_name(source, own)]))),
            );
        }
    }
    Ok(())
}
