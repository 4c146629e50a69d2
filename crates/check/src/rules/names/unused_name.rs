//! A part, splice, scenario or parameter that nothing uses.

use crate::{Context, Finding};
use keyon_circuit::{Entity, ids::FileId};
use keyon_solve::Cancelled;
use std::collections::BTreeSet;

crate::rule::rule! {
    name: "unused-name",
    level: Warning,
    group: "names",
    summary: "A part, a splice, a scenario or a part's parameter that nothing uses.",
    why: "\
A splice that no wire reaches, or a parameter that no element takes, is most often the other half of a mistake: a wire \
that was meant to land there, a value that was meant to come from there. A reader looks for it on the machine in vain.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (elaboration, circuit) = (context.elaboration, context.circuit);
    if circuit.incomplete {
        return Ok(());
    }
    let own = FileId(0);
    let used: BTreeSet<Entity> =
        elaboration.names.iter().filter(|name| !name.definition).map(|name| name.entity).collect();
    for (i, part) in elaboration.parts.iter().enumerate().filter(|(_, part)| part.loc.file == own) {
        if !elaboration.library && !part.used {
            out.push(
                RULE.at(part.loc, format!("nothing in this circuit is a `{}`", part.name))
                    .help(format!("make a device of it, `device … : {}`, or remove it", part.name)),
            );
        }
        for (p, param) in part.params.iter().enumerate() {
            if !used.contains(&Entity::Param(i, p)) {
                let message = format!(
                    "no element of `{}` takes its value from `{}`, so setting it changes nothing",
                    part.name, param.name
                );
                out.push(
                    RULE.at(param.loc, message).help(format!(
                        "write `{}` in place of a value in the body, or remove it",
                        param.name
                    )),
                );
            }
        }
    }
    for splice in circuit.splices.iter().filter(|splice| splice.legs.is_empty()) {
        if !context.facts.held(splice.point) {
            out.push(
                RULE.at(splice.loc, format!("no wire reaches the splice `{}`", splice.name))
                    .help("wire it, or remove it"),
            );
        }
    }
    // A circuit that claims nothing has its scenarios for the command line and the editor.
    let claims = !(circuit.expects.is_empty() && circuit.exercises.is_empty() && circuit.readings.is_empty())
        || circuit.view.is_some();
    for (i, scenario) in circuit.scenarios.iter().enumerate() {
        if claims && !used.contains(&Entity::Scenario(i.into())) {
            out.push(
                RULE.at(
                    scenario.loc,
                    format!(
                        "no `expect`, exercise, readings or `view` uses the scenario `{}`",
                        scenario.name
                    ),
                )
                .help(format!("say what holds in it, `expect in {} {{ … }}`, or remove it", scenario.name)),
            );
        }
    }
    Ok(())
}
