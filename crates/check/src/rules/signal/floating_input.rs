//! A sensing pin that nothing holds in some state.

use super::signal_without_reference::only_a_switch;
use crate::{Context, Finding, facts::paths::node, words};
use keyon_solve::{Cancelled, NodeState, Solution};

crate::rule::rule! {
    name: "floating-input",
    level: Warning,
    group: "signal",
    summary: "A sensing pin is open in some state in which its module is alive.",
    why: "\
An open input reads whatever the wire picks up: it may look like a switch that somebody presses now and then. An input for a switch \
to ground needs a pull-up inside the module, one for a switch to supply a pull-down.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    for input in facts.inputs() {
        // With what its module lives by: a pin may be as open in a dead module, where that is no harm.
        let mut points = facts.life_points(input.module);
        points.push(input.cavity.inside);
        let cases = facts.cases_of(&points, &[])?;
        let floats = |s: &Solution| node(s, input.cavity.inside) == NodeState::Open && s.lives(input.module);
        let Some(case) = cases.cases.iter().find(|case| floats(&case.solution)) else { continue };
        // A signal that never has a source is told as that.
        let never = cases.cases.iter().all(|c| {
            matches!(
                node(&c.solution, input.cavity.inside),
                NodeState::Open | NodeState::Grounded | NodeState::GroundedViaLoad
            )
        });
        if never && !only_a_switch(facts, &input, &cases) {
            continue;
        }
        let Some(place) = facts.pin_place(input.module, input.cavity) else { continue };
        let (away, _) = facts.fewest(&case.solution.state, floats);
        out.push(
            RULE.at(
                place,
                format!(
                    "{}, nothing holds `{}` at a voltage: it reads whatever its wire picks up",
                    words::with(circuit, &away),
                    facts.pin_name(input.module, input.cavity)
                ),
            )
            .help("say which pull the input has inside (`pull_up 4.7 kohm to 5 V`, `pull_down 10 kohm`), or add a resistor"),
        );
    }
    Ok(())
}
