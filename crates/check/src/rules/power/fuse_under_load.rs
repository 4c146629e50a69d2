//! A fuse that carries more than it should.

use crate::{Context, Finding, Level, words};
use keyon_circuit::{ids::ElementId, model::Fuse};
use keyon_solve::{Cancelled, Solution};

crate::rule::rule! {
    name: "fuse-under-load",
    level: Error,
    group: "power",
    summary: "A fuse carries more than its rating in some state (error), or more than 80 % of it (warning).",
    why: "\
A fuse that works near its rating ages and blows on a hot day with nothing wrong; over its rating it blows for certain, \
and someone fits a bigger one that no longer protects the wire. The worst state of all controls counts, with the supply at the \
top of its range and every variable resistance turned up. (80 %: common practice, no source.)",
    settings: ["fuse-load"],
    check: check,
}

/// The share of its rating from which a fuse opens within the half-hour (decision 28).
const BLOWS: f64 = 1.35;

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let circuit = context.circuit;
    for fuse in &circuit.fuses {
        let Some(rating) = circuit.elements.get(fuse.element.index()).and_then(|e| e.rating) else {
            continue;
        };
        let least = rating.nominal * context.settings.fuse_load;
        let Some(worst) = context.facts.worst_set_above(fuse.element, least)? else { continue };
        // A short is a finding of its own.
        if worst.unlimited.is_some() {
            continue;
        }
        let (amps, rating) = (worst.amps.abs(), rating.nominal);
        let share = amps / rating;
        let limit = context.settings.fuse_load;
        if share.is_nan() || share <= limit * (1.0 + 1e-9) {
            continue;
        }
        let over = share > 1.0 + 1e-9;
        let index = fuse.element.index();
        let enough =
            |s: &Solution| s.amps.get(index).and_then(|a| a.known()).is_some_and(|a| a.abs() >= amps * 0.999);
        let (away, solution) = context.facts.fewest_set(&worst.solution.state, enough);
        let message = format!(
            "{}, `{}` carries {}, {} of its {}{}: {}",
            words::with_set(circuit, &away),
            fuse.name,
            words::quantity(amps, "A"),
            words::percent(share),
            words::quantity(rating, "A"),
            drawn(context, fuse, &solution),
            if share >= BLOWS {
                "it blows with nothing wrong"
            } else if over {
                "it blows sooner or later with nothing wrong"
            } else {
                "it ages, and blows on a hot day with nothing wrong"
            },
        );
        out.push(
            RULE.at(fuse.loc, message).level(if over { Level::Error } else { Level::Warning }).help(
                "split the load over two fuses, or fit a bigger one if every wire behind it carries that",
            ),
        );
    }
    Ok(())
}

/// The loads behind a fuse that draw most: " (`heat` 15 A, `fan` 3 A)".
fn drawn(context: &Context<'_>, fuse: &Fuse, solution: &Solution) -> String {
    let circuit = context.circuit;
    let behind = context.facts.behind(fuse.element);
    let mut loads: Vec<(f64, ElementId)> = circuit
        .elements
        .iter()
        .enumerate()
        .filter(|(_, e)| e.kind.is_load() && (behind.has(e.from) || behind.has(e.to)))
        .filter_map(|(i, _)| Some((solution.amps.get(i)?.known()?.abs(), i.into())))
        .filter(|(amps, _)| *amps > 0.01)
        .collect();
    loads.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    // With a single one there is nothing to tell apart.
    if loads.len() < 2 {
        return String::new();
    }
    let more = if loads.len() > 3 { " and others" } else { "" };
    let told = loads.iter().take(3);
    let told: Vec<String> = told
        .map(|&(amps, e)| format!("`{}` {}", words::name(circuit, e), words::quantity(amps, "A")))
        .collect();
    format!(" ({}{more})", told.join(", "))
}
