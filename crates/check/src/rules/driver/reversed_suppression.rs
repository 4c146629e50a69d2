//! A diode across a coil, the wrong way round.

use crate::{Context, Finding, fix::edit, words};
use keyon_circuit::{
    Fix,
    ids::ElementId,
    model::{Element, ElementKind, Loc, Owner},
};
use keyon_solve::Cancelled;
use keyon_syntax::tree::{ItemKind, Name};

crate::rule::rule! {
    name: "reversed-suppression",
    level: Error,
    group: "driver",
    summary: "A suppression diode conducts when its coil is fed.",
    why: "\
A diode across a coil has its cathode on the fed side, so that it conducts only when the coil goes off. Turned round it is a short \
circuit as soon as the coil is fed: the fuse blows or the driver dies, and the coil itself measures good.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    let mut told: Vec<ElementId> = Vec::new();
    for (i, coil) in circuit.elements.iter().enumerate().filter(|(_, e)| e.kind == ElementKind::Coil) {
        for diode in facts.across(i.into()) {
            let Some(e) = circuit.elements.get(diode.index()) else { continue };
            if e.kind != ElementKind::Diode || told.contains(&diode) {
                continue;
            }
            let in_short = facts.shorts()?.iter().any(|short| short.path.contains(&diode));
            if !in_short && !conducts(context, diode, coil.owner)? {
                continue;
            }
            told.push(diode);
            let Some(place) = facts.place(diode) else { continue };
            out.push(
                RULE.at(
                    place,
                    format!(
                        "this diode lies across the coil of `{}` the wrong way round: it conducts when the coil is fed, and shorts it",
                        words::name(circuit, i.into())
                    ),
                )
                .help("turn it round: it conducts from the grounded side to the fed side")
                .fixes(turn(context, e)),
            );
        }
    }
    Ok(())
}

/// Writes the path of a diode the other way round.
fn turn(context: &Context<'_>, e: &Element) -> Option<Fix> {
    let item = edit::item(context.elaboration, e.loc)?;
    let path = match &item.kind {
        ItemKind::Element(element) => element.path.as_ref()?,
        kind => kind.body()?.edges.iter().find(|edge| edge.span == e.loc.span)?.path.as_ref()?,
    };
    let put = |at: &Name, name: &Name| (Loc { span: at.span, ..e.loc }, name.text.to_string());
    let edits = vec![put(&path.from, &path.to), put(&path.to, &path.from)];
    Some(edit::review(format!("turn it round: `{} -> {}`", path.to.text, path.from.text), edits))
}

/// Whether it carries current in some state of its coil.
fn conducts(context: &Context<'_>, diode: ElementId, owner: Owner) -> Result<bool, Cancelled> {
    let Owner::Device(device) = owner else { return Ok(false) };
    let cases = context.facts.device_cases(device)?;
    Ok(cases.cases.iter().any(|case| {
        let amps = case.solution.amps.get(diode.index()).and_then(|a| a.known());
        amps.is_some_and(|amps| amps > 1e-6)
    }))
}
