//! Two things of one name. Found by elaboration.

use crate::fix::edit;
use keyon_circuit::{Elaboration, Fix, Problem};

crate::rule::rule! {
    name: "duplicate-name",
    level: Error,
    group: "names",
    summary: "Two things have one name; the first place is named.",
    why: "\
With two things of one name nobody can say which one a wire, a question or a job card means. The second is left out \
until one of them is renamed. Wire numbers may repeat; they have names of their own.",
}

/// Takes a line out that was pasted twice.
pub(crate) fn fix(elaboration: &Elaboration, problem: &Problem) -> Option<Fix> {
    let first = problem.related.first().filter(|_| problem.rule == RULE.name)?.0;
    edit::without_repeat(elaboration, problem.loc, first)
}
