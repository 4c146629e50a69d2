//! A driver that changes nothing.

use crate::{
    Context, Finding,
    facts::{
        Facts,
        graph::{Flood, is_continuity},
        modules::{Life, cavity},
        paths::{Missing, node, state_of},
        stages::Stage,
    },
    words,
};
use keyon_circuit::{
    ids::*,
    model::{Circuit, ControlKind, Element, ElementKind, Loc, Owner, PointKind, Role},
};
use keyon_solve::{Cancelled, Cases, ElementState, Solution};

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
        if cases.cut.is_some() || is_felt(circuit, device, &cases, control) {
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
                if !notices || !reach.has(cavity.inside) || own(m.into(), (c, k)) {
                    continue;
                }
                if matches!(cavity.role, Role::Bus { .. }) {
                    return Ok(true);
                }
                let cases = facts.cases_of(&[cavity.inside], &[])?;
                let volts = |s: &Solution| s.volts.get(cavity.inside.index()).copied().flatten();
                let differ = |a: &Solution, b: &Solution| {
                    node(a, cavity.inside) != node(b, cavity.inside) || apart(volts(a), volts(b))
                };
                if cases.cut.is_some() || turns(&cases, control, differ) {
                    return Ok(true);
                }
            }
        }
    }
    Ok(circuit.branches.iter().any(|b| reach.has(b.point)))
}

/// Whether a control changes what a device does, or what its loads get, in any setting of the others.
fn is_felt(circuit: &Circuit, device: DeviceId, cases: &Cases, control: ControlId) -> bool {
    let elements = circuit.devices.get(device.index()).map_or(&[][..], |d| &d.elements);
    let across = |s: &Solution, e: &Element| {
        let volts = |p: PointId| s.volts.get(p.index()).copied().flatten();
        volts(e.from).zip(volts(e.to)).map(|(a, b)| a - b)
    };
    turns(cases, control, |a, b| {
        elements.iter().filter_map(|&id| Some((id, circuit.elements.get(id.index())?))).any(|(id, e)| {
            state_of(a, device, id) != state_of(b, device, id) || apart(across(a, e), across(b, e))
        })
    })
}

/// A change of volts below this share of them is that of a way beside another. Our own limit.
const FELT: f64 = 0.02;

fn apart(a: Option<f64>, b: Option<f64>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() > FELT * a.abs().max(b.abs()),
        (a, b) => a.is_some() != b.is_some(),
    }
}

/// Whether two solutions that differ by a control alone differ in what is asked.
fn turns(cases: &Cases, control: ControlId, differ: impl Fn(&Solution, &Solution) -> bool) -> bool {
    let Some(at) = cases.controls.iter().position(|&c| c == control) else { return false };
    // Two cases that meet but for this control differ by it alone.
    let meet = |a: &[u64], b: &[u64]| a.iter().zip(b).enumerate().all(|(c, (x, y))| c == at || x & y != 0);
    // Every two of them: of too many it is not said that nothing differs.
    cases.cases.len() > CASES
        || cases.cases.iter().enumerate().any(|(i, a)| {
            cases.cases.iter().skip(i + 1).any(|b| meet(&a.when, &b.when) && differ(&a.solution, &b.solution))
        })
}

/// Cases that are compared two by two.
const CASES: usize = 512;

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
