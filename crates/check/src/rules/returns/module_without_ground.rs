//! A module that is described with a feed and without a ground.

use crate::{Context, Finding, fix::edit, words};
use keyon_circuit::model::{Cavity, Role};
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "module-without-ground",
    level: Error,
    group: "return",
    summary: "A module drives or references, and describes a feed but no ground.",
    why: "\
What a module switches to ground flows out through its ground pin, and its references stand on it. A lost module ground is the fault \
behind a dozen strange readings; a drawing without the pin hides where to look for it.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    for module in &context.circuit.modules {
        if module.feeds.is_empty() || !module.grounds.is_empty() {
            continue;
        }
        // One whose row was not read may be the ground.
        let unread = |c: &Cavity| c.role == Role::Unused && c.unused.is_none();
        let damaged = edit::is_damaged(context.elaboration, module);
        if damaged || module.connectors.iter().flat_map(|c| &c.cavities).any(unread) {
            continue;
        }
        let acts = |role: &Role| {
            matches!(role, Role::Drives(_) | Role::Switches | Role::Reference { .. } | Role::Return { .. })
        };
        let cavities = module.connectors.iter().flat_map(|c| &c.cavities);
        let names: Vec<_> = cavities.filter(|c| acts(&c.role)).map(|c| c.name.clone()).collect();
        if names.is_empty() {
            continue;
        }
        let shown = if names.len() > 3 {
            format!("{} and others", words::names(&names[..3]))
        } else {
            words::names(&names)
        };
        out.push(
            RULE.at(
                module.loc,
                format!(
                    "`{}` describes a feed but no ground, and yet it serves {shown}: where that current flows back, nobody can tell",
                    module.name
                ),
            )
            .help("add the cavity with the role `ground` and its wire to a ground point"),
        );
    }
    Ok(())
}
