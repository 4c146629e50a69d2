//! A splice that joins fewer than three.

use crate::{Context, Finding, facts::graph::Step, words};
use keyon_circuit::{
    ids::ElementId,
    model::{ElementKind, Owner},
};
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "lone-splice",
    level: Warning,
    group: "wiring",
    summary: "A splice joins fewer than three wires.",
    why: "\
A splice is there to branch. With two wires it is only a joint that can corrode, with one it is a wire that ends in the air: most often the \
third wire was forgotten. Everything that lands on the splice counts: wires, fuses, what leaves the page.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    for splice in &context.circuit.splices {
        // With none at all it is an unused name.
        let steps = context.facts.graph().steps(splice.point).len();
        let leaving =
            context.circuit.branches.iter().filter(|b| b.element.is_none() && b.point == splice.point);
        let count = steps + leaving.count();
        // Where the leads of two small parts meet, nothing else could join them.
        let small = |e: &ElementId| {
            let kind = context.circuit.elements.get(e.index()).map(|e| e.kind);
            matches!(kind, Some(ElementKind::Diode | ElementKind::Resistor | ElementKind::Terminal))
        };
        let lead = |step: &Step| match context.circuit.elements.get(step.element.index()).map(|e| e.owner) {
            Some(Owner::Device(d)) => {
                context.circuit.devices.get(d.index()).is_some_and(|d| d.bare && d.elements.iter().all(small))
            }
            _ => false,
        };
        let joint = steps == 2 && context.facts.graph().steps(splice.point).iter().all(lead);
        // Where a common way to ground breaks off, that is told.
        let told = context.facts.is_lost_common(splice.point) && count == 2;
        // What a bus carries is its own affair, how many wires meet is not.
        let damaged = !context.facts.damaged().is_empty();
        let unsure =
            (damaged && context.facts.held(splice.point)) || context.facts.named_by_damage(splice.point);
        if joint || told || count == 0 || count >= 3 || unsure {
            continue;
        }
        let what: Vec<_> = context
            .facts
            .graph()
            .steps(splice.point)
            .iter()
            .map(|step| words::thing(context.circuit, step.element))
            .collect();
        let message = format!(
            "only {} {} on the splice `{}`: it branches nothing, and most often a wire was forgotten",
            words::list(what),
            if count == 1 { "lands" } else { "land" },
            splice.name
        );
        out.push(RULE.at(splice.loc, message).help("add what is missing, or join the two without a splice"));
    }
    Ok(())
}
