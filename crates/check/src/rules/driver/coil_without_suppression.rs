//! A coil that a stage switches and nothing quenches.

use crate::{
    Context, Finding,
    facts::stages::Stage,
    fix::{edit, wiring},
    words,
};
use keyon_circuit::{
    Fix,
    ids::*,
    model::{Element, ElementKind, Owner, Role},
};
use keyon_solve::Cancelled;
use keyon_syntax::tree::Way;

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
    for (i, e) in circuit.elements.iter().enumerate().filter(|(_, e)| e.kind == ElementKind::Coil) {
        let id = ElementId::from(i);
        // What was not read to its end may be across it.
        let unread = |end| facts.held(end) || facts.small_part_may_lead_to(end);
        if unread(e.from) || unread(e.to) {
            continue;
        }
        let stages = facts.stages_of_coil(e);
        let described = |m: keyon_circuit::ids::ModuleId| {
            circuit.modules.get(m.index()).is_some_and(|m| !m.feeds.is_empty() && !m.grounds.is_empty())
        };
        let bare = stages.iter().all(|s| !s.cavity.clamp && described(s.module));
        if stages.is_empty() || !bare || facts.is_quenched(id) {
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
                    "`{}` switches the coil of `{}` with nothing to quench it, no clamp, no diode, no resistor: each time it goes off, \
                     some hundred volts break through the driver",
                    facts.stage_name(stage),
                    words::name(circuit, id)
                ),
            )
            .help("put a diode across the coil, cathode on the fed side, or say `clamp` if the driver has one")
            .fixes(add_diode(context, e, stage))
            .fixes(clamp(context, stage));
        if let Some(see) = facts.stage_place(stage).filter(|see| *see != place) {
            finding = finding.see(see, "the driver");
        }
        out.push(finding);
    }
    Ok(())
}

/// A diode across the coil: in the body of its device, where that stands here, else beside it.
fn add_diode(context: &Context<'_>, coil: &Element, stage: &Stage<'_>) -> Option<Fix> {
    let Owner::Device(id) = coil.owner else { return None };
    let device = context.circuit.devices.get(id.index())?;
    let switched = |point: PointId| context.facts.wired(point).has(stage.cavity.inside);
    let fed_by_stage = match stage.cavity.role {
        Role::Drives(Way::Low) => false,
        Role::Drives(Way::High) => true,
        _ => return None,
    };
    let (at_stage, other) = match (switched(coil.from), switched(coil.to)) {
        (true, false) => (coil.from, coil.to),
        (false, true) => (coil.to, coil.from),
        _ => return None,
    };
    // From the grounded side to the fed one, so that it blocks while the coil is on.
    let (anode, cathode) = if fed_by_stage { (other, at_stage) } else { (at_stage, other) };
    let pin = |point: PointId| device.pins.iter().find(|pin| pin.inside == point).map(|pin| &pin.name);
    let (anode, cathode) = (pin(anode)?, pin(cathode)?);
    let inline = !device.bare && device.part.is_none();
    let edit = if inline {
        edit::line_below(context.elaboration, coil.loc, &format!("diode {anode} -> {cathode}  drop 0.7 V"))?
    } else {
        let item = edit::whole(context.elaboration, device.loc)?;
        let (name, device) = (wiring::numbered(context, "D"), &device.name);
        let line = format!("diode {name}  {device}.{anode} -> {device}.{cathode}  drop 0.7 V");
        edit::line_below(context.elaboration, item, &line)?
    };
    Some(edit::review(format!("add a diode across the coil of `{}`", device.name), vec![edit]))
}

/// The other way: the driver has a clamp inside, and the drawing does not say so.
fn clamp(context: &Context<'_>, stage: &Stage<'_>) -> Option<Fix> {
    let row = (stage.cavity.loc.file == FileId(0)).then_some(stage.cavity.loc)?;
    let title = format!("say that `{}` has a clamp inside", context.facts.stage_name(stage));
    Some(edit::review(title, vec![edit::behind(row, "  clamp")]))
}
