//! A position of a gang that joins feed to ground.

use crate::{Context, Finding, facts::shorts::Short, words};
use keyon_circuit::{
    ids::*,
    model::{ControlKind, Element, ElementKind, Gang, Module, When},
};
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "gang-short",
    level: Error,
    group: "driver",
    summary: "A position of a gang joins feed to ground through its own stages.",
    why: "\
Two stages of one bridge leg that are on at the same time short the supply through the module: the fuse blows or the output stage \
dies, each time that position is commanded.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let circuit = context.circuit;
    for short in context.facts.shorts()? {
        let Some((module, gang)) = gang_of(context, short) else { continue };
        let position = short.away.iter().find(|(c, _)| *c == gang.control).map_or(0, |(_, p)| *p);
        let row = gang.rows.get(position).copied();
        let Some(place) = context.facts.own_first(row.into_iter().chain([gang.loc, module.loc])) else {
            continue;
        };
        let control = circuit.controls.get(gang.control.index());
        let names = control.map(|c| (c.name.as_str(), c.positions.get(position).map_or("", |p| p.as_str())));
        let (name, position) = names.unwrap_or_default();
        out.push(
            RULE.at(
                place,
                format!(
                    "position `{position}` of the gang `{name}` joins feed to ground through its own stages: each time it is commanded \
                     the fuse blows or a stage dies. The path: {}",
                    words::path(circuit, short.start, &short.path)
                ),
            )
            .help("open one of the two stages in this position"),
        );
    }
    Ok(())
}

/// The gang that closes two stages of a short by itself.
pub(super) fn gang_of<'a>(context: &Context<'a>, short: &Short) -> Option<(&'a Module, &'a Gang)> {
    let circuit = context.circuit;
    let all: Vec<&Element> = short.path.iter().filter_map(|e| circuit.elements.get(e.index())).collect();
    let stage = |e: &&Element| e.kind == ElementKind::Stage;
    let first = all.iter().position(stage)?;
    let last = all.iter().rposition(stage)?;
    let elements = || all[first..=last].iter().copied();
    // A switch outside that bridges the load is the mistake then, not the gang; one in the module's feed is neither.
    if elements().any(|e| e.kind == ElementKind::Contact && matches!(e.when, When::In { .. })) {
        return None;
    }
    let controls: Vec<ControlId> = elements()
        .filter(stage)
        .filter_map(|e| match e.when {
            When::In { control, .. } => Some(control),
            _ => None,
        })
        .collect();
    let (&first, rest) = controls.split_first()?;
    if rest.is_empty() || !rest.iter().all(|&c| c == first) {
        return None;
    }
    match circuit.controls.get(first.index())?.kind {
        ControlKind::Gang(m, g) => {
            let module = circuit.modules.get(m.index())?;
            Some((module, module.gangs.get(g)?))
        }
        _ => None,
    }
}
