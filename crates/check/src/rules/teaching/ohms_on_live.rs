//! An ohms reading where there is power.

use crate::{Context, Finding};
use keyon_circuit::{
    Entity,
    ids::*,
    model::{Loc, Probe},
};
use keyon_solve::{Cancelled, Refusal, Solution, State, measure, solve};

crate::rule::rule! {
    name: "ohms-on-live",
    level: Error,
    group: "teaching",
    summary: "Ohms are read or asked for in a state that feeds the net.",
    why: "\
An ohmmeter sends a small current of its own and reads what it makes. In a live circuit it reads nonsense, and the meter may be damaged. The power is off, the \
part is isolated, and only then are ohms a measurement.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let circuit = context.circuit;
    for block in &circuit.readings {
        let Some(scenario) = block.scenario else { continue };
        let mut base = State::scenario(circuit, scenario);
        base.changes.extend(block.changes.iter().cloned());
        for row in &block.rows {
            if let Probe::Ohms(a, b) = row.probe {
                let solution = solve(circuit, &base.clone().with(&row.settings));
                out.extend(live(context, &solution, a, b).map(|p| say(context, row.loc, p)));
            }
        }
    }
    for judged in context.facts.expectations()?.iter().filter(|judged| !judged.excused) {
        let row = circuit.expects.get(judged.expect).and_then(|e| e.rows.get(judged.row));
        let refused = judged.outcome.as_ref().and_then(|outcome| outcome.refused.as_ref());
        if let (Some(row), Some(Refusal::Live(point))) = (row, refused) {
            out.push(say(context, row.loc, *point));
        }
    }
    for exercise in &circuit.exercises {
        let Some(staged) = context.facts.staged(exercise) else { continue };
        for row in &exercise.symptoms {
            if let Probe::Ohms(a, b) = row.probe {
                let solution = solve(circuit, &staged.faulty.state.clone().with(&row.settings));
                out.extend(live(context, &solution, a, b).map(|p| say(context, row.loc, p)));
            }
        }
        for ask in exercise.asks.iter().filter(|ask| ask.kind.as_deref() == Some("ohms")) {
            let point = |&e: &Entity| circuit.point_of(e);
            let ends: Vec<PointId> = match ask.about.as_slice() {
                [one] => keyon_solve::fault::test_points_of(circuit, *one),
                several => several.iter().filter_map(point).collect(),
            };
            if let [a, b] = ends.as_slice() {
                out.extend(live(context, &staged.faulty, *a, *b).map(|p| say(context, ask.loc, p)));
            }
        }
    }
    Ok(())
}

/// The point that is live, of two between which ohms are wanted.
fn live(context: &Context<'_>, solution: &Solution, a: PointId, b: PointId) -> Option<PointId> {
    match measure(context.circuit, solution, Probe::Ohms(a, b), None) {
        Err(Refusal::Live(point)) => Some(point),
        _ => None,
    }
}

fn say(context: &Context<'_>, loc: Loc, point: PointId) -> Finding {
    let name = context.circuit.points.get(point.index()).map_or("it", |p| p.name.as_str());
    RULE.at(
        loc,
        format!("`{name}` is live in this state: an ohmmeter there reads nonsense and may be damaged"),
    )
    .help("take the power off and isolate the part, with `pull` or `unplug`, or ask for volts")
}
