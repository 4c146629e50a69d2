//! A sensor with a reference and no return.

use crate::{
    Context, Finding,
    facts::paths::{LoadPaths, Missing, senses},
};
use keyon_circuit::{
    ids::*,
    model::{ElementKind, Role},
};
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "reference-without-return",
    level: Error,
    group: "signal",
    summary: "A sensor has a reference or a pull-up, but no return.",
    why: "\
Without a return no current flows through the sensor, and its signal rises to the full reference whatever it measures: the module \
believes the coldest liquid, or the fullest tank, and does so with confidence.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    if circuit.incomplete {
        return Ok(());
    }
    for (i, device) in circuit.devices.iter().enumerate() {
        let id = DeviceId::from(i);
        if !facts.is_sensor(id) || !on_a_module(context, device) {
            continue;
        }
        let Some(paths) = facts.device_paths(id)? else { continue };
        let sensing =
            |load: &&LoadPaths| circuit.elements.get(load.element.index()).is_some_and(|e| senses(e.kind));
        // A track of which one end is spare is a mere resistor.
        let spare = |load: &&LoadPaths| {
            let Some(e) = circuit.elements.get(load.element.index()) else { return false };
            let open = |p: PointId| device.pins.iter().any(|pin| pin.inside == p && pin.unused.is_some());
            matches!(e.kind, ElementKind::Track(_)) && (open(e.from) || open(e.to))
        };
        let mut sensing = paths.loads.iter().filter(sensing).filter(|load| !spare(load));
        if sensing.any(|load| matches!(load.missing(), Missing::Return(_))) {
            out.push(
                RULE.at(
                    device.loc,
                    format!("`{}` has a reference but no return: its signal stays at the reference whatever it measures", device.name),
                )
                .help("wire its return end to the module's return"),
            );
        }
    }
    Ok(())
}

/// Whether it hangs on a module's reference or input.
fn on_a_module(context: &Context<'_>, device: &keyon_circuit::model::Device) -> bool {
    device.pins.iter().any(|pin| {
        let cavities = context.facts.cavities_on(&context.facts.wired(pin.outside));
        cavities.iter().any(|(.., c)| matches!(c.role, Role::Reference { .. } | Role::Senses { .. }))
    })
}
