//! A relay circuit that cannot settle.

use crate::{Context, Finding, words};
use keyon_circuit::{
    ids::*,
    model::{Element, ElementKind, Owner},
};
use keyon_solve::{Cancelled, Solution};

crate::rule::rule! {
    name: "chattering-relay",
    level: Error,
    group: "sneak",
    summary: "A relay circuit cannot settle: each position of its contacts calls for the other.",
    why: "\
A relay whose own contact cuts its coil off buzzes like a bell: many times a second it pulls in and lets go, until the contacts weld or \
burn off. What it switches gets something in between.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    let mut told: Vec<ElementId> = Vec::new();
    let coils: Vec<(ElementId, &Element)> = circuit
        .elements
        .iter()
        .enumerate()
        .filter(|(i, e)| e.kind == ElementKind::Coil && facts.is_relay((*i).into()))
        .map(|(i, e)| (i.into(), e))
        .collect();
    for &(coil, e) in &coils {
        let Owner::Device(id) = e.owner else { continue };
        if told.contains(&coil) {
            continue;
        }
        let cases = facts.device_cases(id)?;
        let buzzes = |s: &Solution| s.chatters.contains(&coil);
        let Some(case) = cases.cases.iter().find(|case| buzzes(&case.solution)) else { continue };
        let (away, solution) = facts.fewest(&case.solution.state, buzzes);
        // Relays that keep each other going are one finding.
        told.extend(&solution.chatters);
        let Some(device) = circuit.devices.get(id.index()) else { continue };
        let others: Vec<_> = solution
            .chatters
            .iter()
            .filter(|&&other| other != coil)
            .map(|&other| words::name(circuit, other))
            .filter(|name| *name != device.name)
            .collect();
        let together = if others.is_empty() {
            String::new()
        } else {
            format!(", together with {}", words::names(&others))
        };
        out.push(
            RULE.at(
                device.loc,
                format!(
                    "{} `{}` cannot settle{together}: once it has pulled in, its coil loses its current, and it lets go again",
                    words::with(circuit, &away),
                    device.name
                ),
            )
            .help("feed the coil from before its own contact, or hold it by a second one"),
        );
    }
    Ok(())
}
