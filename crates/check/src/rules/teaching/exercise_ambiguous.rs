//! An exercise whose allowed probes do not tell its fault from others.

use crate::{Context, Finding, facts::exercises::Suspect, words};
use keyon_circuit::ids::*;
use keyon_solve::{
    Cancelled, State,
    fault::test_points_of,
    fault::{same_readings, test_points},
    solve,
};

crate::rule::rule! {
    name: "exercise-ambiguous",
    level: Warning,
    group: "teaching",
    summary: "The allowed probes of an exercise leave faults that another test point would tell from its own.",
    why: "\
An exercise has one provable answer when the symptom and the readings that the learner may take leave its own fault alone, or only such faults as no test \
point tells apart. Else a learner may reason without a mistake and still name another fault.",
    check: check,
}

/// Faults that a message names one by one.
const NAMED: usize = 4;

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    for exercise in facts.exercises().filter(|x| !x.probe_entities.is_empty()) {
        let Some(staged) = facts.staged(exercise) else { continue };
        // A symptom that is false is a finding of its own, and leaves nothing to tell apart.
        if !keyon_solve::judge_all(circuit, &staged.faulty.state, &exercise.symptoms).iter().all(|o| o.holds)
        {
            continue;
        }
        let mut allowed: Vec<PointId> =
            exercise.probe_entities.iter().flat_map(|&entity| test_points_of(circuit, entity)).collect();
        allowed.sort_unstable();
        allowed.dedup();
        if allowed.is_empty() {
            continue;
        }
        let ideal = |state: &State| {
            let mut state = state.clone();
            state.options.meter = f64::INFINITY;
            solve(circuit, &state)
        };
        let (sound, faulty) = (ideal(&staged.base), ideal(&staged.faulty.state));
        let suspects = facts.suspects(&sound.state, &sound, &exercise.symptoms, &allowed)?;
        let all = test_points(circuit);
        let same = |suspect: &Suspect, points: &[PointId]| {
            points.iter().all(|&p| same_readings(&faulty, &suspect.solution, p))
        };
        let left: Vec<&Suspect> = suspects.iter().filter(|s| same(s, &allowed) && !same(s, &all)).collect();
        if left.is_empty() {
            continue;
        }
        // The point that tells most of them from the exercise's own fault.
        let told = |p: PointId| left.iter().filter(|s| !same_readings(&faulty, &s.solution, p)).count();
        let best = all.iter().copied().max_by_key(|&p| (told(p), std::cmp::Reverse(p)));
        let name = |s: &&Suspect| match &s.fault {
            Some(fault) => format!("`{fault}`"),
            None => "nothing wrong at all".to_owned(),
        };
        let more = left.len().saturating_sub(NAMED);
        let others = (more > 0).then(|| format!("{more} more"));
        let list = words::list(left.iter().take(NAMED).map(name).chain(others));
        let own = words::names(exercise.faults.iter().map(|(_, words, _)| words.as_str()));
        let mut finding = RULE.at(
            exercise.loc,
            format!(
                "symptom and allowed probes of `{}` do not tell its fault {own} from {list}",
                exercise.name
            ),
        );
        if let Some(point) = best.and_then(|p| circuit.points.get(p.index())) {
            let count = best.map_or(0, told);
            let which = if count == left.len() { "what is left" } else { "most of what is left" };
            finding = finding.help(format!(
                "allow a probe at `{}`, which reads otherwise for {which}; or say more of what is seen",
                point.name
            ));
        }
        out.push(finding);
    }
    Ok(())
}
