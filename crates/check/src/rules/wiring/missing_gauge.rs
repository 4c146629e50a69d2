//! Wires without a gauge or a length.

use crate::{Context, Finding, facts::paths::works, words};
use keyon_circuit::{
    ids::*,
    model::{COMMON, Stretch},
};
use keyon_solve::Cancelled;
use std::collections::BTreeSet;

crate::rule::rule! {
    name: "missing-gauge",
    level: Hint,
    group: "wiring",
    summary: "A check needed a wire's gauge or length, and it is not given. Said once for a circuit.",
    why: "\
Whether a fuse protects a wire hangs on its gauge, and what a wire drops on gauge and length. Where they are missing the wire counts as ideal: \
nothing is reported, and nothing is known.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    // Most circuits say it of every wire, and are done.
    let stretches = circuit.wires.iter().flat_map(|w| &w.stretches);
    if stretches.clone().all(|s| s.area.is_some() && s.length.is_some()) {
        return Ok(());
    }
    let mut behind: BTreeSet<ElementId> = BTreeSet::new();
    for fuse in &circuit.fuses {
        let flood = facts.behind(fuse.element);
        let steps = flood.order.iter().filter(|&&p| p != COMMON).flat_map(|&p| facts.graph().steps(p));
        behind.extend(steps.filter(|step| flood.has(step.to)).map(|step| step.element));
    }
    let starts: Vec<PointId> =
        circuit.elements.iter().filter(|e| works(e.kind)).flat_map(|e| [e.from, e.to]).collect();
    let loads = facts.graph().flood(&starts, |e, _| crate::facts::graph::is_wiring(e.kind));
    let lacks = |s: &&Stretch| {
        let Some(e) = circuit.elements.get(s.element.index()) else { return false };
        let fused = behind.contains(&s.element);
        let load = loads.has(e.from) && loads.has(e.to);
        (fused && s.area.is_none()) || (load && (s.area.is_none() || s.length.is_none()))
    };
    // It may stand in what could not be read.
    let read = |s: &&Stretch| {
        let items = facts.place(s.element).and_then(|loc| {
            let file = context.elaboration.files.get(loc.file.index())?;
            file.parse.file.items.get(loc.item as usize)
        });
        items.is_none_or(|placed| !placed.item.damaged)
    };
    let missing: Vec<&Stretch> = stretches.filter(lacks).filter(read).collect();
    let Some(first) = missing.first() else { return Ok(()) };
    let Some(place) = facts.place(first.element) else { return Ok(()) };
    let what = if first.area.is_none() { "gauge" } else { "length" };
    let name = words::thing(circuit, first.element);
    let others = match missing.len() - 1 {
        0 => String::new(),
        1 => ", nor is everything given for one other wire".to_owned(),
        n => format!(", nor is everything given for {n} other wires"),
    };
    out.push(
        RULE.at(
            place,
            format!("the {what} of {name} is not given{others}: fuses and drops are not checked there"),
        )
        .help("add gauge and length, as in `0.75 mm2  OG  2.4 m`"),
    );
    Ok(())
}
