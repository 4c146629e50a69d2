//! A sensor with a reference and no return.

use crate::{Context, Finding};
use keyon_circuit::{ids::*, model::Role};
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
    for (i, device) in circuit.devices.iter().enumerate() {
        let id = DeviceId::from(i);
        let sensors = facts.sensors_of(id);
        if sensors.is_empty() || !on_a_module(context, device) {
            continue;
        }
        for sensor in sensors {
            if facts.lacks_return(&sensor)? {
                out.push(
                    RULE.at(
                        device.loc,
                        format!(
                            "`{}` has a reference but no return: its signal stays at the reference whatever it measures",
                            device.name
                        ),
                    )
                    .help("wire its return end to the module's return"),
                );
                break;
            }
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
