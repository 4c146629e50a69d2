//! A symptom of an exercise that its fault does not show.

use crate::{Context, Finding, Level, words};
use keyon_solve::{Cancelled, judge_all};

crate::rule::rule! {
    name: "symptom-false",
    level: Error,
    group: "teaching",
    summary: "A `symptom` of an exercise is not what its fault does.",
    why: "\
The symptom is what the learner is told, or sees first. If the fault does not do that, every conclusion drawn from it is wrong, and the learner who \
thinks straight is marked down. What is seen without the fault as well, in the state of the exercise, is told as a warning: nobody could notice \
anything.",
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
        let shown = outcomes.iter().all(|outcome| outcome.holds);
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
        // What is seen without the fault as well is no symptom of it.
        let always = judge_all(circuit, &staged.base, &exercise.symptoms);
        if let Some(first) =
            exercise.symptoms.first().filter(|_| shown && always.iter().all(|outcome| outcome.holds))
        {
            let mut finding = RULE
                .at(
                    first.loc,
                    "the same is seen without the fault: in this state nobody notices it".to_owned(),
                )
                .help("hold a state in which the fault shows, as in `in SCENARIO`, or say what it changes");
            finding.level = Level::Warning;
            if let Some((.., loc)) = exercise.faults.first() {
                finding = finding.see(*loc, "the fault");
            }
            out.push(finding);
        }
    }
    Ok(())
}
