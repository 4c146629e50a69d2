//! A device that works through another one.

use crate::{
    Context, Finding,
    facts::{
        Facts,
        paths::{node, state_of, works},
    },
    words,
};
use keyon_circuit::{
    ids::*,
    model::{COMMON, Change, Element, ElementKind, Owner},
};
use keyon_solve::{Cancelled, Cases, DEFAULT_LIMIT, ElementState, NodeState, Solution, Survey};

crate::rule::rule! {
    name: "sneak-path",
    level: Warning,
    group: "sneak",
    summary: "A device gets current in a state in which its own feed or driver is off, through another device; also with one fuse open.",
    why: "\
Current takes every way there is. With one switch open or one fuse blown it may go backwards through another lamp or coil: something glows, \
hums or pulls in that should be dead, and what is looked at first is sound. A load fed twice, or through a diode, is no \
sneak path; nor is a resistor in series.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    let mut told: Vec<DeviceId> = Vec::new();
    for (i, device) in circuit.devices.iter().enumerate() {
        let id = DeviceId::from(i);
        if !has_work(facts, id) || device.pins.iter().any(|pin| facts.held(pin.outside)) {
            continue;
        }
        let cases = facts.device_cases(id)?;
        if let Some((load, state)) = sneaks(facts, id, &cases, None) {
            out.push(say(context, id, load, &state, None));
            told.push(id);
        }
    }
    for fuse in &circuit.fuses {
        let behind = facts.behind(fuse.element);
        let mut survey = None;
        for (i, device) in circuit.devices.iter().enumerate() {
            let id = DeviceId::from(i);
            let fed =
                facts.elements_of(id).any(|(_, e)| works(e.kind) && (behind.has(e.from) || behind.has(e.to)));
            if !fed || told.contains(&id) || device.pins.iter().any(|pin| facts.held(pin.outside)) {
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
            if let Some((load, state)) = sneaks(facts, id, &cases, Some(&sound)) {
                out.push(say(context, id, load, &state, Some(&fuse.name)));
                told.push(id);
            }
        }
    }
    Ok(())
}

fn has_work(facts: &Facts<'_>, device: DeviceId) -> bool {
    facts.elements_of(device).any(|(_, e)| works(e.kind))
}

/// The first load of a device that gets current in a state without its own path, having one in another. `sound` are
/// the cases in which to look for its own, if not among these.
fn sneaks(
    facts: &Facts<'_>,
    device: DeviceId,
    cases: &Cases,
    sound: Option<&Cases>,
) -> Option<(ElementId, keyon_solve::State)> {
    for (load, e) in facts.elements_of(device).filter(|(_, e)| works(e.kind)) {
        let own = |s: &Solution| own_path(facts, s, device, load, e);
        if !sound.unwrap_or(cases).cases.iter().any(|case| own(&case.solution)) {
            continue;
        }
        let sneaks = |s: &Solution| {
            state_of(s, device, load) >= ElementState::Weak
                && state_of(s, device, load) != ElementState::Chatters
                && !own(s)
        };
        if let Some(case) = cases.cases.iter().find(|case| sneaks(&case.solution)) {
            let (_, solution) = facts.fewest(&case.solution.state, sneaks);
            return Some((load, solution.state));
        }
    }
    None
}

/// Whether a load has a feed at one end and a return at the other that run through no other device's load.
fn own_path(facts: &Facts<'_>, solution: &Solution, device: DeviceId, load: ElementId, e: &Element) -> bool {
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
        NodeState::Clash | NodeState::Chatters => Some((true, true)),
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

fn say(
    context: &Context<'_>,
    device: DeviceId,
    load: ElementId,
    state: &keyon_solve::State,
    fuse: Option<&str>,
) -> Finding {
    let circuit = context.circuit;
    let solution = keyon_solve::solve(circuit, state);
    let away: Vec<_> = state
        .positions
        .iter()
        .enumerate()
        .filter(|(_, p)| **p != 0)
        .map(|(c, &p)| (c.into(), usize::from(p)))
        .collect();
    let it = words::name(circuit, load);
    let amps = solution.amps.get(load.index()).and_then(|a| a.known()).unwrap_or_default();
    let (path, through) = way(context, &solution, device, load, amps >= 0.0);
    let when = match fuse {
        Some(fuse) => {
            format!("with `{fuse}` blown {}", words::with(circuit, &away).replacen("with", "and", 1))
        }
        None => words::with(circuit, &away),
    };
    let names: Vec<_> =
        through.iter().filter_map(|d| circuit.devices.get(d.index())).map(|d| d.name.clone()).collect();
    let by = if names.is_empty() { "another device".to_owned() } else { words::names(&names) };
    let loc = circuit.devices.get(device.index()).map(|d| d.loc);
    let mut finding = RULE
        .at(
            loc.or_else(|| context.facts.place(load)).unwrap_or(keyon_circuit::model::Loc {
                file: FileId(0),
                item: 0,
                span: keyon_syntax::Span::default(),
            }),
            format!(
                "{when} `{it}` gets {} through {by}, though its own feed or driver is off: it {}. The path: {path}",
                words::quantity(amps.abs(), "A"),
                match state_of(&solution, device, load) {
                    ElementState::Weak => "glows, hums or may pull in",
                    _ => "operates",
                }
            ),
        )
        .help("part the two circuits: a diode, a contact, or a ground and a feed of their own");
    for other in through.iter().filter_map(|d| circuit.devices.get(d.index())) {
        finding = finding.see(other.loc, "the current comes through this");
    }
    finding
}

/// The way of the current through a load, from the source to ground, and the other devices on it.
fn way(
    context: &Context<'_>,
    solution: &Solution,
    device: DeviceId,
    load: ElementId,
    forward: bool,
) -> (String, Vec<DeviceId>) {
    let circuit = context.circuit;
    let Some(e) = circuit.elements.get(load.index()) else { return (String::new(), Vec::new()) };
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
    let mut through: Vec<DeviceId> = steps
        .iter()
        .filter_map(|e| circuit.elements.get(e.index()))
        .filter(|e| e.kind.is_load())
        .filter_map(|e| match e.owner {
            Owner::Device(d) if d != device => Some(d),
            _ => None,
        })
        .collect();
    through.dedup();
    (words::path(circuit, start, &steps), through)
}
