//! Several loads that lack their return for one reason: their ways to ground meet, and go no further.

use super::no_return_path::RULE;
use crate::{
    Context, Finding,
    facts::{
        graph::{Flood, is_wiring},
        lost_commons::LostCommon,
        paths::{LoadPaths, Missing},
    },
    words,
};
use keyon_circuit::{
    ids::*,
    model::{ElementKind, Loc, PointKind},
};

/// A device that lacks its return, and what is told of it where it is the only one.
pub(super) struct Lost {
    /// The line of the device.
    pub(super) loc: Loc,
    /// As it is named in a message.
    pub(super) it: String,
    /// Where its return is to be; `None` where that is not clear, or something else than a broken way is the reason.
    pub(super) end: Option<PointId>,
    #[allow(missing_docs)]
    pub(super) finding: Finding,
}

/// The end of a load at which its return is missing: the one that hangs on nothing, or only on a supply through other loads.
pub(super) fn return_end(context: &Context<'_>, load: &LoadPaths) -> Option<PointId> {
    let e = context.circuit.elements.get(load.element.index())?;
    match (load.missing(), load.from.fed, load.to.fed) {
        (Missing::Return(Some(from)), ..) => Some(if from { e.from } else { e.to }),
        (Missing::Return(None), true, false) => Some(e.to),
        (Missing::Return(None), false, true) => Some(e.from),
        _ => None,
    }
}

/// The findings: one where the common way of several breaks off, else each at its own device.
pub(super) fn tell(context: &Context<'_>, mut lost: Vec<Lost>, out: &mut Vec<Finding>) {
    for common in context.facts.lost_commons() {
        let Some((place, ends)) = broken(context, &common.wiring) else { continue };
        out.push(say(place, &ends, &members(context, common)));
        lost.retain(|one| one.end.is_none_or(|end| !common.reach.has(end)));
    }
    while !lost.is_empty() {
        let first = lost.remove(0);
        let net = first.end.map(|end| context.facts.graph().flood(&[end], |e, _| is_wiring(e.kind)));
        let Some(net) = net else {
            out.push(first.finding);
            continue;
        };
        let (same, rest): (Vec<Lost>, Vec<Lost>) =
            lost.into_iter().partition(|one| one.end.is_some_and(|end| net.has(end)));
        lost = rest;
        let group: Vec<Lost> = std::iter::once(first).chain(same).collect();
        match broken(context, &net).filter(|_| group.len() > 1) {
            Some((place, ends)) => {
                let group: Vec<_> = group.into_iter().map(|one| (one.loc, one.it)).collect();
                out.push(say(place, &ends, &group));
            }
            None => out.extend(group.into_iter().map(|one| one.finding)),
        }
    }
}

/// Where a net that is to lead to ground ends, and how that is said: at the wire that leads nowhere, else where its wires meet.
fn broken(context: &Context<'_>, net: &Flood) -> Option<(Loc, String)> {
    let (circuit, graph) = (context.circuit, context.facts.graph());
    let kind = |p: PointId| circuit.points.get(p.index()).map(|point| point.kind);
    let ends = net.order.iter().copied().filter(|&p| {
        let inline = matches!(kind(p), Some(PointKind::InlineSide(..) | PointKind::Splice(_)));
        inline && graph.steps(p).len() == 1
    });
    for end in ends {
        let path = net.path(end);
        let wire =
            |e: &&ElementId| circuit.elements.get(e.index()).is_some_and(|e| e.kind == ElementKind::Wire);
        let Some(&wire) = path.iter().rev().find(wire) else { continue };
        let Some(name) = place_name(context, end) else { continue };
        return Some((
            context.facts.place(wire)?,
            format!("{} leads it to `{name}`, and there it ends", words::thing(circuit, wire)),
        ));
    }
    let splice = net.order.iter().find_map(|&p| match kind(p) {
        Some(PointKind::Splice(index)) => circuit.splices.get(index),
        _ => None,
    })?;
    let own = context.facts.own_first([splice.loc])?;
    Some((own, format!("it meets at the splice `{}`, and nothing joins that to ground", splice.name)))
}

/// `X1.3`, `S9`: a point where a wire ends, as it is written.
fn place_name(context: &Context<'_>, point: PointId) -> Option<String> {
    let circuit = context.circuit;
    Some(match circuit.points.get(point.index())?.kind {
        PointKind::InlineSide(inline, cavity, _) => {
            let inline = circuit.inlines.get(inline.index())?;
            format!("{}.{}", inline.name, inline.cavities.get(cavity)?.name)
        }
        PointKind::Splice(splice) => circuit.splices.get(splice)?.name.to_string(),
        _ => return None,
    })
}

/// Loads that a message names one by one.
const MOST: usize = 8;

/// What lacks its return by a common way that breaks off: its line, and its name for a message.
fn members(context: &Context<'_>, common: &LostCommon) -> Vec<(Loc, String)> {
    let circuit = context.circuit;
    let mut devices: Vec<DeviceId> = common.loads.iter().map(|(device, _)| *device).collect();
    devices.dedup();
    let devices =
        devices.into_iter().filter_map(|d| circuit.devices.get(d.index())).map(|d| (d.loc, &d.name));
    let modules =
        common.modules.iter().filter_map(|m| circuit.modules.get(m.index())).map(|m| (m.loc, &m.name));
    devices.chain(modules).map(|(loc, name)| (loc, format!("`{name}`"))).collect()
}

fn say(place: Loc, ends: &str, group: &[(Loc, String)]) -> Finding {
    let shown = if group.len() > MOST + 1 { MOST } else { group.len() };
    let more = (shown < group.len()).then(|| format!("{} more", group.len() - shown));
    let names = group.iter().take(shown).map(|(_, it)| it.clone());
    let finding = RULE
        .at(
            place,
            format!(
                "the common way to ground of {} breaks off: {ends}. In no state can current flow back, and a meter reads supply at \
                 both ends of each",
                words::list(names.chain(more))
            ),
        )
        .help("lead it on to a ground point: one wire is missing, and not one for each");
    group.iter().take(MOST).fold(finding, |finding, one| finding.see(one.0, "lacks its return by this"))
}
