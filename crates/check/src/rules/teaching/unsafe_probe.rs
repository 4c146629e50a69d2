//! An exercise that sends a learner where nobody should probe.

use crate::{Context, Finding};
use keyon_circuit::{Entity, ids::*, model::Exercise};
use keyon_solve::{Cancelled, Solution, fault::test_points_of};

crate::rule::rule! {
    name: "unsafe-probe",
    level: Error,
    group: "teaching",
    summary: "An exercise needs a reading at a point that is sealed, restricted, or above 60 V DC.",
    why: "\
Sealed joints are opened by piercing them, restricted circuits (restraint systems, high voltage) are left to trained, licensed people, and above 60 V DC a \
touch may kill (the usual limit of low voltage for direct current in dry places; local rules win). An exercise never sends a learner there.",
    check: check,
}

/// Volts above which a direct voltage is dangerous to touch.
const DANGEROUS: f64 = 60.0;

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    for exercise in &circuit.exercises {
        let staged = facts.staged(exercise);
        let solutions: Vec<&Solution> = staged.iter().flat_map(|s| [&s.sound, &s.faulty]).collect();
        let mut told: Vec<Entity> = Vec::new();
        for &entity in exercise.probe_entities.iter().chain(exercise.asks.iter().flat_map(|ask| &ask.about)) {
            // A whole connector is named for those of its cavities that can be reached.
            let why = test_points_of(circuit, entity).into_iter().find_map(|p| why(context, &solutions, p));
            let Some(why) = why.filter(|_| !told.contains(&entity)) else { continue };
            told.push(entity);
            out.push(finding(context, exercise, entity, &why));
        }
    }
    Ok(())
}

fn finding(context: &Context<'_>, exercise: &Exercise, entity: Entity, why: &str) -> Finding {
    RULE.at(
        context.facts.named_in(exercise, entity),
        format!("`{}` {why}: no learner should probe there", context.circuit.name_of(entity)),
    )
    .help("let the reading be taken at another point of the same net, or leave it out")
}

fn why(context: &Context<'_>, solutions: &[&Solution], point: PointId) -> Option<String> {
    for (name, attributes) in context.circuit.attributes_at(point) {
        if attributes.restricted {
            return Some(format!("belongs to `{name}`, which is restricted to trained, licensed people"));
        }
        if attributes.sealed {
            return Some(format!("belongs to `{name}`, which is sealed"));
        }
    }
    let volts = |s: &&Solution| s.volts.get(point.index()).copied().flatten().map(f64::abs);
    let most = solutions.iter().filter_map(volts).fold(0.0, f64::max);
    (most > DANGEROUS).then(|| format!("carries {}", crate::words::quantity(most, "V")))
}
