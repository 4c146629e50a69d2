//! A symptom of an exercise that its fault does not show.

use crate::{Context, Finding, words};
use keyon_solve::{Cancelled, judge_all};

crate::rule::rule! {
    name: "symptom-false",
    level: Error,
    group: "teaching",
    summary: "A `symptom` of an exercise is not what its fault does.",
    why: "\
The symptom is what the learner is told, or sees first. If the fault does not do that, every conclusion drawn from it is wrong, and the learner who \
thinks straight is marked down.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    for exercise in facts.exercises() {
        if context.cancel.cancelled() {
            return Err(Cancelled);
        }
        let Some(staged) = facts.staged(exercise) else { continue };
        let outcomes = judge_all(circuit, &staged.faulty.state, &exercise.symptoms);
        for (row, outcome) in exercise.symptoms.iter().zip(outcomes).filter(|(_, outcome)| !outcome.holds) {
            let text = context.elaboration.text(row.loc).split_whitespace().collect::<Vec<_>>().join(" ");
            let faults = words::names(exercise.faults.iter().map(|(_, words, _)| words.as_str()));
            let message = match &outcome.refused {
                Some(why) => format!("`{text}` cannot be judged: {}", why.words(circuit)),
                None => format!("`{text}` is not what {faults} does: computed {}", outcome.got),
            };
            let mut finding = RULE
                .at(row.loc, message)
                .help("say what the fault really shows, or choose a fault that shows this");
            if let Some((.., loc)) = exercise.faults.first() {
                finding = finding.see(*loc, "the fault");
            }
            out.push(finding);
        }
    }
    Ok(())
}
