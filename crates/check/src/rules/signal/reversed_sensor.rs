//! A sensor whose reference and return are swapped.

use crate::{
    Context, Finding,
    fix::{edit, wiring},
    words,
};
use keyon_circuit::{
    Fix,
    ids::*,
    model::{Device, ElementKind},
};
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
        let track =
            facts.elements_of(DeviceId::from(i)).any(|(_, e)| matches!(e.kind, ElementKind::Track(_)));
        let pin = |point: PointId| {
            let pin = device.pins.iter().find(|pin| pin.inside == point);
            pin.map_or(String::new(), |pin| format!("{}.{}", device.name, pin.name))
        };
        out.push(
            RULE.at(
                device.loc,
                format!(
                    "{} is the reference end of `{}` and is wired to a return, {} is its return end and is wired to a reference: it \
                     {}",
                    words::names([pin(reference)]),
                    device.name,
                    words::names([pin(ret)]),
                    if track { "reads backwards, and nobody notices" } else { "gives no signal" }
                ),
            )
            .help("swap the two wires, or turn the path round in the part if the drawing is right")
            .fixes(swap(context, device, reference, ret)),
        );
    }
    Ok(())
}

/// Swaps the wires of two pins.
fn swap(context: &Context<'_>, device: &Device, a: PointId, b: PointId) -> Option<Fix> {
    let pin = |point: PointId| device.pins.iter().find(|pin| pin.inside == point);
    let (a, b) = (pin(a)?, pin(b)?);
    let mut edits = Vec::new();
    for (pin, other) in [(a, b), (b, a)] {
        for &landing in &pin.landings {
            let to = format!("{}.{}", device.name, other.name);
            edits.push((wiring::end_at(context, landing, pin.outside)?, to));
        }
    }
    let title = format!("swap the wires of `{0}.{1}` and `{0}.{2}`", device.name, a.name, b.name);
    Some(edit::review(title, edits))
}
