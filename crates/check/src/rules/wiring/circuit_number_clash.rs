//! One wire number in two places that have nothing to do with each other.

use crate::{Context, Finding, facts::graph::is_wiring, words};
use keyon_circuit::{hash::Map, ids::*, model::Wire};
use keyon_solve::Cancelled;
use smol_str::SmolStr;
use std::collections::BTreeMap;

crate::rule::rule! {
    name: "circuit-number-clash",
    level: Warning,
    group: "wiring",
    summary: "One circuit number stands on two nets.",
    why: "\
A number follows its circuit through connectors, splices and fuses; that is what it is for. On two circuits that do not meet it sends whoever looks for \
the wire to the wrong one.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let circuit = context.circuit;
    let numbered = || circuit.wires.iter().filter(|wire| wire.numbered);
    // Hardly any number stands twice: only those are put in order.
    let mut counts: Map<&SmolStr, u32> = Map::default();
    numbered().for_each(|wire| *counts.entry(&wire.name).or_default() += 1);
    let mut numbers: BTreeMap<&SmolStr, Vec<&Wire>> = BTreeMap::new();
    for wire in numbered().filter(|wire| counts.get(&wire.name).is_some_and(|&count| count > 1)) {
        numbers.entry(&wire.name).or_default().push(wire);
    }
    for (number, wires) in numbers {
        let mut known: Vec<&Wire> = Vec::new();
        for wire in wires {
            let Some(point) = end(context, wire) else { continue };
            if context.facts.held(point) {
                continue;
            }
            // A fuse does not end a circuit's number; a switch, a load, a driver does.
            let reach = context.facts.graph().flood(&[point], |e, _| is_wiring(e.kind));
            let meets = |other: &&Wire| end(context, other).is_some_and(|p| reach.has(p));
            match known.first() {
                Some(first) if !known.iter().any(meets) => {
                    let ends = |wire: &Wire| {
                        let name = |p: PointId| circuit.points.get(p.index()).map_or("", |p| p.name.as_str());
                        let first =
                            wire.stretches.first().and_then(|s| circuit.elements.get(s.element.index()));
                        let last =
                            wire.stretches.last().and_then(|s| circuit.elements.get(s.element.index()));
                        words::names([
                            name(first.map_or(PointId(0), |e| e.from)),
                            name(last.map_or(PointId(0), |e| e.to)),
                        ])
                    };
                    out.push(
                        RULE.at(
                            wire.loc,
                            format!(
                                "number `{number}` stands on this wire between {} and on one between {}, and the two do not meet: \
                                 whoever looks for the one finds the other",
                                ends(wire),
                                ends(first)
                            ),
                        )
                        .help("give one of them another number")
                        .see(first.loc, format!("the other `{number}`")),
                    );
                }
                _ => {}
            }
            known.push(wire);
        }
    }
    Ok(())
}

fn end(context: &Context<'_>, wire: &Wire) -> Option<PointId> {
    let element = wire.stretches.first()?.element;
    context.circuit.elements.get(element.index()).map(|e| e.from)
}
