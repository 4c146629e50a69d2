//! Two sources of different potential joined with no load between.

use super::supply_to_ground::between_stages;
use crate::{Context, Finding, facts::shorts::Short, words};
use keyon_circuit::{
    ids::ElementId,
    model::{Circuit, ElementKind, Law},
};
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "supplies-joined",
    level: Error,
    group: "power",
    summary: "Some state joins two different potentials with no load between.",
    why: "\
The stronger source drives current backwards through the weaker one. Battery voltage on a 5 V reference takes every \
sensor on it out of range and may destroy the module; two batteries of different voltage glow the wire between them. A supply with \
a `limit` that feeds another through a diode charges it: a solar panel on a battery.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let circuit = context.circuit;
    for short in context.facts.shorts()?.iter().filter(|s| !between_stages(context, s)) {
        let Some(other) = short.other else { continue };
        if charges(circuit, short, other) {
            continue;
        }
        let Some(place) = context.facts.place(short.blame) else { continue };
        let path = words::path(circuit, short.start, &short.path);
        let reference =
            |e: ElementId| circuit.elements.get(e.index()).is_some_and(|e| e.kind == ElementKind::Reference);
        let why = if reference(other) || reference(short.source) {
            "the reference is lifted for every sensor on it, and the module may be destroyed"
        } else {
            "the stronger drives current through the weaker, and nothing but the wiring limits it"
        };
        out.push(
            RULE.at(
                place,
                format!(
                    "{}, this joins {} and {}, which are at different voltages, with no load between: {why}. The path: \
                     {path}",
                    words::with(circuit, &short.away),
                    words::thing(circuit, short.source),
                    words::thing(circuit, other)
                ),
            )
            .help("take one of them off; where either may feed the same load, give each a diode or use a changeover contact"),
        );
    }
    Ok(())
}

/// A solar panel on a battery: the higher of two supplies gives no more than its limit, and a diode keeps it from taking any.
fn charges(circuit: &Circuit, short: &Short, other: ElementId) -> bool {
    let supply = |id: ElementId| {
        let e = circuit.elements.get(id.index()).filter(|e| e.kind == ElementKind::Supply)?;
        match &e.law {
            Law::Source { volts, limit, .. } => Some((volts.nominal, limit.is_some(), e.from)),
            _ => None,
        }
    };
    let diode = |e: &ElementId| circuit.elements.get(e.index()).is_some_and(|e| e.kind == ElementKind::Diode);
    match (supply(short.source), supply(other)) {
        (Some((volts, limited, negative)), Some((lower, _, same))) => {
            limited && volts > lower && negative == same && short.path.iter().any(diode)
        }
        _ => false,
    }
}
