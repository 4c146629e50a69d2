//! Battery voltage on an input that is made for a sensor.

use super::steady::FAR;
use crate::{Context, Finding, facts::paths::node, words};
use keyon_solve::{Cancelled, NodeState, Solution};

crate::rule::rule! {
    name: "supply-on-input",
    level: Warning,
    group: "signal",
    summary: "Some state joins an analog input to a supply of far more volts than its range, with no load between.",
    why: "\
An input for a sensor takes some five volts. Battery voltage on it reads as a fault at best; it drives current backwards through the \
pull-up into the reference, so that every other sensor reads wrong, and may break the input. Switches to battery belong on \
digital inputs, which bear it. (More than 1.5 times the range: common practice, no source.)",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    for input in facts.inputs().filter(|input| !input.digital) {
        let Some((_, high)) = input.cavity.range else { continue };
        let cases = facts.cases_of(&[input.cavity.inside], &[])?;
        let over = |s: &Solution| {
            let volts = s.unloaded.get(input.cavity.inside.index()).copied().flatten();
            node(s, input.cavity.inside) == NodeState::Fed && volts.is_some_and(|v| v > high * FAR)
        };
        let Some(case) = cases.cases.iter().find(|case| over(&case.solution)) else { continue };
        let Some(place) = facts.pin_place(input.module, input.cavity) else { continue };
        let (away, solution) = facts.fewest(&case.solution.state, over);
        let volts = solution.unloaded.get(input.cavity.inside.index()).copied().flatten().unwrap_or_default();
        let path = solution.path_to_source(circuit, input.cavity.outside).map_or(String::new(), |path| {
            let steps: Vec<_> = path.steps.iter().rev().map(|(e, _)| *e).collect();
            let start = path.points.last().copied().unwrap_or(input.cavity.outside);
            format!(". The path: {}", words::path(circuit, start, &steps))
        });
        out.push(
            RULE.at(
                place,
                format!(
                    "{}, `{}` gets {}, and its range ends at {}: the input may break, and what hangs on the same reference reads wrong{path}",
                    words::with(circuit, &away),
                    facts.pin_name(input.module, input.cavity),
                    words::quantity(volts, "V"),
                    words::quantity(high, "V")
                ),
            )
            .help("use a digital input, or a divider; or feed the sensor from the module's reference"),
        );
    }
    Ok(())
}
