//! A motor that draws more than its fuse or its stage gives when it is held.

use super::common::devices;
use crate::{Context, Finding, facts::paths::state_of, words};
use keyon_circuit::{
    ids::*,
    model::{ElementKind, Law, Loc, Owner},
};
use keyon_solve::{Cancelled, Solution, solve};

crate::rule::rule! {
    name: "stall-over-fuse",
    level: Hint,
    group: "power",
    summary: "A motor's stalled current is over its fuse's rating or its driver's limit.",
    why: "\
A motor that is held, or just starting, draws its stalled current, several times what it runs on. A fuse bears that for a \
moment and blows if the motor stays held, which may be just what is wanted; a driver switches off or is overloaded.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let circuit = context.circuit;
    for found in devices(context) {
        let (id, device, paths) = found?;
        let runs = |element: ElementId| {
            let e = circuit.elements.get(element.index());
            e.is_some_and(|e| matches!(e.law, Law::Winding { runs: Some(_), .. }))
        };
        for load in paths.loads.iter().filter(|load| runs(load.element) && load.best.operates()) {
            let cases = context.facts.device_cases(id)?;
            let on = |s: &Solution| state_of(s, id, load.element).operates();
            let Some(case) = cases.cases.iter().find(|case| on(&case.solution)) else { continue };
            let mut state = case.solution.state.clone();
            state.options.inrush = true;
            state.supplies = context.facts.top().supplies;
            let stalled = solve(circuit, &state);
            let amps = amps(&stalled, load.element);
            let over: Vec<(ElementId, f64, Loc)> =
                series(&stalled, circuit, load.element).filter_map(|e| over(context, e, amps)).collect();
            let Some(&(element, limit, place)) = over.first() else { continue };
            let it = words::name(circuit, load.element);
            out.push(
                RULE.at(
                    device.loc,
                    format!(
                        "`{it}` draws {} when it is held, more than the {} of {}: {}",
                        words::quantity(amps, "A"),
                        words::quantity(limit, "A"),
                        words::thing(circuit, element),
                        match circuit.elements.get(element.index()).map(|e| e.kind) {
                            Some(ElementKind::Stage) => "that one switches off, or dies",
                            _ => "that one goes if the motor stays held",
                        }
                    ),
                )
                .see(place, format!("{} at most", words::quantity(limit, "A")))
                .help(
                    "make sure that it cannot stay held, or that the fuse bears it for as long as it starts",
                ),
            );
        }
    }
    Ok(())
}

fn amps(solution: &Solution, element: ElementId) -> f64 {
    solution.amps.get(element.index()).and_then(|a| a.known()).unwrap_or_default().abs()
}

/// What lies on the way of a load's current: from its supply, and on to ground.
fn series<'a>(
    solution: &'a Solution,
    circuit: &'a keyon_circuit::model::Circuit,
    load: ElementId,
) -> impl Iterator<Item = ElementId> + 'a {
    let forward = solution.amps.get(load.index()).and_then(|a| a.known()).is_none_or(|amps| amps >= 0.0);
    let ends =
        circuit.elements.get(load.index()).map(|e| if forward { (e.from, e.to) } else { (e.to, e.from) });
    let paths = ends.map(|(enters, leaves)| {
        [solution.path_to_source(circuit, enters), solution.path_to_ground(circuit, leaves)]
    });
    paths.into_iter().flatten().flatten().flat_map(|path| path.steps.into_iter().map(|(e, _)| e))
}

fn over(context: &Context<'_>, element: ElementId, amps: f64) -> Option<(ElementId, f64, Loc)> {
    let e = context.circuit.elements.get(element.index())?;
    let limit = match (e.kind, e.owner) {
        (ElementKind::Fuse(_), _) => e.rating?.nominal,
        (ElementKind::Stage, Owner::Module(m, c, k)) => context.circuit.cavity(m, c, k)?.limit?.nominal,
        _ => return None,
    };
    (amps > limit * (1.0 + 1e-9)).then_some((element, limit, context.facts.place(element)?))
}
