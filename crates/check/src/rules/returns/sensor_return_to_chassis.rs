//! A sensor return that is also grounded outside of its module.
//!
//! The finding stands at the wire that joins the two: the one without which all sensors still have their return and all
//! loads their ground.

use crate::{
    Context, Finding,
    facts::{
        graph::{Flood, is_continuity},
        paths::{senses, works},
        returns::{ReturnNet, is_harness},
    },
    fix::edit,
};
use keyon_circuit::{
    Fix,
    ids::*,
    model::{COMMON, ElementKind, Owner, PointKind},
};
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "sensor-return-to-chassis",
    level: Warning,
    group: "return",
    summary: "A module's sensor return also reaches a ground outside of the module.",
    why: "\
The module measures against its own ground, and returns its sensors there. Joined to the chassis as well, the return carries a part of \
the current of every load between the two grounds: readings that wander with the lamps, and a thin wire that may burn if the \
module's own ground opens.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let circuit = context.circuit;
    for net in context.facts.returns() {
        let ground = net.wiring.order.iter().copied().find(|&p| {
            let kind = circuit.points.get(p.index()).map(|p| p.kind);
            p == COMMON || matches!(kind, Some(PointKind::Ground(_)))
        });
        let Some(ground) = ground else { continue };
        let path = net.wiring.path(ground);
        let Some(joins) = blame(context, net, &path) else { continue };
        let (Some(place), Some(pin)) = (context.facts.place(joins), context.facts.return_pin(net)) else {
            continue;
        };
        let module = circuit.modules.get(net.module.index()).map_or("", |m| m.name.as_str());
        let at = circuit.points.get(ground.index()).map_or("ground", |p| p.name.as_str());
        out.push(
            RULE.at(
                place,
                format!(
                    "this joins the sensor return `{}` of `{module}` to `{at}`: load currents between that and the module's own \
                     ground flow through the return and shift what the sensors read",
                    pin.name
                ),
            )
            .help("leave the return to the module alone")
            .fixes(take_out(context, joins))
            .see(pin.loc, "the sensor return"),
        );
    }
    Ok(())
}

/// Takes the wire out, if it is all of its item.
fn take_out(context: &Context<'_>, joins: ElementId) -> Option<Fix> {
    let e = context.circuit.elements.get(joins.index())?;
    let Owner::Wire(wire) = e.owner else { return None };
    let wire = context.circuit.wires.get(wire.index()).filter(|w| w.stretches.len() == 1)?;
    let line = edit::remove(context.elaboration, edit::whole(context.elaboration, e.loc)?)?;
    Some(edit::review(format!("take wire `{}` out", wire.name), vec![line]))
}

fn blame(context: &Context<'_>, net: &ReturnNet, path: &[ElementId]) -> Option<ElementId> {
    let circuit = context.circuit;
    let pin = context.facts.return_pin(net)?;
    let mut best: Option<(usize, usize, ElementId)> = None;
    for (order, &e) in path.iter().enumerate() {
        let kind = circuit.elements.get(e.index())?.kind;
        if !matches!(kind, ElementKind::Wire | ElementKind::Tie | ElementKind::Fuse(_)) {
            continue;
        }
        let returned = context
            .facts
            .graph()
            .flood(&[pin.outside], |element, step| is_harness(element) && step.element != e);
        let grounded = context.facts.graph().flood(&[COMMON], |element, step| {
            is_continuity(element) && step.element != e && step.element != pin.terminal
        });
        let score = sensors(context, &returned) + loads(context, &grounded);
        if best.is_none_or(|(most, at, _)| (score, order) > (most, at)) {
            best = Some((score, order, e));
        }
    }
    best.map(|(.., e)| e)
}

fn sensors(context: &Context<'_>, reach: &Flood) -> usize {
    let circuit = context.circuit;
    let is_sensor = |d: DeviceId| {
        let elements = circuit.devices.get(d.index()).map_or(&[][..], |d| &d.elements);
        elements.iter().any(|e| circuit.elements.get(e.index()).is_some_and(|e| senses(e.kind)))
    };
    let kind = |p: &PointId| circuit.points.get(p.index()).map(|p| p.kind);
    reach.order.iter().filter(|p| matches!(kind(p), Some(PointKind::Pin(d, _)) if is_sensor(d))).count()
}

fn loads(context: &Context<'_>, reach: &Flood) -> usize {
    let works = context.circuit.elements.iter().filter(|e| works(e.kind) || e.kind == ElementKind::Draw);
    let modules = context.circuit.modules.iter().flat_map(|m| {
        m.grounds.iter().filter_map(|&at| crate::facts::modules::cavity(m, at)).map(|cavity| cavity.inside)
    });
    works.filter(|e| reach.has(e.from) || reach.has(e.to)).count() + modules.filter(|&p| reach.has(p)).count()
}
