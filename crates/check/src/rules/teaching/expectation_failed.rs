//! A line of an `expect` block that does not hold.

use crate::{Context, Finding};
use keyon_solve::{Cancelled, Refusal};

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
    for judged in context.facts.expectations()? {
        let Some(outcome) = judged.outcome.as_ref().filter(|o| !o.holds && !judged.excused) else { continue };
        let row = circuit.expects.get(judged.expect).and_then(|e| e.rows.get(judged.row));
        let name = circuit.scenarios.get(judged.scenario.index()).map(|s| &s.name);
        let (Some(row), Some(name)) = (row, name) else { continue };
        let text = context.elaboration.text(row.loc);
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        out.push(match &outcome.refused {
            // Told as that: see `ohms-on-live`.
            Some(Refusal::Live(_)) => continue,
            Some(why) => RULE.at(row.loc, format!("`{text}` cannot be judged: {}", why.words(circuit))),
            None => RULE
                .at(row.loc, format!("`{text}` does not hold in `{name}`: computed {}", outcome.got))
                .help("if the circuit is right, correct this line and the sheets printed from it; else undo what changed"),
        });
    }
    Ok(())
}
