//! A load that returns through a sensor's return.
//!
//! The finding stands at the wire by which the load hangs on the return.

use crate::{
    Context, Finding,
    facts::{paths::works, returns::ReturnNet},
    fix::{edit, wiring},
    words,
};
use keyon_circuit::{
    Fix,
    ids::*,
    model::{ElementKind, Owner, PointKind, Role},
};
use keyon_solve::{Cancelled, Solution};

crate::rule::rule! {
    name: "load-on-sensor-return",
    level: Warning,
    group: "return",
    summary: "A load's current flows through a sensor return, and lifts what the sensors read.",
    why: "\
A sensor return carries a few milliamps and is thin. The current of a lamp or a valve in it drops some tens of millivolts, which every \
sensor on it adds to its signal whenever the load is on: readings that jump with the lights. It may also be more than the \
module's return bears.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let circuit = context.circuit;
    for net in context.facts.returns() {
        let reach = context.facts.return_continuity(net);
        let mut told = Vec::new();
        for (i, e) in circuit.elements.iter().enumerate() {
            let Owner::Device(device) = e.owner else { continue };
            let load = works(e.kind);
            let Some(end) = [e.from, e.to].into_iter().find(|&end| load && reach.has(end)) else { continue };
            if told.contains(&device) {
                continue;
            }
            told.push(device);
            let path = reach.path(end);
            out.extend(say(context, net, &path, ElementId::from(i), &words::name(circuit, i.into()))?);
        }
        // Another module that is grounded there.
        for &point in &net.wiring.order {
            let Some(PointKind::Cavity(m, c, k)) = circuit.points.get(point.index()).map(|p| p.kind) else {
                continue;
            };
            let Some(cavity) = circuit.cavity(m, c, k) else { continue };
            if m != net.module && cavity.role == Role::Ground {
                let name = circuit.modules.get(m.index()).map(|m| m.name.clone()).unwrap_or_default();
                out.extend(say(context, net, &net.wiring.path(point), cavity.terminal, &name)?);
            }
        }
    }
    Ok(())
}

/// The share of a load's current below which a return carries none of it.
const SHARE: f64 = 0.1;

/// Whether the load's current flows through the return: what is only joined to it, by its feed or by the contact of a relay, and
/// returns elsewhere is not meant.
fn returns(context: &Context<'_>, net: &ReturnNet, load: ElementId, amps: f64, solution: &Solution) -> bool {
    let through =
        context.facts.return_pin(net).and_then(|pin| solution.amps.get(pin.terminal.index())?.known());
    let reach = context.facts.return_continuity(net);
    let ends = context.circuit.elements.get(load.index()).map_or([None; 2], |e| [Some(e.from), Some(e.to)]);
    if amps > 1e-6 {
        let flows = solution.amps.get(load.index()).and_then(|a| a.known()).unwrap_or_default();
        let leaves = if flows >= 0.0 { ends[1] } else { ends[0] };
        return leaves.is_some_and(|end| reach.has(end))
            && through.is_none_or(|through| through.abs() >= SHARE * amps);
    }
    // Nothing flows: it counts by how it is wired, unless its other end is the grounded one.
    let grounded = context.facts.grounded_somehow();
    !ends.into_iter().flatten().any(|end| !reach.has(end) && grounded.has(end))
}

/// Moves the end of a wire that is on the return to the circuit's ground point, if there is just one.
fn to_ground(context: &Context<'_>, path: &[ElementId], joins: ElementId) -> Option<Fix> {
    let circuit = context.circuit;
    let [ground] = circuit.grounds.as_slice() else { return None };
    let e = circuit.elements.get(joins.index())?;
    // The end that the path comes from.
    let before = path.iter().take_while(|&&e| e != joins).last()?;
    let before = circuit.elements.get(before.index())?;
    let near = [e.from, e.to].into_iter().find(|p| [before.from, before.to].contains(p))?;
    let edit = (wiring::end_at(context, joins, near)?, ground.name.to_string());
    Some(edit::review(format!("wire it to `{}`", ground.name), vec![edit]))
}

fn say(
    context: &Context<'_>,
    net: &ReturnNet,
    path: &[ElementId],
    load: ElementId,
    name: &str,
) -> Result<Option<Finding>, Cancelled> {
    let circuit = context.circuit;
    let harness = |e: &&ElementId| {
        circuit
            .elements
            .get(e.index())
            .is_some_and(|e| matches!(e.kind, ElementKind::Wire | ElementKind::Tie | ElementKind::Fuse(_)))
    };
    let Some(&joins) = path.iter().rev().find(harness) else { return Ok(None) };
    let (Some(place), Some(pin)) = (context.facts.place(joins), context.facts.return_pin(net)) else {
        return Ok(None);
    };
    let worst = context.facts.worst(load)?;
    let amps = worst.amps.abs();
    let solution = &worst.solution;
    if !returns(context, net, load, amps, solution) {
        return Ok(None);
    }
    // What the sensors see: their return's volts over the module's own ground, with the load at its most.
    let module = circuit.modules.get(net.module.index());
    let ground = module.and_then(|m| m.grounds.first().and_then(|&at| crate::facts::modules::cavity(m, at)));
    let ground = ground.map_or(keyon_circuit::model::COMMON, |cavity| cavity.inside);
    let volts = |p: PointId| solution.unloaded.get(p.index()).copied().flatten();
    let mut offset = 0.0f64;
    let mut sensors = Vec::new();
    for &point in &net.wiring.order {
        let Some(PointKind::Pin(device, _)) = circuit.points.get(point.index()).map(|p| p.kind) else {
            continue;
        };
        let Some(device) = circuit.devices.get(device.index()) else { continue };
        let sensor = device
            .elements
            .iter()
            .any(|e| circuit.elements.get(e.index()).is_some_and(|e| crate::facts::paths::senses(e.kind)));
        if sensor {
            sensors.push(device.name.clone());
            if let (Some(a), Some(b)) = (volts(point), volts(ground)) {
                offset = offset.max((a - b).abs());
            }
        }
    }
    sensors.dedup();
    let read = words::verb(sensors.len(), "read");
    let lifts = match (sensors.is_empty(), offset >= 0.5e-3) {
        (true, _) => "sensors put on this return will read too high".to_owned(),
        (false, true) => {
            format!("{} {read} up to {} mV too high", words::names(&sensors), words::digits(offset * 1e3))
        }
        (false, false) => format!(
            "{} {read} too high by what the wires drop, 0 mV as far as gauges and lengths are given",
            words::names(&sensors)
        ),
    };
    let current = if amps > 1e-6 { format!(" ({})", words::quantity(amps, "A")) } else { String::new() };
    Ok(Some(
        RULE.at(
            place,
            format!(
                "`{name}` returns its current{current} through the sensor return `{}`: {lifts}",
                pin.name
            ),
        )
        .help("wire its return to a ground point of its own")
        .fixes(to_ground(context, path, joins))
        .see(pin.loc, "the sensor return"),
    ))
}
