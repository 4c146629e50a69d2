//! Readings that no single fault explains.

use crate::{Context, Finding};
use keyon_circuit::model::Readings;
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "readings-unexplained",
    level: Warning,
    group: "teaching",
    summary: "No single fault, and nothing wrong at all, explains the readings of a block.",
    why: "\
Either a reading was taken at another point or in another state than it says, or the circuit is not as it is drawn, or two things have failed. (One fault is \
assumed: opens, added resistance, shorts to ground, to a supply and to the next cavity, stuck stages and contacts, sensors that drift. Crossed wires are not \
among them. A reading fits within the meter's accuracy, ±(0.5 % + 10 mV) where none is given, and 50 mV for joints.)",
    absence: true,
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let facts = context.facts;
    if context.facts.anything_doubtful() {
        return Ok(());
    }
    for block in context.circuit.readings.iter().filter(|block| !block.rows.is_empty()) {
        let Some(best) = facts.explained(block)? else { continue };
        let Some(row) = best.against.and_then(|i| block.rows.get(i)) else { continue };
        let text = context.elaboration.text(row.loc).split_whitespace().collect::<Vec<_>>().join(" ");
        let fault = match &best.fault {
            Some(fault) => format!("`{fault}`"),
            None => "nothing wrong".to_owned(),
        };
        let all = block.rows.len();
        out.push(
            RULE.at(
                row.loc,
                format!(
                    "no single fault explains {}: {fault} fits best, {} of {all} readings, but not `{text}`",
                    name(block),
                    best.fits
                ),
            )
            .help("take this reading again, in the state that the block names; else two things have failed, or the circuit is not as drawn"),
        );
    }
    Ok(())
}

fn name(block: &Readings) -> String {
    match &block.name {
        Some(name) => format!("the readings `{name}`"),
        None => "these readings".to_owned(),
    }
}
