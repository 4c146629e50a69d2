//! Why a point reads what it reads, in words: the way to supply and to ground, with what is lost on it.

use crate::display::{drop, element};
use keyon_circuit::{
    ids::{ElementId, PointId},
    model::{Circuit, ElementKind, PointKind},
};
use keyon_solve::{NodeState, Path, Solution, Ways};

/// The reason for a point's state, as the rest of a sentence that begins with its reading.
pub(crate) fn reason(circuit: &Circuit, solution: &Solution, point: PointId) -> String {
    let Some(state) = solution.node_states.get(point.index()) else { return String::new() };
    let ways = Ways::new(circuit, solution);
    let source = || ways.to_source(point);
    let ground = || ways.to_ground(point);
    match state {
        NodeState::Fed => match source() {
            Some(path) if path.steps.is_empty() => "fed: the supply's own terminal".into(),
            Some(path) => format!("fed {}", from(circuit, solution, &path)),
            None => "fed".into(),
        },
        NodeState::Referenced => match source() {
            Some(path) => format!("referenced {}", from(circuit, solution, &path)),
            None => "referenced".into(),
        },
        NodeState::Grounded => match ground() {
            Some(path) => format!("grounded{}", through(circuit, solution, &path)),
            None => "grounded".into(),
        },
        NodeState::FedViaLoad => {
            let loads = source().as_ref().map(|path| loads(circuit, path)).filter(|loads| !loads.is_empty());
            let loads = loads.unwrap_or_else(|| "a load".into());
            format!("fed via load: full voltage through {loads}, no current; it can carry nothing")
        }
        NodeState::GroundedViaLoad => {
            let loads = ground().as_ref().map(|path| loads(circuit, path)).filter(|loads| !loads.is_empty());
            let loads = loads.unwrap_or_else(|| "a load".into());
            format!("grounded via load: reaches ground through {loads} only, no current")
        }
        NodeState::Between => {
            let up = source().as_ref().map(|path| loads(circuit, path)).unwrap_or_default();
            let down = ground().as_ref().map(|path| loads(circuit, path)).unwrap_or_default();
            match (up.is_empty(), down.is_empty()) {
                (false, false) => format!("between {up} above and {down} below: the voltage divides"),
                _ => "between loads: the voltage divides".into(),
            }
        }
        NodeState::Open => "open: it floats, and a meter shows about 0 V, which is no ground".into(),
        NodeState::Clash => {
            "clash: two potentials are joined with no load between; the current has no limit".into()
        }
        NodeState::Chatters => "chatters: a relay cannot settle".into(),
    }
}

/// `from battery through F1, key, F7, S12, 431 (loses 32 mV in 431)`.
fn from(circuit: &Circuit, solution: &Solution, path: &Path) -> String {
    // A way ends at the source's terminal: the source is what stands there.
    let stands = |id: &ElementId| {
        let conducts = solution.conducts.get(id.index()).copied().unwrap_or(false);
        conducts
            && circuit
                .elements
                .get(id.index())
                .is_some_and(|e| e.kind.is_source() && Some(&e.to) == path.points.last())
    };
    let source = (0..circuit.elements.len()).map(ElementId::from).find(stands);
    let source = source.and_then(|id| element(circuit, id)).unwrap_or_else(|| "a supply".into());
    let mut names: Vec<String> = Vec::new();
    for (at, &(id, _)) in path.steps.iter().enumerate() {
        let splice = path.points.get(at).and_then(|&point| splice(circuit, point)).filter(|_| at > 0);
        for name in splice.into_iter().chain(element(circuit, id)) {
            if !names.contains(&name) && name != source {
                names.push(name);
            }
        }
    }
    names.reverse();
    let mut text = format!("from {source}");
    if !names.is_empty() {
        text.push_str(" through ");
        text.push_str(&names.join(", "));
    }
    let drops = drops(circuit, solution, &path.steps);
    let total: f64 = drops.iter().map(|(_, volts)| volts).sum();
    if total.abs() >= 0.5e-3 {
        let parts = drops.iter().rev().map(|(name, volts)| format!("{name} {}", drop(*volts)));
        text.push_str(&match drops.as_slice() {
            [(name, _)] => format!(" (loses {} in {name})", drop(total)),
            _ => format!(" (loses {}: {})", drop(total), parts.collect::<Vec<_>>().join(", ")),
        });
    }
    text
}

fn splice(circuit: &Circuit, point: PointId) -> Option<String> {
    match circuit.points.get(point.index())?.kind {
        PointKind::Splice(splice) => circuit.splices.get(splice).map(|splice| splice.name.to_string()),
        _ => None,
    }
}

/// ` through SCU driver left_cmd, 101, G1 (441 42 mV, driver 62 mV, 101 4 mV)`.
fn through(circuit: &Circuit, solution: &Solution, path: &Path) -> String {
    let steps = &path.steps;
    let drops = drops(circuit, solution, steps);
    let parts = names(circuit, steps.iter().map(|&(id, _)| id)).into_iter().map(|name| {
        let lost = drops.iter().find(|(n, volts)| *n == name && volts.abs() >= 0.5e-3);
        lost.map_or_else(|| name.clone(), |(_, volts)| format!("{name} ({})", drop(*volts)))
    });
    let parts: Vec<_> = parts.collect();
    if parts.is_empty() { String::new() } else { format!(" through {}", parts.join(", ")) }
}

/// What loses voltage on a path, with how much, in the path's order.
fn drops(circuit: &Circuit, solution: &Solution, steps: &[(ElementId, bool)]) -> Vec<(String, f64)> {
    let mut drops: Vec<(String, f64)> = Vec::new();
    for &(id, _) in steps {
        let Some(edge) = circuit.elements.get(id.index()) else { continue };
        let volts = |point: PointId| solution.unloaded.get(point.index()).copied().flatten();
        let Some((a, b)) = volts(edge.from).zip(volts(edge.to)) else { continue };
        let lost = (a - b).abs();
        let Some(name) = element(circuit, id).filter(|_| lost >= 0.5e-3) else { continue };
        match drops.iter_mut().find(|(n, _)| *n == name) {
            Some((_, sum)) => *sum += lost,
            None => drops.push((name, lost)),
        }
    }
    drops
}

/// The loads of a path.
fn loads(circuit: &Circuit, path: &Path) -> String {
    let is_load = |id: ElementId| {
        let kind = circuit.elements.get(id.index()).map(|element| element.kind);
        kind.is_some_and(|kind| kind.is_load() || kind == ElementKind::Diode)
    };
    names(circuit, path.steps.iter().map(|&(id, _)| id).filter(|&id| is_load(id))).join(", ")
}

/// The names on a path, each once.
fn names(circuit: &Circuit, path: impl Iterator<Item = ElementId>) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for name in path.filter_map(|id| element(circuit, id)) {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    names
}

/// Whether a meter's reading there says nothing about what the point is joined to.
pub(crate) fn floats(solution: &Solution, point: PointId) -> bool {
    matches!(solution.node_states.get(point.index()), Some(NodeState::Open))
}

/// Whether people may probe a point: not what lies inside of things.
pub(crate) fn probed(circuit: &Circuit, point: PointId) -> bool {
    use PointKind::*;
    let kind = circuit.points.get(point.index()).map(|point| point.kind);
    matches!(kind, Some(Supply(_) | Ground(_) | Splice(_) | Pin(..) | Cavity(..) | InlineSide(..)))
}
