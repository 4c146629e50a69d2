//! A module's ground pin lifted by the current of others.
//!
//! The finding stands at the wire or the ground point that they share, the one with the largest drop.

use crate::{
    Context, Finding,
    facts::{graph::is_wiring, modules::cavity, returns::is_harness},
    words,
};
use keyon_circuit::{
    ids::*,
    model::{COMMON, Cavity, ElementKind, Law, Module, PointKind, Role},
};
use keyon_solve::{Cancelled, Solution};

crate::rule::rule! {
    name: "module-ground-offset",
    level: Warning,
    group: "return",
    summary: "Load current in a ground that is shared with a module lifts the module's ground pin by more than 50 mV.",
    why: "\
A module measures against its own ground pin. When a heater or a pump shares the wire or the stud, its current lifts that pin, and every \
sensor that is grounded elsewhere reads wrong by as much whenever the load is on; low-side outputs pull down less far. (50 mV: \
common practice, no source.)",
    settings: ["ground-offset"],
    check: check,
}

/// How far a module's ground is lifted in one state, and by which piece most.
struct Lift {
    volts: f64,
    most: f64,
    by: ElementId,
    amps: f64,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let circuit = context.circuit;
    for module in &circuit.modules {
        let measures =
            |role: &Role| matches!(role, Role::Senses { .. } | Role::Reference { .. } | Role::Return { .. });
        if !module.connectors.iter().flat_map(|c| &c.cavities).any(|c| measures(&c.role)) {
            continue;
        }
        let grounds = module.grounds.iter().filter_map(|&at| cavity(module, at));
        let mut told: Vec<ElementId> = Vec::new();
        for (index, ground) in grounds.enumerate() {
            // It measures against its first ground; one that it names for its outputs is there to be lifted.
            if index == 0 || !drives_to(context, ground) {
                let found = offset(context, module, ground)?;
                out.extend(found.filter(|(by, _)| !told.contains(by)).map(|(by, finding)| {
                    told.push(by);
                    finding
                }));
            }
        }
    }
    Ok(())
}

/// The way from a ground pin to ground by wires alone.
fn way_to_ground(context: &Context<'_>, ground: &Cavity) -> Vec<ElementId> {
    context.facts.graph().flood(&[ground.inside], |e, _| is_wiring(e.kind)).path(COMMON)
}

/// Whether an output leads to this ground.
fn drives_to(context: &Context<'_>, ground: &Cavity) -> bool {
    let steps = context.facts.graph().steps(ground.inside);
    let kind = |e: ElementId| context.circuit.elements.get(e.index()).map(|e| e.kind);
    steps.iter().any(|step| kind(step.element) == Some(ElementKind::Stage))
}

/// How far a ground pin of a module is lifted, and by which piece of its way to ground most.
fn offset(
    context: &Context<'_>,
    module: &Module,
    ground: &Cavity,
) -> Result<Option<(ElementId, Finding)>, Cancelled> {
    let circuit = context.circuit;
    if context.facts.held(ground.outside) {
        return Ok(None);
    }
    // The way from the pin to ground, and of each piece with a resistance the state in which it carries most.
    let reach = context.facts.graph().flood(&[ground.inside], |e, _| is_wiring(e.kind));
    if !reach.has(COMMON) {
        return Ok(None);
    }
    let path = reach.path(COMMON);
    // Most modules are cleared by a bound, without a search.
    let ohms = |piece: &ElementId| match circuit.elements.get(piece.index()).map(|e| &e.law) {
        Some(Law::Resistance(ohms)) => ohms.nominal,
        Some(Law::Joint) => 0.0,
        _ => f64::INFINITY,
    };
    let mut most = 0.0;
    for piece in path.iter().filter(|piece| ohms(piece) > 0.0) {
        most += ohms(piece) * context.facts.at_most(*piece)?;
    }
    if most <= context.settings.ground_offset {
        return Ok(None);
    }
    let mut worst: Option<(Lift, keyon_solve::State)> = None;
    for &piece in &path {
        let resists = circuit.elements.get(piece.index()).is_some_and(|e| !matches!(e.law, Law::Joint));
        if !resists {
            continue;
        }
        let state = context.facts.worst(piece)?;
        let Some(lift) = lift(context, module, &state.solution, &path) else { continue };
        if worst.as_ref().is_none_or(|(w, _)| lift.volts > w.volts) {
            worst = Some((lift, state.solution.state.clone()));
        }
    }
    let Some((found, state)) = worst.filter(|(l, _)| l.volts > context.settings.ground_offset) else {
        return Ok(None);
    };
    let Some(place) = context.facts.place(found.by) else { return Ok(None) };
    let enough =
        |s: &Solution| lift(context, module, s, &path).is_some_and(|l| l.volts >= found.volts * 0.98);
    let (away, _) = context.facts.fewest(&state, enough);
    let elsewhere = grounded_elsewhere(context, module);
    let millivolts = format!("{} mV", words::digits(found.volts * 1e3));
    let sensors = if elsewhere.is_empty() {
        "its own sensors, returned to it, read true; what is grounded elsewhere would read too low by as much"
            .to_owned()
    } else {
        format!(
            "{} {} {millivolts} too low, being grounded elsewhere",
            words::names(&elsewhere),
            words::verb(elsewhere.len(), "read")
        )
    };
    let finding = RULE.at(
                place,
                format!(
                    "{}, {} of other loads flow through {}, which lifts the ground pin `{}` of `{}` by {millivolts} ({} is usual at \
                     most): {sensors}",
                    words::with(circuit, &away),
                    words::quantity(found.amps, "A"),
                    words::thing(circuit, found.by),
                    ground.name,
                    module.name,
                    words::quantity(context.settings.ground_offset, "V"),
                ),
            )
            .help("ground the module and the load apart, or use a thicker common wire")
            .see(module.loc, "the module that is lifted");
    Ok(Some((found.by, finding)))
}

fn lift(context: &Context<'_>, module: &Module, solution: &Solution, path: &[ElementId]) -> Option<Lift> {
    let circuit = context.circuit;
    let amps = |e: ElementId| solution.amps.get(e.index()).and_then(|a| a.known());
    // What the module itself sends by each piece.
    let grounds = module.grounds.iter().filter_map(|&at| cavity(module, at));
    let ways: Vec<(f64, Vec<ElementId>)> =
        grounds.map(|c| (amps(c.terminal).unwrap_or_default().abs(), way_to_ground(context, c))).collect();
    let own = |piece: ElementId| -> f64 {
        ways.iter().filter(|(_, way)| way.contains(&piece)).map(|(amps, _)| amps).sum()
    };
    let volts = |p: PointId| solution.unloaded.get(p.index()).copied().flatten();
    let mut lift: Option<Lift> = None;
    for &piece in path {
        let e = circuit.elements.get(piece.index())?;
        let (Some(all), Some(a), Some(b)) = (amps(piece), volts(e.from), volts(e.to)) else { continue };
        let others = (all.abs() - own(piece)).max(0.0);
        if others < 1e-6 {
            continue;
        }
        let drop = (a - b).abs() * others / all.abs();
        let lift = lift.get_or_insert(Lift { volts: 0.0, most: 0.0, by: piece, amps: others });
        lift.volts += drop;
        if drop > lift.most {
            (lift.most, lift.by, lift.amps) = (drop, piece, others);
        }
    }
    lift
}

/// Sensors on this module's analog inputs whose return is not the module's own.
fn grounded_elsewhere(context: &Context<'_>, module: &Module) -> Vec<smol_str::SmolStr> {
    let circuit = context.circuit;
    let inputs = module.connectors.iter().flat_map(|c| &c.cavities);
    let inputs = inputs.filter(|c| matches!(c.role, Role::Senses { digital: false }));
    let mut names: Vec<smol_str::SmolStr> = inputs
        .flat_map(|input| devices_on(context, input))
        .filter_map(|device| {
            let device = circuit.devices.get(device.index())?;
            let grounded = device.pins.iter().any(|pin| {
                let reach = context
                    .facts
                    .graph()
                    .flood(&[pin.outside], |e, _| is_harness(e) || e.kind == ElementKind::Ground);
                reach.has(COMMON)
            });
            grounded.then(|| device.name.clone())
        })
        .collect();
    names.sort();
    names.dedup();
    names
}

fn devices_on(context: &Context<'_>, input: &Cavity) -> Vec<DeviceId> {
    let reach = context.facts.graph().flood(&[input.outside], |e, _| is_harness(e));
    let kind = |p: &PointId| context.circuit.points.get(p.index()).map(|p| p.kind);
    reach
        .order
        .iter()
        .filter_map(|p| match kind(p)? {
            PointKind::Pin(device, _) => Some(device),
            _ => None,
        })
        .collect()
}
