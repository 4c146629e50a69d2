//! A relay that lets go at low battery.

use crate::{Context, Finding, facts::paths::state_of, words};
use keyon_circuit::{
    ids::ElementId,
    model::{ElementKind, Law, Owner},
};
use keyon_solve::{Cancelled, solve};

crate::rule::rule! {
    name: "drops-out-in-crank",
    level: Warning,
    group: "driver",
    summary: "A relay cannot hold at the low end of the supply's range.",
    why: "\
While the starter turns, the battery falls to the low end of its range. A relay whose coil then carries less than it drops out at lets go: \
the pump stops, the module dies, and everything works again when someone comes to look.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    if circuit.supplies.iter().all(|s| s.range.is_none()) {
        return Ok(());
    }
    for (i, e) in circuit.elements.iter().enumerate().filter(|(_, e)| e.kind == ElementKind::Coil) {
        let (Law::Coil { drops_out: Some(holds), .. }, Owner::Device(device)) = (&e.law, e.owner) else {
            continue;
        };
        let id = ElementId::from(i);
        if !facts.is_relay(id) {
            continue;
        }
        let cases = facts.device_cases(device)?;
        let on = |s: &keyon_solve::Solution| state_of(s, device, id).operates();
        let Some(case) = cases.cases.iter().find(|case| on(&case.solution)) else { continue };
        let (away, solution) = facts.fewest(&case.solution.state, on);
        let mut state = solution.state.clone();
        for (volts, supply) in state.supplies.iter_mut().zip(&circuit.supplies) {
            if let Some((low, _)) = supply.range {
                *volts = low;
            }
        }
        let low = solve(circuit, &state);
        let Some(amps) = low.amps.get(i).and_then(|a| a.known()) else { continue };
        if amps.abs() >= holds.nominal {
            continue;
        }
        let Some(device) = circuit.devices.get(device.index()) else { continue };
        out.push(
            RULE.at(
                device.loc,
                format!(
                    "{}, the coil of `{}` carries {} at the low end of the supply's range, and drops out below {}: the relay lets go \
                     while the starter turns",
                    words::with(circuit, &away),
                    device.name,
                    words::quantity(amps.abs(), "A"),
                    words::quantity(holds.nominal, "A")
                ),
            )
            .help("use a relay that holds at less, or take what is in series with its coil out"),
        );
    }
    Ok(())
}
