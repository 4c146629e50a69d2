//! A coil that a stage switches and nothing quenches.

use crate::{Context, Finding, words};
use keyon_circuit::{
    ids::ElementId,
    model::{ElementKind, Owner},
};
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "coil-without-suppression",
    level: Warning,
    group: "driver",
    summary: "A driver without `clamp` switches a coil that has no diode or resistor across it.",
    why: "\
A coil that is switched off drives its current on, and the voltage across it rises to hundreds of volts: it breaks through the driver, \
or disturbs every input near it. A diode or a resistor across the coil takes it up, or a clamp inside the module. Modules \
drawn without feed and ground are left out: what they contain is not known.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    if circuit.incomplete {
        return Ok(());
    }
    for (i, e) in circuit.elements.iter().enumerate().filter(|(_, e)| e.kind == ElementKind::Coil) {
        let id = ElementId::from(i);
        if facts.held(e.from) || facts.held(e.to) {
            continue;
        }
        let stages = facts.stages_of_coil(e);
        let described = |m: keyon_circuit::ids::ModuleId| {
            circuit.modules.get(m.index()).is_some_and(|m| !m.feeds.is_empty() && !m.grounds.is_empty())
        };
        let bare = stages.iter().all(|s| !s.cavity.clamp && described(s.module));
        if stages.is_empty() || !bare || !facts.across(id).is_empty() {
            continue;
        }
        let place = match e.owner {
            Owner::Device(device) => circuit.devices.get(device.index()).map(|d| d.loc),
            _ => facts.place(id),
        };
        let (Some(place), Some(stage)) = (place, stages.first()) else { continue };
        let mut finding = RULE
            .at(
                place,
                format!(
                    "`{}` switches the coil of `{}`, and neither has a clamp, nor lies a diode or a resistor across the coil: when it \
                     goes off the voltage breaks through the driver",
                    facts.stage_name(stage),
                    words::name(circuit, id)
                ),
            )
            .help("put a diode across the coil, cathode on the fed side, or say `clamp` if the driver has one");
        if let Some(see) = facts.stage_place(stage).filter(|see| *see != place) {
            finding = finding.see(see, "the driver");
        }
        out.push(finding);
    }
    Ok(())
}
