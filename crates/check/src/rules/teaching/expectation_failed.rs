//! A line of an `expect` block that does not hold.

use crate::{Context, Finding};
use keyon_solve::Cancelled;

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

fn check(_context: &Context<'_>, _out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    Ok(())
}
