//! The trace as calls: from a point one step towards the supply, or one step towards ground, in the shown state.

use crate::{View, place::name_at, shown};
use keyon_circuit::{
    Entity,
    ids::PointId,
    model::{Circuit, Loc, PointKind},
};
use keyon_solve::Ways;

/// A thing on the way.
#[derive(Clone, Debug, PartialEq)]
pub struct Stop {
    /// As it may be asked about again.
    pub name: String,
    /// What it carries.
    pub detail: String,
    #[allow(missing_docs)]
    pub loc: Loc,
}

/// Which way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Towards {
    Supply,
    Ground,
}

/// The stops that the name at an offset stands for: a point, or the pins of a device.
pub fn stops_at(view: &View<'_>, offset: u32) -> Vec<Stop> {
    let Some((occurrence, span)) = name_at(view, offset) else { return Vec::new() };
    let (last, _) = crate::place::end_of_path(view, (occurrence, span));
    let circuit = &view.elaboration.circuit;
    let points: Vec<PointId> = match (last.entity, circuit.point_of(last.entity)) {
        (Entity::Device(d), _) => circuit.devices.get(d.index()).map_or(Vec::new(), |d| {
            d.pins.iter().filter(|p| !p.landings.is_empty()).map(|p| p.outside).collect()
        }),
        (_, Some(point)) => vec![point],
        _ => Vec::new(),
    };
    let (state, _) = shown::state(view);
    let solution = view.solve(&state);
    points.into_iter().filter_map(|p| stop(view, &solution, p)).collect()
}

/// The next stops from a stop.
pub fn next_stops(view: &View<'_>, name: &str, towards: Towards) -> Vec<Stop> {
    let circuit = &view.elaboration.circuit;
    let start = circuit.points.iter().position(|p| p.name == name).map(PointId::from);
    let start = start.or_else(|| circuit.lookup(name).into_iter().find_map(|e| circuit.point_of(e)));
    let Some(start) = start else { return Vec::new() };
    let (state, _) = shown::state(view);
    let solution = view.solve(&state);
    let ways = Ways::new(circuit, &solution);
    let path = match towards {
        Towards::Supply => ways.to_source(start),
        Towards::Ground => ways.to_ground(start),
    };
    let Some(path) = path else { return Vec::new() };
    let next = path.points.iter().skip(1).find(|p| is_place(circuit, **p) && **p != start);
    next.and_then(|&p| stop(view, &solution, p)).into_iter().collect()
}

/// Where a person could put a probe.
fn is_place(circuit: &Circuit, point: PointId) -> bool {
    circuit.points.get(point.index()).is_some_and(|p| {
        !matches!(
            p.kind,
            PointKind::PinInside(..) | PointKind::CavityInside(..) | PointKind::Internal | PointKind::Common
        )
    })
}

fn stop(view: &View<'_>, solution: &keyon_solve::Solution, point: PointId) -> Option<Stop> {
    let circuit = &view.elaboration.circuit;
    let it = circuit.points.get(point.index())?;
    let loc = view.elaboration.definition(circuit.entity_of_point(point)).or(it.loc)?;
    let state = solution.node_states.get(point.index())?;
    let volts = solution.volts.get(point.index()).copied().flatten();
    let volts = volts.map_or_else(String::new, |v| format!(", {}", crate::display::volts(v)));
    Some(Stop { name: it.name.to_string(), detail: format!("{}{volts}", state.words()), loc })
}
