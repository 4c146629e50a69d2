//! Two wires of one colour in one connector.

use super::pins::wires;
use crate::{Context, Finding, words};
use keyon_circuit::{ids::*, model::Owner};
use keyon_solve::Cancelled;
use smol_str::SmolStr;
use std::collections::BTreeMap;

crate::rule::rule! {
    name: "same-colour-neighbours",
    level: Hint,
    group: "wiring",
    summary: "Two wires of one colour code are in one connector.",
    why: "\
With the connector in the hand, the colour is what a person goes by. Two alike are swapped sooner or later; then only the cavity number tells them \
apart. Grounds are left out, for they are alike on purpose, and so are looms all of one colour.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let circuit = context.circuit;
    let colours = circuit.wires.iter().flat_map(|w| &w.stretches).filter_map(|s| s.colour.as_ref());
    let mut counts: BTreeMap<&SmolStr, usize> = BTreeMap::new();
    colours.for_each(|colour| *counts.entry(colour).or_default() += 1);
    let all: usize = counts.values().sum();
    if counts.values().any(|&count| count * 2 > all && all > 3) {
        return Ok(());
    }
    for module in &circuit.modules {
        for connector in &module.connectors {
            let landings = connector.cavities.iter().flat_map(|c| wires(context, &c.landings));
            look(context, &format!("{}.{}", module.name, connector.name), landings.collect(), out);
        }
    }
    for device in circuit.devices.iter().filter(|d| d.pins.len() > 2) {
        look(
            context,
            &device.name,
            device.pins.iter().flat_map(|p| wires(context, &p.landings)).collect(),
            out,
        );
    }
    for inline in &circuit.inlines {
        let sides = [0, 1].map(|side| {
            let landings = inline.cavities.iter().filter_map(|c| wires(context, &c.landings).nth(side));
            let mut found = Vec::new();
            look(context, &inline.name, landings.collect(), &mut found);
            found
        });
        // Wires that go on in their colours meet on both sides; once is enough.
        for finding in sides.into_iter().flatten() {
            let told = |f: &Finding| {
                (f.loc.file, f.loc.item, &f.message) == (finding.loc.file, finding.loc.item, &finding.message)
            };
            if !out.iter().any(told) {
                out.push(finding);
            }
        }
    }
    Ok(())
}

fn look(context: &Context<'_>, connector: &str, landings: Vec<ElementId>, out: &mut Vec<Finding>) {
    let mut seen: BTreeMap<SmolStr, ElementId> = BTreeMap::new();
    for wire in landings {
        let Some(colour) = colour(context, wire) else { continue };
        if grounds(context, wire) {
            continue;
        }
        let Some(&first) = seen.get(&colour) else {
            seen.insert(colour, wire);
            continue;
        };
        // Both ends of one wire.
        if first == wire {
            continue;
        }
        let Some(place) = context.facts.place(wire) else { continue };
        let (name, other) = (wire_name(context, wire), wire_name(context, first));
        let mut finding = RULE
            .at(
                place,
                format!(
                    "{} are both {colour} in the connector `{connector}`: only their cavities tell them apart",
                    words::names([other, name])
                ),
            )
            .help("give one of them a tracer");
        if let Some(see) = context.facts.place(first).filter(|see| *see != place) {
            finding = finding.see(see, format!("{colour} as well"));
        }
        out.push(finding);
    }
}

/// The name of a whole wire, whichever stretch of it is meant.
fn wire_name(context: &Context<'_>, stretch: ElementId) -> SmolStr {
    match context.circuit.elements.get(stretch.index()).map(|e| e.owner) {
        Some(Owner::Wire(id)) => context.circuit.wires.get(id.index()).map(|w| w.name.clone()),
        _ => None,
    }
    .unwrap_or_default()
}

fn colour(context: &Context<'_>, wire: ElementId) -> Option<SmolStr> {
    let Owner::Wire(id) = context.circuit.elements.get(wire.index())?.owner else { return None };
    let stretches = &context.circuit.wires.get(id.index())?.stretches;
    stretches.iter().find(|s| s.element == wire)?.colour.clone()
}

/// Whether a wire leads to ground by wires alone.
fn grounds(context: &Context<'_>, wire: ElementId) -> bool {
    let element = context.circuit.elements.get(wire.index());
    element.is_some_and(|e| context.facts.ground_wires().has(e.from))
}
