//! An input that wiring alone holds outside of its range: no sensor need move for it.

use crate::{
    Context,
    facts::{paths::node, signals::Input},
    words,
};
use keyon_circuit::{
    ids::*,
    model::{ElementKind, Law},
};
use keyon_solve::{Cancelled, Cases, NodeState, Solution, State, solve};

/// Volts by which a signal may pass a limit: joints, rounding.
pub(super) const SLACK: f64 = 2e-3;
/// How far beyond its range an input is no longer a matter of the range: that is `supply-on-input`.
pub(super) const FAR: f64 = 1.5;
/// What is read rises about as the supplies do; by how much more it may is looked at. Our own limit.
const MARGIN: f64 = 1.05;

/// A steady reading outside of the range.
pub(super) struct Steady {
    /// "with `key` in `run` and `battery` at 14.8 V".
    pub(super) when: String,
    pub(super) volts: f64,
    /// The path of what feeds it, where no load lies on it.
    pub(super) path: Option<String>,
}

/// The first state in which what feeds an input takes it beyond its range, the supplies as stated or at the top of their
/// range. Not looked at: the low end of a supply's range, which is cranking, and the open circuit of the input's own pull-up.
pub(super) fn outside(
    context: &Context<'_>,
    input: &Input<'_>,
    (low, high): (f64, f64),
    cases: &Cases,
) -> Option<Steady> {
    use NodeState::{Between, Fed, FedViaLoad, Grounded, Referenced};
    let (circuit, facts) = (context.circuit, context.facts);
    let inside = input.cavity.inside;
    let volts = |s: &Solution| s.input_volts(circuit, input.module, input.at.0, input.at.1);
    let lives = |s: &Solution| s.lives(input.module) && !facts.folded(s);
    let rail = rail(context, input);
    let beyond = |s: &Solution| {
        lives(s)
            && volts(s).is_some_and(|v| match node(s, inside) {
                Fed | Referenced => v > high + SLACK,
                FedViaLoad | Between => v > high.max(rail) + SLACK && fed_from_outside(context, input, s),
                _ => false,
            })
    };
    let below = |s: &Solution| {
        let straight = matches!(node(s, inside), Fed | Referenced);
        lives(s) && straight && volts(s).is_some_and(|v| v < low - SLACK)
    };
    let alive = || cases.cases.iter().map(|case| &*case.solution).filter(|s| lives(s));
    if alive().any(|s| node(s, inside) == Fed && volts(s).is_some_and(|v| v > high * FAR)) {
        return None;
    }
    if let Some(s) = alive().find(|s| beyond(s) || below(s)) {
        let (away, s) = facts.fewest(&s.state, |s| beyond(s) || below(s));
        return say(context, input, &away, &s, None);
    }
    let highest = facts.top();
    let rise = highest.supplies.iter().zip(&circuit.supplies);
    let rise = rise.map(|(top, supply)| top / supply.volts.nominal).fold(1.0, f64::max);
    for s in alive().filter(|s| volts(s).is_some_and(|v| v * rise * MARGIN > high)) {
        let state = State { supplies: highest.supplies.clone(), ..s.state.clone() };
        if rise > 1.0 && beyond(&solve(circuit, &state)) {
            let (away, s) = facts.fewest(&state, beyond);
            return say(context, input, &away, &s, Some(&highest));
        }
    }
    let grounded = |s: &Solution| node(s, inside) == Grounded && volts(s).is_some_and(|v| v < low - SLACK);
    let first = alive().next().filter(|_| cases.cut.is_none() && alive().all(grounded))?;
    Some(Steady { when: "in every state".to_owned(), volts: volts(first)?, path: None })
}

/// The first position of one control that takes an input out of its range by way of a resistor, where it is in its range
/// otherwise: a button of a ladder that the range does not reach, or one without the resistor that the others have. Two buttons at
/// once are nobody's business.
pub(super) fn pressed(
    context: &Context<'_>,
    input: &Input<'_>,
    (low, high): (f64, f64),
    cases: &Cases,
) -> Result<Option<Steady>, Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    let Some(movers) = facts.movers(input)? else { return Ok(None) };
    let plain = movers.sensors.is_empty() && !movers.driven && movers.bridged.is_none();
    let Some(lives) = facts.lives_of(input, cases)?.filter(|_| plain) else { return Ok(None) };
    let volts = |s: &Solution| s.input_volts(circuit, input.module, input.at.0, input.at.1);
    let out = |volts: f64| volts < low - SLACK || volts > high + SLACK;
    let alive = || lives.alive.iter().map(|living| &*living.solution);
    let divided = |s: &Solution| {
        matches!(node(s, input.cavity.inside), NodeState::Between | NodeState::GroundedViaLoad)
    };
    let moved = |s: &Solution| {
        let mut positions = s.state.positions.iter().enumerate().filter(|(_, at)| **at != 0);
        positions.any(|(control, _)| !lives.decide.contains(&ControlId::from(control)))
    };
    let ladder = alive().any(|s| divided(s) && moved(s) && volts(s).is_some_and(|volts| !out(volts)));
    let beyond = |s: &Solution| {
        let living = s.lives(input.module) && !facts.folded(s);
        let bare = ladder && node(s, input.cavity.inside) == NodeState::Grounded;
        living && (divided(s) || bare) && volts(s).is_some_and(out)
    };
    if !alive().any(|s| volts(s).is_some_and(|volts| !out(volts))) {
        return Ok(None);
    }
    for s in alive().filter(|s| beyond(s)) {
        let (away, s) = facts.fewest(&s.state, beyond);
        if away.iter().filter(|(control, _)| !lives.decide.contains(control)).count() == 1 {
            return Ok(say(context, input, &away, &s, None));
        }
    }
    Ok(None)
}

fn say(
    context: &Context<'_>,
    input: &Input<'_>,
    away: &[(ControlId, usize)],
    s: &Solution,
    top: Option<&State>,
) -> Option<Steady> {
    let circuit = context.circuit;
    let mut when = words::with(circuit, away);
    if let Some(top) = top {
        let supplies = circuit.supplies.iter().zip(&top.supplies).filter(|(s, v)| **v > s.volts.nominal);
        let at = words::list(supplies.map(|(s, v)| format!("`{}` at {}", s.name, words::quantity(*v, "V"))));
        when = if away.is_empty() { format!("with {at}") } else { format!("{when} and {at}") };
    }
    let straight = matches!(node(s, input.cavity.inside), NodeState::Fed | NodeState::Referenced);
    let path = s.path_to_source(circuit, input.cavity.outside).filter(|_| straight).map(|path| {
        let steps: Vec<_> = path.steps.iter().rev().map(|(e, _)| *e).collect();
        words::path(circuit, path.points.last().copied().unwrap_or(input.cavity.outside), &steps)
    });
    Some(Steady { when, volts: s.input_volts(circuit, input.module, input.at.0, input.at.1)?, path })
}

/// Volts of the input's own pull-up; 0 where it has none.
fn rail(context: &Context<'_>, input: &Input<'_>) -> f64 {
    let elements = input.cavity.elements.iter().filter_map(|e| context.circuit.elements.get(e.index()));
    let volts = elements.filter(|e| e.kind == ElementKind::Rail).filter_map(|e| match e.law {
        Law::Source { volts, .. } => Some(volts.nominal),
        _ => None,
    });
    volts.fold(0.0, f64::max)
}

/// Whether something else than the input's own pull-up feeds it.
fn fed_from_outside(context: &Context<'_>, input: &Input<'_>, s: &Solution) -> bool {
    let pull = input
        .cavity
        .elements
        .iter()
        .copied()
        .find(|e| context.circuit.elements.get(e.index()).is_some_and(|e| e.kind == ElementKind::PullUp));
    pull.is_none_or(|pull| {
        let end = context.facts.end(s, input.cavity.inside, pull);
        end.fed || end.fed_via
    })
}
