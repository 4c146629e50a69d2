//! What must not be overlooked in a state.

use crate::figure;
use keyon_circuit::{
    ids::*,
    model::{Circuit, ElementKind},
};
use keyon_solve::{Amps, Solution};

/// What must not be overlooked: blown fuses, short circuits, relays that cannot settle or would hold, dead modules.
pub fn alarms(circuit: &Circuit, solution: &Solution) -> Vec<String> {
    let element =
        |id: &ElementId| circuit.elements.get(id.index()).map_or_else(String::new, |e| e.name.to_string());
    let mut alarms = Vec::new();
    for (fuse, amps) in &solution.blown {
        let rating = circuit.elements.get(fuse.index()).and_then(|e| e.rating);
        let rating = rating.map_or_else(String::new, |r| format!(" {} A", r.nominal));
        let kind = match circuit.elements.get(fuse.index()).map(|e| e.kind) {
            Some(ElementKind::Fuse(keyon_circuit::model::FuseKind::Breaker)) => "breaker",
            Some(ElementKind::Fuse(keyon_circuit::model::FuseKind::Link)) => "link",
            _ => "fuse",
        };
        alarms.push(match amps {
            Some(amps) => format!("{kind} {}{rating} blows at {} A", element(fuse), figure::amps(*amps)),
            None => format!("{kind} {}{rating} blows: a supply meets ground without a load", element(fuse)),
        });
    }
    let mut clashing: Vec<String> = Vec::new();
    for point in &solution.clashes {
        if let Some(point) = circuit.points.get(point.index()) {
            clashing.push(point.name.to_string());
        }
    }
    if !clashing.is_empty() {
        let limit = if solution.amps.contains(&Amps::Unlimited) {
            "the current is limited by nothing"
        } else {
            "only wiring and the inner resistance of the sources limit the current (a generator that charges a battery \
             is such a case, and as it should be)"
        };
        alarms.push(format!(
            "clash: different potentials meet without a load between at {}; {limit}",
            clashing.join(", ")
        ));
    }
    if !solution.chatters.is_empty() {
        let coils: Vec<String> = solution.chatters.iter().map(element).collect();
        alarms.push(format!("chatters: {} cannot settle, each state undoes itself", coils.join(", ")));
    }
    for coil in &solution.holds {
        alarms.push(format!("{} rests here, and would stay energised if it already were", element(coil)));
    }
    for (module, alive) in circuit.modules.iter().zip(&solution.alive) {
        if !alive {
            alarms.push(format!(
                "module {} is dead here (its feed or its ground is missing): drivers open, references off",
                module.name
            ));
        }
    }
    alarms
}
