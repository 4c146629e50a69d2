//! A line of an `expect` block that does not hold.

use crate::{Context, Facts, Finding};
use keyon_circuit::model::Probe;
use keyon_solve::{Cancelled, State, judge_all};

crate::rule::rule! {
    name: "expectation-failed",
    level: Error,
    group: "teaching",
    summary: "A line of an `expect` block does not hold; the computed value is named.",
    why: "\
An expectation is an answer that somebody relies on: a key, a hand-out, a repair note. When a change to the circuit or \
to a part moves the computed value out of it, either the change or the answer is wrong, and every sheet printed from it.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let circuit = context.circuit;
    if circuit.incomplete {
        return Ok(());
    }
    for expect in &circuit.expects {
        if context.cancel.cancelled() {
            return Err(Cancelled);
        }
        let Some(scenario) = expect.scenario else { continue };
        let Some(name) = circuit.scenarios.get(scenario.index()).map(|s| &s.name) else { continue };
        let mut base = State::scenario(circuit, scenario);
        base.changes.extend(expect.changes.iter().cloned());
        let outcomes = judge_all(circuit, &base, &expect.rows);
        // What fails only because of a short circuit is that finding.
        let mended = match context.facts.shorts()? {
            [] => None,
            _ => Some(judge_all(circuit, &context.facts.mend(base)?, &expect.rows)),
        };
        for (i, (row, outcome)) in expect.rows.iter().zip(outcomes).enumerate() {
            let mended = mended.as_ref().and_then(|outcomes| outcomes.get(i));
            if outcome.holds || mended.is_some_and(|m| m.holds) || held(context.facts, row.probe) {
                continue;
            }
            let text = context.elaboration.text(row.loc);
            let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
            out.push(match outcome.refused {
                Some(why) => {
                    RULE.at(row.loc, format!("`{text}` cannot be judged: {}", why.words(circuit)))
                }
                None => RULE
                    .at(row.loc, format!("`{text}` does not hold in `{name}`: computed {}", outcome.got))
                    .help("if the circuit is right, correct this line and the sheets printed from it; else undo what changed"),
            });
        }
    }
    Ok(())
}

/// Whether what is measured hangs on something that could not be read.
fn held(facts: &Facts<'_>, probe: Probe) -> bool {
    let circuit = facts.circuit;
    let element = |e: keyon_circuit::ids::ElementId| {
        circuit.elements.get(e.index()).is_some_and(|e| facts.held(e.from) || facts.held(e.to))
    };
    match probe {
        Probe::Point(p) => facts.held(p),
        Probe::Input(m, c, k) => circuit.cavity(m, c, k).is_some_and(|c| facts.held(c.inside)),
        Probe::Device(d) => {
            circuit.devices.get(d.index()).is_some_and(|d| d.pins.iter().any(|p| facts.held(p.outside)))
        }
        Probe::Element(e) | Probe::Clamp(e) => element(e),
        Probe::Across(a, b) | Probe::Ohms(a, b) | Probe::Lamp(a, b) => facts.held(a) || facts.held(b),
    }
}
