//! A contact over its rating.

use crate::{Context, Finding, words};
use keyon_circuit::{
    ids::*,
    model::{ElementKind, Loc},
};
use keyon_solve::{Cancelled, Solution};
use std::collections::BTreeMap;

crate::rule::rule! {
    name: "contact-overload",
    level: Warning,
    group: "driver",
    summary: "A switch's or relay's contact carries more than it is `rated` for.",
    why: "\
A contact over its rating burns a little at each opening: it drops more and more volts, gets hot, and one day stays open, or welded \
shut so that the load cannot be switched off.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let circuit = context.circuit;
    // Two throws of one changeover are one contact: told is the worse of them.
    let mut told: BTreeMap<(Loc, PointId), (f64, Finding)> = BTreeMap::new();
    for (i, e) in circuit.elements.iter().enumerate().filter(|(_, e)| e.kind == ElementKind::Contact) {
        let Some(rated) = e.rating.map(|r| r.nominal) else { continue };
        let id = ElementId::from(i);
        let Some(worst) = context.facts.worst_set_above(id, rated)? else { continue };
        let amps = worst.amps.abs();
        if worst.unlimited.is_some() || amps <= rated * (1.0 + 1e-9) {
            continue;
        }
        let Some(place) = context.facts.place(id) else { continue };
        let enough =
            |s: &Solution| s.amps.get(i).and_then(|a| a.known()).is_some_and(|a| a.abs() >= amps * 0.999);
        let (away, _) = context.facts.fewest_set(&worst.solution.state, enough);
        let finding = RULE
            .at(
                place,
                format!(
                    "{}, a contact of `{}` carries {}, more than the {} it is rated for: it burns, and may weld shut",
                    words::with_set(circuit, &away),
                    words::name(circuit, id),
                    words::quantity(amps, "A"),
                    words::quantity(rated, "A")
                ),
            )
            .help("let a relay of a higher rating carry this load");
        match told.get(&(e.loc, e.from)) {
            Some((more, _)) if *more >= amps => {}
            _ => drop(told.insert((e.loc, e.from), (amps, finding))),
        }
    }
    out.extend(told.into_values().map(|(_, finding)| finding));
    Ok(())
}
