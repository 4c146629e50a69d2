//! Volts that the wiring takes from a load.
//!
//! The finding stands at the wire, contact or ground point that takes most of them, once for all loads that it robs.

use super::common::devices;
use crate::{
    Context, Finding,
    facts::paths::{LoadPaths, state_of, works},
    words,
};
use keyon_circuit::{
    ids::*,
    model::{Element, ElementKind, Law},
};
use keyon_solve::{Cancelled, ElementState, Path, Solution, State};
use std::collections::BTreeMap;

crate::rule::rule! {
    name: "voltage-drop",
    level: Warning,
    group: "power",
    summary: "The wiring to or from a load takes more than 3 % of the supply's voltage while it operates.",
    why: "\
Volts lost in a long thin wire, a worn contact or a bad ground are missing at the load: a lamp is dim, a motor slow, a relay drops \
out when the battery is low. Each side is looked at by itself, with the load working. Wires, contacts, fuses and ground points \
count; diodes, driver stages and the battery's own resistance do not. (3 %: common practice, no source; starters are \
allowed 5 %.)",
    settings: ["voltage-drop", "starter-voltage-drop", "starter-current"],
    check: check,
}

/// A side of a load that loses too much.
struct Loss {
    device: DeviceId,
    load: ElementId,
    feed: bool,
    volts: f64,
    share: f64,
    limit: f64,
    worst: ElementId,
    worst_volts: f64,
    state: keyon_solve::State,
    path: String,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let circuit = context.circuit;
    let mut losses: BTreeMap<ElementId, Vec<Loss>> = BTreeMap::new();
    for found in devices(context) {
        let (id, _, paths) = found?;
        for load in &paths.loads {
            for loss in sides(context, id, load)? {
                losses.entry(loss.worst).or_default().push(loss);
            }
        }
    }
    for (element, mut losses) in losses {
        losses.sort_by(|a, b| b.share.total_cmp(&a.share).then(a.load.cmp(&b.load)));
        let (Some(first), Some(place)) = (losses.first(), context.facts.place(element)) else { continue };
        let state = first.state.clone();
        let (device, load) = (first.device, first.load);
        let at_work = first.state_of_load(&keyon_solve::solve(circuit, &state));
        let e = circuit.elements.get(load.index());
        let side = usize::from(!first.feed);
        // Others that share its wires stay on as far as it takes them to lose so much.
        let loses = |s: &Solution| {
            let ways = e.and_then(|e| ways(context, load, e, s));
            let drop = ways.and_then(|(volts, ways)| {
                let path = ways.into_iter().nth(side)??;
                Some(drop_over(context, s, &path)?.0 / volts)
            });
            drop.is_some_and(|share| share > first.share * (1.0 - 1e-6))
        };
        let (away, _) = context.facts.fewest(&state, |s| state_of(s, device, load) == at_work && loses(s));
        let mut names: Vec<_> = losses.iter().map(|l| words::name(circuit, l.load)).collect();
        names.dedup();
        let side = if first.feed { "feed" } else { "ground" };
        let mut finding = RULE.at(
            place,
            format!(
                "{}, the wiring on the {side} side of {} takes {}, {} of the supply ({} is usual at most), {} of it in {}. The \
                 path: {}",
                words::with(circuit, &away),
                words::names(names.iter().take(1)),
                words::quantity(first.volts, "V"),
                words::percent(first.share),
                words::percent(first.limit),
                words::quantity(first.worst_volts, "V"),
                words::thing(circuit, element),
                first.path
            ),
        );
        finding.help = Some(match circuit.elements.get(element.index()).map(|e| e.kind) {
            Some(ElementKind::Wire) => "use a thicker or a shorter wire".to_owned(),
            Some(ElementKind::Ground) => "clean the ground point, or ground the load elsewhere".to_owned(),
            _ => "look for a better contact, or let a relay carry the current".to_owned(),
        });
        names.sort();
        names.dedup();
        let others: Vec<_> = names.iter().filter(|n| **n != words::name(circuit, load)).collect();
        if !others.is_empty() {
            let lose = words::verb(others.len(), "lose");
            finding.message.push_str(&format!("; {} {lose} too much as well", words::names(others)));
        }
        if let Some(device) = circuit.devices.get(device.index()) {
            finding = finding
                .see(device.loc, format!("the load that gets {} less", words::quantity(first.volts, "V")));
        }
        out.push(finding);
    }
    Ok(())
}

impl Loss {
    fn state_of_load(&self, solution: &Solution) -> ElementState {
        state_of(solution, self.device, self.load)
    }
}

/// The worst state of each side of a load.
fn sides(context: &Context<'_>, device: DeviceId, load: &LoadPaths) -> Result<Vec<Loss>, Cancelled> {
    let circuit = context.circuit;
    let Some(e) = circuit.elements.get(load.element.index()).filter(|e| works(e.kind)) else {
        return Ok(Vec::new());
    };
    let limit = if context.facts.is_starter(device) {
        context.settings.starter_voltage_drop
    } else {
        context.settings.voltage_drop
    };
    let mut worst: [Option<Loss>; 2] = [None, None];
    let cases = context.facts.device_cases(device)?;
    let mut crowded: Vec<State> = Vec::new();
    for case in &cases.cases {
        for state in look(context, device, load, e, limit, &case.solution, &mut worst)? {
            let known = crowded.iter().any(|s| s.positions == state.positions && s.duty == state.duty);
            if !known && crowded.len() < CROWDS {
                crowded.push(state);
            }
        }
    }
    // With what else hangs on its wires switched on as well.
    for state in crowded {
        let solution = keyon_solve::solve(context.circuit, &state);
        look(context, device, load, e, limit, &solution, &mut worst)?;
    }
    Ok(worst.into_iter().flatten().collect())
}

/// States with other loads on that are tried for one load.
const CROWDS: usize = 8;

/// Looks at a load in one state, and keeps what is worse than was known. Gives the states in which pieces of its way
/// carry the most, with its own controls as they are here, where those could take it over the limit.
fn look(
    context: &Context<'_>,
    device: DeviceId,
    load: &LoadPaths,
    e: &Element,
    limit: f64,
    solution: &Solution,
    worst: &mut [Option<Loss>; 2],
) -> Result<Vec<State>, Cancelled> {
    let circuit = context.circuit;
    let mut crowded = Vec::new();
    let state = state_of(solution, device, load.element);
    // Where it only ever gets to weak, the wiring may be why.
    if !(state.operates() || state == ElementState::Weak && load.best == state) {
        return Ok(crowded);
    }
    let Some((nominal, paths)) = ways(context, load.element, e, solution) else { return Ok(crowded) };
    let enters =
        paths.iter().flatten().next().and_then(|path| path.points.first().copied()).unwrap_or(e.from);
    for (side, path) in paths.iter().enumerate() {
        let Some(path) = path else { continue };
        let Some((volts, worst_volts, element)) = drop_over(context, solution, path) else { continue };
        let share = volts / nominal;
        let known = worst.get(side).and_then(|w| w.as_ref()).is_some_and(|w| w.share >= share);
        if share <= limit {
            crowded.extend(crowd(context, device, solution, path, limit * nominal)?);
            continue;
        }
        if known {
            continue;
        }
        let start = path.points.first().copied().unwrap_or(enters);
        let steps: Vec<ElementId> = path.steps.iter().map(|(e, _)| *e).collect();
        let mut steps = words::path(circuit, start, &steps);
        if side == 0 {
            steps = steps.split(" - ").collect::<Vec<_>>().into_iter().rev().collect::<Vec<_>>().join(" - ");
        }
        let loss = Loss {
            device,
            load: load.element,
            feed: side == 0,
            volts,
            share,
            limit,
            worst: element,
            worst_volts,
            state: solution.state.clone(),
            path: steps,
        };
        if let Some(slot) = worst.get_mut(side) {
            *slot = Some(loss);
        }
    }
    Ok(crowded)
}

/// The way to the feed and the way to ground, with the volts of the supply at its end.
fn ways(
    context: &Context<'_>,
    load: ElementId,
    e: &Element,
    solution: &Solution,
) -> Option<(f64, [Option<Path>; 2])> {
    let circuit = context.circuit;
    let amps = solution.amps.get(load.index()).and_then(|a| a.known()).unwrap_or_default();
    let (enters, leaves) = if amps >= 0.0 { (e.from, e.to) } else { (e.to, e.from) };
    let feed = solution.path_to_source(circuit, enters);
    let nominal = feed.as_ref().and_then(|path| supply_volts(context, path))?;
    Some((nominal, [feed, solution.path_to_ground(circuit, leaves)]))
}

/// The state in which the piece of a way that could lose most carries its most, if all pieces together could lose more
/// than `limit` volts at all.
fn crowd(
    context: &Context<'_>,
    device: DeviceId,
    solution: &Solution,
    path: &Path,
    limit: f64,
) -> Result<Option<State>, Cancelled> {
    let facts = context.facts;
    let mut most = 0.0;
    let mut first: Option<(f64, ElementId)> = None;
    for &(id, _) in &path.steps {
        let Some(e) = context.circuit.elements.get(id.index()).filter(|e| wiring(e)) else { continue };
        let Law::Resistance(ohms) = &e.law else { continue };
        let amps = facts.at_most(id)?;
        let volts = if amps.is_finite() { amps * ohms.nominal } else { 0.0 };
        most += volts;
        if first.is_none_or(|(known, _)| volts > known) {
            first = Some((volts, id));
        }
    }
    let Some((_, piece)) = first.filter(|_| most > limit) else { return Ok(None) };
    let mut state = facts.worst(piece)?.solution.state.clone();
    // At the stated volts, as everything here; and the load's own controls stay.
    state.supplies.clone_from(&solution.state.supplies);
    for control in &facts.device_cases(device)?.controls {
        let (Some(to), Some(&from)) =
            (state.positions.get_mut(control.index()), solution.state.positions.get(control.index()))
        else {
            continue;
        };
        *to = from;
    }
    state.options = solution.state.options;
    state.changes.clone_from(&solution.state.changes);
    Ok(Some(state))
}

/// Stated volts of the supply that a path ends at; none for a reference, or through another load.
fn supply_volts(context: &Context<'_>, path: &Path) -> Option<f64> {
    let circuit = context.circuit;
    let elements = || path.steps.iter().filter_map(|(e, _)| circuit.elements.get(e.index()));
    if elements().any(|e| e.kind.is_load() || matches!(e.kind, ElementKind::Reference | ElementKind::Rail)) {
        return None;
    }
    let mut volts = 0.0;
    let end = *path.points.last()?;
    let mut at = match elements().find(|e| e.kind == ElementKind::Supply) {
        Some(supply) => supply.to,
        None => end,
    };
    // Batteries in series add up.
    for _ in 0..circuit.supplies.len() {
        let Some(supply) = circuit.supplies.iter().find(|s| s.point == at) else { break };
        volts += supply.volts.nominal;
        at = supply.negative;
    }
    (volts > 0.0).then_some(volts)
}

/// Volts over the wiring of a path, and the piece that takes most of them.
fn drop_over(context: &Context<'_>, solution: &Solution, path: &Path) -> Option<(f64, f64, ElementId)> {
    let mut total = 0.0;
    let mut worst: Option<(f64, ElementId)> = None;
    for &(id, _) in &path.steps {
        let e = context.circuit.elements.get(id.index())?;
        if !wiring(e) {
            continue;
        }
        let volts = |p: PointId| solution.unloaded.get(p.index()).copied().flatten();
        let (Some(a), Some(b)) = (volts(e.from), volts(e.to)) else { continue };
        let volts = (a - b).abs();
        total += volts;
        if worst.is_none_or(|(most, _)| volts > most) {
            worst = Some((volts, id));
        }
    }
    worst.map(|(most, id)| (total, most, id))
}

/// What counts as wiring here, if it has ohms.
fn wiring(e: &Element) -> bool {
    use ElementKind::*;
    matches!(e.kind, Wire | Terminal | Inline | Tie | Contact | Fuse(_) | Ground)
        && !matches!(e.law, Law::Joint)
}
