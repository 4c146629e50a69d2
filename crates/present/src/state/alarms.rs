//! What must not be overlooked in a state.

use crate::figure;
use keyon_circuit::{
    ids::*,
    model::{Circuit, ElementKind, Module},
};
use keyon_solve::{Amps, NodeState, Solution};

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
            None => format!(
                "{kind} {}{rating} blows: a supply meets ground, or another one, without a load",
                element(fuse)
            ),
        });
    }
    let mut clashing: Vec<String> = Vec::new();
    for point in &solution.clashes {
        if let Some(point) = circuit.points.get(point.index()) {
            clashing.push(point.name.to_string());
        }
    }
    if !clashing.is_empty() {
        let limit = match (solution.amps.contains(&Amps::Unlimited), solution.clash_amps) {
            (true, None) => "the current is limited by nothing".to_owned(),
            (true, Some(amps)) => format!(
                "only wiring and the inner resistance of the sources limit the current, to about {} A",
                figure::short(amps, 2)
            ),
            (false, _) => {
                "only wiring and the inner resistance of the sources limit the current (a generator that \
                           charges a battery is such a case, and as it should be)"
                    .to_owned()
            }
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
            alarms.push(dead_words(circuit, solution, module));
        }
    }
    alarms
}

/// Why a module is dead, and what its pins do on the machine where nobody said what it draws (decision 23).
fn dead_words(circuit: &Circuit, solution: &Solution, module: &Module) -> String {
    let states = |pins: &[(usize, usize)]| -> Vec<NodeState> {
        let cavities = pins.iter().filter_map(|&(c, k)| module.connectors.get(c)?.cavities.get(k));
        cavities.filter_map(|cavity| solution.node_states.get(cavity.inside.index()).copied()).collect()
    };
    let (feeds, grounds) = (states(&module.feeds), states(&module.grounds));
    let lacks =
        |pins: &[NodeState], good: &[NodeState]| !pins.is_empty() && !pins.iter().any(|s| good.contains(s));
    let no_feed = lacks(&feeds, &[NodeState::Fed, NodeState::Referenced, NodeState::Clash]);
    let no_ground = lacks(&grounds, &[NodeState::Grounded, NodeState::Clash]);
    let missing = match (no_feed, no_ground) {
        (true, false) => "its feed is missing",
        (false, true) => "its ground is missing",
        (true, true) => "its feed and its ground are missing",
        (false, false) => "its feed or its ground is missing",
    };
    let mut words = format!("module {} is dead here ({missing}): drivers open, references off", module.name);
    let draws = module.connectors.iter().flat_map(|c| &c.cavities).flat_map(|cavity| &cavity.elements);
    let mut draws = draws.filter_map(|e| circuit.elements.get(e.index()));
    if draws.any(|e| e.kind == ElementKind::Draw) {
        return words;
    }
    let pull = match (no_feed, no_ground) {
        (false, true) if grounds.contains(&NodeState::Open) => "lifts its ground's pins to the supply",
        (true, false) if feeds.contains(&NodeState::Open) => "holds its feed's pins near ground",
        _ => return words,
    };
    words.push_str("; what it draws itself is not described (`draws`): on the machine that ");
    words.push_str(pull);
    words
}
