//! A device that works through another one.

use super::by_design::heats_in_series;
use crate::{
    Context, Finding,
    facts::{
        Facts,
        graph::is_continuity,
        paths::{LoadPaths, Missing, node, state_of, works},
    },
    words,
};
use keyon_circuit::{
    ids::*,
    model::{COMMON, Change, Element, ElementKind, Owner},
};
use keyon_solve::{Cancelled, Cases, DEFAULT_LIMIT, ElementState, NodeState, Solution, Survey};
use smol_str::SmolStr;
use std::collections::BTreeSet;

crate::rule::rule! {
    name: "sneak-path",
    level: Warning,
    group: "sneak",
    summary: "A device gets current in a state in which its own feed or driver is off, through another device; also with one fuse open.",
    why: "\
Current takes every way there is. With one switch open or one fuse blown it may go backwards through another lamp or coil: something glows, \
hums or pulls in that should be dead, and what is looked at first is sound. A load fed twice, or through a diode, is no \
sneak path; nor is a resistor in series. Where a relay's own coil lacks its feed or its return (`no-return-path`: most often coil and \
contact terminals mixed up), what follows on its nets is not told.",
    absence: true,
    check: check,
}

/// A load that works through another one.
struct Sneak {
    device: DeviceId,
    load: ElementId,
    solution: Solution,
    /// The name of the fuse that is open.
    fuse: Option<SmolStr>,
    way: Way,
    /// The current runs the way that it does when the load works by its own path.
    usual: bool,
}

/// The way of a current through a load, from the source to ground.
pub(super) struct Way {
    words: String,
    /// The loads of other devices on it.
    pub(super) others: Vec<(DeviceId, ElementId)>,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    let mut found: Vec<Sneak> = Vec::new();
    for (i, device) in circuit.devices.iter().enumerate() {
        let id = DeviceId::from(i);
        if has_work(facts, id) && !device.pins.iter().any(|pin| facts.held(pin.outside)) {
            let cases = facts.device_cases(id)?;
            found.extend(sneaks(context, id, &cases, &cases)?);
        }
    }
    for fuse in &circuit.fuses {
        let behind = facts.behind(fuse.element);
        let mut survey = None;
        for (i, device) in circuit.devices.iter().enumerate() {
            let id = DeviceId::from(i);
            let fed =
                facts.elements_of(id).any(|(_, e)| works(e.kind) && (behind.has(e.from) || behind.has(e.to)));
            let told = found.iter().any(|sneak| sneak.device == id);
            if !fed || told || device.pins.iter().any(|pin| facts.held(pin.outside)) {
                continue;
            }
            let survey = match &mut survey {
                Some(survey) => survey,
                None => {
                    let mut base = facts.mend(facts.base())?;
                    base.changes.push(Change::Open(fuse.element));
                    survey.insert(Survey::new(circuit, &base))
                }
            };
            let cases = survey.cases_of_device(id, DEFAULT_LIMIT, context.cancel)?;
            let sound = facts.device_cases(id)?;
            if let Some(mut sneak) = sneaks(context, id, &cases, &sound)? {
                sneak.fuse = Some(fuse.name.clone());
                found.push(sneak);
            }
        }
    }
    let miswired = miswired_relays(context)?;
    found.retain(|sneak| {
        let mut loads = sneak.way.others.iter().map(|(_, load)| *load).chain([sneak.load]);
        // Where a common way to ground breaks off, that is the finding.
        let lost = loads.clone().any(|load| facts.at_lost_common(load));
        // Nor is it known where what leads on from damage would go.
        let held = loads.clone().any(|load| {
            circuit.elements.get(load.index()).is_some_and(|e| facts.held(e.from) || facts.held(e.to))
        });
        !lost
            && !held
            && !loads.any(|load| {
                let e = circuit.elements.get(load.index());
                e.is_some_and(|e| miswired.contains(&e.from) || miswired.contains(&e.to))
            })
    });
    // What lies on one way is one finding, told of a load that works as it usually does: the others carry its current
    // backwards.
    let mut told: Vec<Vec<ElementId>> = Vec::new();
    found.sort_by_key(|sneak| (!sneak.usual, sneak.device));
    let mut kept: Vec<&Sneak> = Vec::new();
    for sneak in &found {
        let mut loads: Vec<ElementId> = sneak.way.others.iter().map(|(_, load)| *load).collect();
        loads.push(sneak.load);
        loads.sort_unstable();
        if !told.contains(&loads) {
            told.push(loads);
            kept.push(sneak);
        }
    }
    kept.sort_by_key(|sneak| sneak.device);
    out.extend(kept.into_iter().filter_map(|sneak| say(context, sneak)));
    Ok(())
}

/// The points on the nets of relays whose own coil lacks its feed or its return, the nets of supplies and ground left out. Its
/// terminals are mixed up, or its wire is missing: that is the finding, and what then flows where it was not to is none.
fn miswired_relays(context: &Context<'_>) -> Result<BTreeSet<PointId>, Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    let mut points = BTreeSet::new();
    for (i, device) in circuit.devices.iter().enumerate() {
        if !device.elements.iter().any(|&e| facts.is_relay(e)) {
            continue;
        }
        let Some(paths) = facts.device_paths(DeviceId::from(i))? else { continue };
        let lacks = |load: &LoadPaths| load.missing() != Missing::Nothing && facts.is_relay(load.element);
        if !paths.loads.iter().any(lacks) {
            continue;
        }
        for pin in &device.pins {
            let net = facts.wired(pin.outside);
            let firm = net.has(COMMON) || circuit.supplies.iter().any(|s| net.has(s.point));
            if !firm {
                points.extend(net.order);
            }
        }
    }
    Ok(points)
}

fn has_work(facts: &Facts<'_>, device: DeviceId) -> bool {
    facts.elements_of(device).any(|(_, e)| works(e.kind))
}

/// The first load of a device that gets current in a state without its own path, having one in another. `sound` are
/// the cases in which to look for its own.
fn sneaks(
    context: &Context<'_>,
    device: DeviceId,
    cases: &Cases,
    sound: &Cases,
) -> Result<Option<Sneak>, Cancelled> {
    let facts = context.facts;
    for (load, e) in facts.elements_of(device).filter(|(_, e)| works(e.kind)) {
        let own = |s: &Solution| own_path(facts, s, device, load, e);
        if !sound.cases.iter().any(|case| own(&case.solution)) {
            continue;
        }
        let usual = usual_sign(facts, device, load, sound);
        let sneaks = |s: &Solution| {
            state_of(s, device, load) >= ElementState::Weak
                && state_of(s, device, load) != ElementState::Chatters
                && !own(s)
        };
        for case in cases.cases.iter().filter(|case| sneaks(&case.solution)) {
            let (_, solution) = facts.fewest(&case.solution.state, sneaks);
            let amps = solution.amps.get(load.index()).and_then(|a| a.known()).unwrap_or_default();
            let way = way(context, &solution, device, load, amps >= 0.0);
            let usual = usual.is_none_or(|sign| sign == (amps >= 0.0));
            let in_series = usual
                && (in_series_by_design(context, &solution, e.kind, &way)?
                    || heats_in_series(context, &solution, device, load, &way)?);
            let meant = in_series || excites(facts, e.kind, &way)?;
            if !meant {
                return Ok(Some(Sneak { device, load, solution, fuse: None, way, usual }));
            }
        }
    }
    Ok(None)
}

/// Which way the current runs (`true`: along its path) where a load works by its own path.
fn usual_sign(facts: &Facts<'_>, device: DeviceId, load: ElementId, cases: &Cases) -> Option<bool> {
    let e = facts.circuit.elements.get(load.index())?;
    cases.cases.iter().find_map(|case| {
        let amps = case.solution.amps.get(load.index()).and_then(|a| a.known())?;
        let own = amps.abs() > 1e-6 && own_path(facts, &case.solution, device, load, e);
        own.then_some(amps > 0.0)
    })
}

/// Two fans that run slowly in series and fast side by side: loads of one kind, each carrying current the way it always
/// does.
fn in_series_by_design(
    context: &Context<'_>,
    solution: &Solution,
    kind: ElementKind,
    way: &Way,
) -> Result<bool, Cancelled> {
    let facts = context.facts;
    for &(device, load) in &way.others {
        let same = context.circuit.elements.get(load.index()).is_some_and(|e| e.kind == kind);
        let amps = solution.amps.get(load.index()).and_then(|a| a.known()).unwrap_or_default();
        let usual = usual_sign(facts, device, load, &*facts.device_cases(device)?);
        if !same || usual != Some(amps > 0.0) {
            return Ok(false);
        }
    }
    Ok(!way.others.is_empty())
}

/// A charge lamp: a lamp that has no way of its own in any state and lights through the winding that it excites, until that
/// one is fed by its own generator.
fn excites(facts: &Facts<'_>, kind: ElementKind, way: &Way) -> Result<bool, Cancelled> {
    for &(device, load) in &way.others {
        let lamp = facts.circuit.elements.get(load.index()).filter(|e| e.kind == ElementKind::Lamp);
        let Some(lamp) = lamp.filter(|_| kind == ElementKind::Winding) else { return Ok(false) };
        let cases = facts.device_cases(device)?;
        if cases.cut.is_some()
            || cases.cases.iter().any(|case| own_path(facts, &case.solution, device, load, lamp))
        {
            return Ok(false);
        }
    }
    Ok(!way.others.is_empty())
}

/// Whether a load has a feed at one end and a return at the other that run through no other device's load.
pub(super) fn own_path(
    facts: &Facts<'_>,
    solution: &Solution,
    device: DeviceId,
    load: ElementId,
    e: &Element,
) -> bool {
    let (a, b) = (ends(facts, solution, e.from, device, load), ends(facts, solution, e.to, device, load));
    (a.0 && b.1) || (a.1 && b.0)
}

/// Whether a point reaches a source, and ground, without another device's load; resistors count as wire.
fn ends(
    facts: &Facts<'_>,
    solution: &Solution,
    point: PointId,
    device: DeviceId,
    load: ElementId,
) -> (bool, bool) {
    let stiff = |p: PointId| match node(solution, p) {
        NodeState::Fed | NodeState::Referenced => Some((true, false)),
        NodeState::Grounded => Some((false, true)),
        // Two sources on one net are no ground: a generator that charges its battery.
        NodeState::Clash => Some((true, meets_ground(facts, solution, p))),
        NodeState::Chatters => Some((true, true)),
        _ if p == COMMON => Some((false, true)),
        _ => None,
    };
    if let Some(found) = stiff(point) {
        return found;
    }
    let mut found = (false, false);
    let mut seen = vec![point];
    let mut next = 0;
    while let Some(&at) = seen.get(next) {
        next += 1;
        for step in facts.graph().steps(at) {
            let Some(e) = facts.circuit.elements.get(step.element.index()) else { continue };
            let conducts = solution.conducts.get(step.element.index()).copied().unwrap_or(false);
            let own =
                e.owner == Owner::Device(device) || e.kind == ElementKind::Resistor || !e.kind.is_load();
            if step.element == load || !conducts || !own || e.kind.is_source() || seen.contains(&step.to) {
                continue;
            }
            match stiff(step.to) {
                Some((fed, grounded)) => (found.0, found.1) = (found.0 | fed, found.1 | grounded),
                None => seen.push(step.to),
            }
        }
    }
    found
}

/// Whether a point is joined to ground with no load between.
fn meets_ground(facts: &Facts<'_>, solution: &Solution, point: PointId) -> bool {
    let conducts = |e: ElementId| solution.conducts.get(e.index()).copied().unwrap_or(false);
    facts.graph().flood(&[point], |e, step| is_continuity(e) && conducts(step.element)).has(COMMON)
}

/// What of a load is off while it works: "its own feed is".
fn off(facts: &Facts<'_>, sneak: &Sneak) -> &'static str {
    let Some(e) = facts.circuit.elements.get(sneak.load.index()) else { return "its own feed or driver is" };
    let end = |point| ends(facts, &sneak.solution, point, sneak.device, sneak.load);
    let (a, b) = (end(e.from), end(e.to));
    match (a.0 || b.0, a.1 || b.1) {
        (true, false) => "its own way to ground is",
        (false, true) => "its own feed is",
        _ => "its own feed and its own way to ground are",
    }
}

fn say(context: &Context<'_>, sneak: &Sneak) -> Option<Finding> {
    let circuit = context.circuit;
    let Sneak { device, load, solution, .. } = sneak;
    let away: Vec<_> = solution
        .state
        .positions
        .iter()
        .enumerate()
        .filter(|(_, p)| **p != 0)
        .map(|(c, &p)| (c.into(), usize::from(p)))
        .collect();
    let it = words::name(circuit, *load);
    let amps = solution.amps.get(load.index()).and_then(|a| a.known()).unwrap_or_default();
    let when = match &sneak.fuse {
        Some(fuse) => {
            format!("with `{fuse}` blown {}", words::with(circuit, &away).replacen("with", "and", 1))
        }
        None => words::with(circuit, &away),
    };
    let mut through: Vec<DeviceId> = sneak.way.others.iter().map(|(device, _)| *device).collect();
    through.dedup();
    let through: Vec<_> = through.iter().filter_map(|d| circuit.devices.get(d.index())).collect();
    let by = if through.is_empty() {
        "another device".to_owned()
    } else {
        words::names(through.iter().map(|d| &d.name))
    };
    let loc = circuit.devices.get(device.index()).map(|d| d.loc).or_else(|| context.facts.place(*load))?;
    let mut finding = RULE
        .at(
            loc,
            format!(
                "{when}, `{it}` gets {} through {by}, though {} off: it {}. The path: {}",
                words::quantity(amps.abs(), "A"),
                off(context.facts, sneak),
                match state_of(solution, *device, *load) {
                    ElementState::Weak => "glows, hums or may pull in",
                    _ => "operates",
                },
                sneak.way.words
            ),
        )
        .help("part the two circuits: a diode, a contact, or a ground and a feed of their own");
    for other in through {
        finding = finding.see(other.loc, "the current comes through this");
    }
    Some(finding)
}

/// The way of the current through a load.
pub(super) fn way(
    context: &Context<'_>,
    solution: &Solution,
    device: DeviceId,
    load: ElementId,
    forward: bool,
) -> Way {
    let circuit = context.circuit;
    let Some(e) = circuit.elements.get(load.index()) else {
        return Way { words: String::new(), others: Vec::new() };
    };
    let (enters, leaves) = if forward { (e.from, e.to) } else { (e.to, e.from) };
    let mut steps = Vec::new();
    let mut start = enters;
    if let Some(path) = solution.path_to_source(circuit, enters) {
        start = path.points.last().copied().unwrap_or(enters);
        steps.extend(path.steps.iter().rev().map(|(e, _)| *e));
    }
    steps.push(load);
    if let Some(path) = solution.path_to_ground(circuit, leaves) {
        steps.extend(path.steps.iter().map(|(e, _)| *e));
    }
    let other = |&id: &ElementId| {
        let e = circuit.elements.get(id.index()).filter(|e| e.kind.is_load())?;
        match e.owner {
            Owner::Device(d) if d != device => Some((d, id)),
            _ => None,
        }
    };
    Way { words: words::path(circuit, start, &steps), others: steps.iter().filter_map(other).collect() }
}
