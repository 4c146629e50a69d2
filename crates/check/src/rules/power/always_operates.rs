//! A device that nothing switches off.

use super::common::devices;
use crate::{Context, Finding, facts::paths::works};
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "always-operates",
    level: Hint,
    group: "power",
    summary: "A load operates in every state of the controls.",
    why: "\
Some loads are meant to work all the time. More often a switch was bridged or forgotten in the drawing, and on the \
machine the battery is flat in the morning.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    for found in devices(context) {
        let (_, device, paths) = found?;
        let working = |load: &&crate::facts::paths::LoadPaths| {
            context.circuit.elements.get(load.element.index()).is_some_and(|e| works(e.kind))
        };
        if paths.loads.iter().filter(working).any(|load| load.least.operates()) {
            out.push(
                RULE.at(device.loc, format!("`{}` operates in every state: nothing in this circuit switches it off", device.name))
                    .help("if it is meant to, say so with `allow always-operates \"…\"`; else look for the switch that is bridged or missing"),
            );
        }
    }
    Ok(())
}
