//! A wire that carries more than its gauge allows.

use crate::{
    Context, Finding,
    facts::protection::Gauged,
    fix::{edit, wiring},
    words,
};
use keyon_circuit::{Fix, ids::*};
use keyon_solve::{Cancelled, Solution};

crate::rule::rule! {
    name: "thin-wire",
    level: Warning,
    group: "wiring",
    summary: "A wire carries more than its gauge allows in some state.",
    why: "\
A wire that carries more than it is made for gets hot all the time, with nothing wrong; in a bundle its neighbours heat it further, and its insulation \
hardens and cracks. The table is for one wire in free air at 30 °C (see the settings). Starter cables, which work for \
seconds, are left out.",
    settings: ["ampacity", "ambient", "insulation", "starter-current"],
    check: check,
}

/// Beyond the end of the table cables are chosen by their drop and their duty.
const THICK: f64 = 10.0;

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    let starter = (0..circuit.devices.len()).any(|d| facts.is_starter(d.into()));
    let wires: Vec<Gauged> = circuit
        .elements
        .iter()
        .enumerate()
        .filter_map(|(i, _)| facts.gauged(i.into()))
        .filter(|wire| !(starter && wire.area >= THICK))
        .collect();
    for wire in wires {
        let Some(worst) = facts.worst_set_above(wire.element, wire.carries)? else { continue };
        let amps = worst.amps.abs();
        if worst.unlimited.is_some() || amps <= wire.carries * (1.0 + 1e-9) {
            continue;
        }
        let Some(place) = facts.place(wire.element) else { continue };
        let index = wire.element.index();
        let enough =
            |s: &Solution| s.amps.get(index).and_then(|a| a.known()).is_some_and(|a| a.abs() >= amps * 0.999);
        let (away, _) = facts.fewest_set(&worst.solution.state, enough);
        let row = context.settings.ampacity.iter().find(|(_, carries)| *carries >= amps);
        out.push(
            RULE.at(
                place,
                format!(
                    "{}, {} carries {}, more than the {} that {} bear: it gets hot with nothing wrong",
                    words::with_set(circuit, &away),
                    words::thing(circuit, wire.element),
                    words::quantity(amps, "A"),
                    words::quantity(wire.carries, "A"),
                    words::quantity(wire.area, "mm2"),
                ),
            )
            .help(match row {
                Some((area, _)) => format!("use {} or more", words::quantity(*area, "mm2")),
                None => "use a thicker wire, or two".to_owned(),
            })
            .fixes(row.and_then(|(area, _)| thicker(context, wire.element, *area))),
        );
    }
    Ok(())
}

/// A thicker wire.
pub(crate) fn thicker(context: &Context<'_>, wire: ElementId, area: f64) -> Option<Fix> {
    let edit = wiring::gauge(context, wire, area)?;
    Some(edit::review(format!("use {}", words::quantity(area, "mm2")), vec![edit]))
}
