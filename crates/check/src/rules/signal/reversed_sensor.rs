//! A sensor whose reference and return are swapped.

use crate::{Context, Finding, words};
use keyon_circuit::ids::*;
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "reversed-sensor",
    level: Warning,
    group: "signal",
    summary: "Reference and return of a sensor are on swapped ends, against its declared direction.",
    why: "\
A sweep sensor with its ends swapped reads backwards: full is empty, open is shut. The voltage looks plausible all the way, so nothing \
reports it but the person who is surprised by what the machine does. A transducer with its ends swapped gives nothing.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    for (i, device) in circuit.devices.iter().enumerate() {
        let sensors = facts.sensors_of(DeviceId::from(i));
        let reversed = sensors.iter().find_map(|sensor| facts.reversed(sensor));
        let Some((reference, ret)) = reversed else { continue };
        let pin = |point: PointId| {
            let pin = device.pins.iter().find(|pin| pin.inside == point);
            pin.map_or(String::new(), |pin| format!("{}.{}", device.name, pin.name))
        };
        out.push(
            RULE.at(
                device.loc,
                format!(
                    "{} is the reference end of `{}` and is wired to a return, {} is its return end and is wired to a reference: it \
                     reads backwards",
                    words::names([pin(reference)]),
                    device.name,
                    words::names([pin(ret)])
                ),
            )
            .help("swap the two wires, or turn the path round in the part if the drawing is right"),
        );
    }
    Ok(())
}
