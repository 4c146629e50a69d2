//! A reference that cannot carry what hangs on it.

use crate::{Context, Finding, words};
use keyon_circuit::model::{ElementKind, Law, Role};
use keyon_solve::{Cancelled, Solution};

crate::rule::rule! {
    name: "reference-overload",
    level: Error,
    group: "signal",
    summary: "A reference carries its limit in some state, and falls.",
    why: "\
A reference gives some tens of milliamps. Beyond that it folds back: its voltage falls, and every sensor on it reads wrong at the same \
time, which looks like as many broken sensors.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    for (module, _, cavity) in facts.cavities() {
        let Role::Reference { volts } = cavity.role else { continue };
        for &element in &cavity.elements {
            let Some(e) = circuit.elements.get(element.index()).filter(|e| e.kind == ElementKind::Reference)
            else {
                continue;
            };
            let Law::Source { inner, limit: Some(limit), .. } = &e.law else { continue };
            let worst = facts.worst(element)?;
            let amps = worst.amps.abs();
            if worst.unlimited.is_some() || amps < limit.nominal * (1.0 - 1e-6) {
                continue;
            }
            let at =
                |p: keyon_circuit::ids::PointId| worst.solution.unloaded.get(p.index()).copied().flatten();
            let given = at(e.to).zip(at(e.from)).map(|(to, from)| to - from);
            let Some(given) = given.filter(|v| *v < volts.nominal - limit.nominal * inner.nominal - 1e-3)
            else {
                continue;
            };
            // Nothing is left of it: a short, which is told as such.
            let short = facts.shorts()?.iter().any(|s| s.source == element || s.other == Some(element));
            let Some(place) = facts.pin_place(module, cavity).filter(|_| !short) else { continue };
            let full = |s: &Solution| {
                let amps = s.amps.get(element.index()).and_then(|a| a.known());
                amps.is_some_and(|amps| amps.abs() >= limit.nominal * (1.0 - 1e-6))
            };
            let (away, _) = facts.fewest(&worst.solution.state, full);
            out.push(
                RULE.at(
                    place,
                    format!(
                        "{}, the reference `{}` is asked for more than its {}: it falls to {}, and everything on it reads wrong",
                        words::with(circuit, &away),
                        facts.pin_name(module, cavity),
                        words::quantity(limit.nominal, "A"),
                        words::quantity(given, "V")
                    ),
                )
                .help("take off what is not a sensor, or spread the sensors over two references"),
            );
        }
    }
    Ok(())
}
