//! A driver that changes nothing.

use crate::{
    Context, Finding,
    facts::{
        Facts,
        graph::{Flood, is_continuity},
        modules::{Life, cavity},
        paths::Missing,
        stages::Stage,
    },
    words,
};
use keyon_circuit::{
    ids::*,
    model::{ControlKind, ElementKind, Loc, Owner, PointKind, Role},
};
use keyon_solve::{Cancelled, ElementState};

crate::rule::rule! {
    name: "idle-driver",
    level: Warning,
    group: "driver",
    summary: "Commanding a driver changes nothing, in any state.",
    why: "\
A driver that pulls down what is grounded anyway, or feeds what is always fed, does nothing: the load it was meant for works all the \
time or never. Commanding it during a test then says nothing, and misleads whoever relies on it.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    if circuit.incomplete {
        return Ok(());
    }
    let shorts = facts.shorts()?;
    for (i, control) in circuit.controls.iter().enumerate() {
        let stages = match control.kind {
            ControlKind::Stage(m, c, k) => vec![(m, (c, k))],
            ControlKind::Gang(m, g) => {
                let gang = circuit.modules.get(m.index()).and_then(|m| m.gangs.get(g));
                gang.map_or(Vec::new(), |g| g.stages.iter().map(|&at| (m, at)).collect())
            }
            _ => continue,
        };
        let found: Vec<Stage<'_>> = stages
            .iter()
            .filter_map(|&(module, at)| {
                let cavity = cavity(circuit.modules.get(module.index())?, at)?;
                Some(Stage { module, at, cavity })
            })
            .collect();
        let Some(first) = found.first() else { continue };
        // A pin that no wire reaches is told as such.
        if found.iter().any(|s| s.cavity.landings.is_empty() || facts.held(s.cavity.outside)) {
            continue;
        }
        // Two stages against each other are a finding of their own.
        let opposed = |s: &Stage<'_>| {
            shorts.iter().any(|short| s.cavity.elements.iter().any(|e| short.path.contains(e)))
        };
        if found.iter().any(opposed) {
            continue;
        }
        if facts.life(first.module)? != Life::Lives || acts(facts, ControlId::from(i), &found)? {
            continue;
        }
        let place = match control.kind {
            ControlKind::Gang(m, _) => facts.own_first(
                [Some(control.loc), circuit.modules.get(m.index()).map(|m| m.loc)].into_iter().flatten(),
            ),
            _ => facts.stage_place(first),
        };
        out.extend(place.map(|place| say(facts, place, &control.name, first)));
    }
    Ok(())
}

fn say(facts: &Facts<'_>, place: Loc, name: &str, stage: &Stage<'_>) -> Finding {
    let on = match facts.wired(stage.cavity.outside).order.iter().find_map(|p| {
        let kind = facts.circuit.points.get(p.index())?.kind;
        matches!(kind, PointKind::Splice(_) | PointKind::Pin(..))
            .then(|| facts.circuit.points.get(p.index()))?
    }) {
        Some(point) => format!("; it leads to {}", words::names([point.name.as_str()])),
        None => String::new(),
    };
    RULE.at(
        place,
        format!("`{name}` changes nothing: whatever it does, no device and no input takes notice{on}"),
    )
    .help("follow its wire to the load it was meant for, or mark the pin `unused`")
}

/// Whether anything takes notice of a control, or cannot be judged.
fn acts(facts: &Facts<'_>, control: ControlId, stages: &[Stage<'_>]) -> Result<bool, Cancelled> {
    let circuit = facts.circuit;
    let starts: Vec<PointId> = stages.iter().map(|s| s.cavity.inside).collect();
    let reach = facts.graph().flood(&starts, |e, _| {
        is_continuity(e) && !matches!(e.kind, ElementKind::Stage | ElementKind::Ground | ElementKind::Return)
    });
    for device in devices(facts, &reach) {
        let cases = facts.device_cases(device)?;
        if cases.cut.is_some() || cases.controls.contains(&control) {
            return Ok(true);
        }
        // A device that never works is the finding, not its driver.
        match facts.device_paths(device)? {
            None => {
                let loads = circuit.devices.get(device.index()).is_some_and(|d| {
                    d.elements
                        .iter()
                        .any(|e| circuit.elements.get(e.index()).is_some_and(|e| e.kind.is_load()))
                });
                if loads {
                    return Ok(true);
                }
            }
            Some(paths) => {
                let dead = |load: &crate::facts::paths::LoadPaths| {
                    load.missing() != Missing::Nothing || load.best == ElementState::Rests
                };
                if paths.loads.iter().any(dead) {
                    return Ok(true);
                }
            }
        }
    }
    // Inputs of modules, data lines and branches that leave the page take notice in ways of their own.
    let own = |m: ModuleId, at: (usize, usize)| stages.iter().any(|s| s.module == m && s.at == at);
    for (m, module) in circuit.modules.iter().enumerate() {
        for (c, connector) in module.connectors.iter().enumerate() {
            for (k, cavity) in connector.cavities.iter().enumerate() {
                let notices = matches!(cavity.role, Role::Senses { .. } | Role::Bus { .. } | Role::Feed);
                if notices && reach.has(cavity.inside) && !own(m.into(), (c, k)) {
                    return Ok(true);
                }
            }
        }
    }
    Ok(circuit.branches.iter().any(|b| reach.has(b.point)))
}

/// Devices with an element on what was walked.
fn devices(facts: &Facts<'_>, reach: &Flood) -> Vec<DeviceId> {
    let mut devices: Vec<DeviceId> = facts
        .circuit
        .elements
        .iter()
        .filter(|e| reach.has(e.from) || reach.has(e.to))
        .filter_map(|e| match e.owner {
            Owner::Device(device) => Some(device),
            _ => None,
        })
        .collect();
    devices.sort_unstable();
    devices.dedup();
    devices
}
