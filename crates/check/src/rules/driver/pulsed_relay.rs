//! A relay on an output that pulses.

use crate::{Context, Finding, words};
use keyon_circuit::{
    ids::ElementId,
    model::{ElementKind, Owner},
};
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "pulsed-relay",
    level: Warning,
    group: "driver",
    summary: "A relay's coil hangs on a pulsed driver.",
    why: "\
A relay cannot follow a pulsed output: its contacts chatter at the pulse, burn, and fail within days; at a low duty it does not pull in \
at all. Pulsed outputs are for valves, motors and lamps.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    for (i, e) in circuit.elements.iter().enumerate().filter(|(_, e)| e.kind == ElementKind::Coil) {
        let id = ElementId::from(i);
        if !facts.is_relay(id) {
            continue;
        }
        let pulsed = facts.stages_of_coil(e).into_iter().find(|stage| facts.pulses(stage));
        let Some(stage) = pulsed else { continue };
        let place = match e.owner {
            Owner::Device(device) => circuit.devices.get(device.index()).map(|d| d.loc),
            _ => facts.place(id),
        };
        let Some(place) = place else { continue };
        let mut finding = RULE
            .at(
                place,
                format!(
                    "the coil of the relay `{}` hangs on `{}`, which pulses: its contacts chatter and burn",
                    words::name(circuit, id),
                    facts.stage_name(&stage)
                ),
            )
            .help("use an output that does not pulse, or take `pwm` off if this one does not");
        if let Some(see) = facts.stage_place(&stage).filter(|see| *see != place) {
            finding = finding.see(see, "the pulsed driver");
        }
        out.push(finding);
    }
    Ok(())
}
