//! A digital input that nothing can change.

use crate::{
    Context, Finding,
    facts::{alive::Lives, holding::Holding, modules::Life, movers::Movers, paths::node, signals::Input},
    words,
};
use keyon_circuit::{
    ids::*,
    model::{ElementKind, Loc, When},
};
use keyon_solve::{Cancelled, NodeState, Solution, State, solve};

crate::rule::rule! {
    name: "stuck-input",
    level: Warning,
    group: "signal",
    summary: "A digital input reads the same in every state, though a switch, a driver or a sensor on it was meant to change it.",
    why: "\
The switch clicks, a meter shows that it opens and closes, and the module takes no notice: the threshold lies above what the pull-up \
gives, the input has a pull-up where its switch goes to battery, a wire bridges the switch, or a clamp diode lies the wrong way round. \
Looked at are all positions in which the module is alive, the spans of sensors and the range of the supply. An input that is tied to ground or to a supply and on which nothing else was meant to act is \
sound: pins that tell a module its side or its variant, and wake inputs on a permanent feed, are made so (common practice, no source).",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let facts = context.facts;
    // Switches that a common side has lost are one finding.
    let mut nowhere: Vec<(PointId, usize)> = Vec::new();
    for input in facts.inputs().filter(|input| input.digital) {
        let Some(threshold) = input.cavity.threshold else { continue };
        if facts.life(input.module)? != Life::Lives {
            continue;
        }
        let Some(movers) = facts.movers(&input)? else { continue };
        let Some(place) = facts.pin_place(input.module, input.cavity) else { continue };
        let known = movers.nowhere.and_then(|(_, at)| nowhere.iter().find(|(point, _)| *point == at));
        let cases = facts.some_volts_of(input.cavity.inside)?;
        let Some(lives) = facts.lives_of(&input, &cases)? else { continue };
        let Some((low, high)) = readings(context, &input, &movers, threshold, &lives)? else { continue };
        let another = |s: &Solution| {
            let volts = s.input_volts(context.circuit, input.module, input.at.0, input.at.1);
            let volts =
                volts.filter(|_| s.lives(input.module) && node(s, input.cavity.inside) != NodeState::Open);
            volts.is_some_and(|volts| (volts >= threshold) != (low >= threshold))
        };
        let states: Vec<State> = lives.alive.iter().map(|living| living.solution.state.clone()).collect();
        let diode = facts.holding_diode(&input, &states, another)?;
        // Without any source it is `signal-without-reference` or `floating-input`.
        if !diode.is_some_and(|diode| diode.leads_away) && is_sourceless(context, &input, &lives) {
            continue;
        }
        // A driver that does not even move the voltage is told as idle.
        if movers.driven && high - low < 1e-3 {
            continue;
        }
        if let Some(first) = known.and_then(|&(_, at)| out.get_mut(at)) {
            first.related.push((place, "this one is held likewise".to_owned()));
            continue;
        }
        if let Some((_, at)) = movers.nowhere {
            nowhere.push((at, out.len()));
        }
        out.push(say(context, &input, &lives, (&movers, diode), threshold, (low, high), place));
    }
    Ok(())
}

/// Steps in which a sensor's span is gone through.
const STEPS: usize = 5;
/// Volts by which an input moves, if not far enough: more than wires and joints lose. Our own limit.
const MOVED: f64 = 0.5;
/// What a supply keeps of its volts under the heaviest load. Our own limit.
const SAG: f64 = 0.4;

/// The input's own pull-up.
fn pull_up(context: &Context<'_>, input: &Input<'_>) -> Option<ElementId> {
    let is = |e: &ElementId| {
        context.circuit.elements.get(e.index()).is_some_and(|e| e.kind == ElementKind::PullUp)
    };
    input.cavity.elements.iter().copied().find(is)
}

/// Whether nothing ever brings an input a voltage.
fn is_sourceless(context: &Context<'_>, input: &Input<'_>, lives: &Lives) -> bool {
    use NodeState::{Grounded, GroundedViaLoad, Open};
    let lacks = |s: &Solution| matches!(node(s, input.cavity.inside), Open | Grounded | GroundedViaLoad);
    pull_up(context, input).is_none() && lives.alive.iter().all(|living| lacks(&living.solution))
}

/// Lowest and highest volts that an input gets over all states; `None` where it changes, or where that cannot be told.
fn readings(
    context: &Context<'_>,
    input: &Input<'_>,
    movers: &Movers,
    threshold: f64,
    lives: &Lives,
) -> Result<Option<(f64, f64)>, Cancelled> {
    let inside = input.cavity.inside;
    if lives.alive.is_empty() {
        return Ok(None);
    }
    use NodeState::{Chatters, Clash, Open};
    let volts = |s: &Solution| {
        let volts = s.input_volts(context.circuit, input.module, input.at.0, input.at.1);
        volts.filter(|_| !matches!(node(s, inside), Open | Clash | Chatters))
    };
    let mut span: Option<(f64, f64)> = None;
    let mut look = |volts: Option<f64>| -> bool {
        let Some(volts) = volts else { return false };
        let (low, high) = span.map_or((volts, volts), |(low, high)| (low.min(volts), high.max(volts)));
        span = Some((low, high));
        (low >= threshold) == (high >= threshold)
    };
    for living in &lives.alive {
        if !look(volts(&living.solution)) {
            return Ok(None);
        }
    }
    if says_that_it_lives(context, input, lives) && !moves(context, input, movers, lives, volts)? {
        return Ok(None);
    }
    for living in &lives.alive {
        if context.cancel.cancelled() {
            return Err(Cancelled);
        }
        for state in beside(context, movers, &living.solution.state) {
            let s = solve(context.circuit, &state);
            if s.lives(input.module) && !look(volts(&s)) {
                return Ok(None);
            }
        }
    }
    Ok(span)
}

/// Whether an input of a dead module gets another signal than it ever gets alive: the signal may be what brings it to life.
fn says_that_it_lives(context: &Context<'_>, input: &Input<'_>, lives: &Lives) -> bool {
    let (facts, inside) = (context.facts, input.cavity.inside);
    let pull_up = pull_up(context, input);
    let outer = |s: &Solution| match pull_up {
        Some(pull) => {
            let end = facts.end(s, inside, pull);
            (end.fed || end.fed_via, end.grounded || end.grounded_via)
        }
        None => {
            use NodeState::{Between, Fed, FedViaLoad, Grounded, GroundedViaLoad, Referenced};
            let state = node(s, inside);
            (
                matches!(state, Fed | Referenced | FedViaLoad | Between),
                matches!(state, Grounded | GroundedViaLoad | Between),
            )
        }
    };
    lives.dead.iter().any(|s| !lives.alive.iter().any(|a| outer(&a.solution) == outer(s)))
}

/// Whether something moves an input of a living module, all controls that decide over its life left where they are: a switch that
/// the module's own feed comes through never does.
fn moves(
    context: &Context<'_>,
    input: &Input<'_>,
    movers: &Movers,
    lives: &Lives,
    volts: impl Fn(&Solution) -> Option<f64>,
) -> Result<bool, Cancelled> {
    let still = [movers.bridged, movers.nowhere.map(|(contact, _)| contact)];
    for contact in still.into_iter().flatten() {
        if context.facts.moves_while_alive(contact, input.module, &lives.decide)? {
            return Ok(true);
        }
    }
    // A supply that a starter pulls down moves it too.
    let apart = |a: &Solution, b: &Solution| {
        let same = node(a, input.cavity.inside) == node(b, input.cavity.inside);
        volts(a)
            .zip(volts(b))
            .is_some_and(|(a, b)| (a - b).abs() > MOVED && (!same || a.min(b) < SAG * a.max(b)))
    };
    for (i, a) in lives.alive.iter().enumerate() {
        let others = lives.alive.iter().skip(i + 1);
        if others.filter(|b| apart(&a.solution, &b.solution)).any(|b| a.is_beside(b, &lives.decide)) {
            return Ok(true);
        }
        if context.cancel.cancelled() {
            return Err(Cancelled);
        }
        for state in sensed(context, movers, &a.solution.state) {
            let s = solve(context.circuit, &state);
            if s.lives(input.module) && apart(&a.solution, &s) {
                return Ok(true);
            }
        }
    }
    Ok(false)
}

/// A state with the supplies at either end of their range, and those with each sensor over its span.
fn beside(context: &Context<'_>, movers: &Movers, state: &State) -> Vec<State> {
    let circuit = context.circuit;
    let mut states = Vec::new();
    for end in [|range: (f64, f64)| range.0, |range: (f64, f64)| range.1] {
        let volts = circuit.supplies.iter().map(|s| s.range.map_or(s.volts.nominal, end));
        let supplies: Vec<f64> = volts.collect();
        if supplies != state.supplies {
            states.push(State { supplies, ..state.clone() });
        }
    }
    states.extend(sensed(context, movers, state));
    states
}

/// A state with each sensor over its span.
fn sensed(context: &Context<'_>, movers: &Movers, state: &State) -> Vec<State> {
    let mut states = Vec::new();
    for sensor in &movers.sensors {
        let at = sensor.stimulus.index();
        let Some((low, high)) = context.circuit.stimuli.get(at).map(|s| s.span) else { continue };
        for step in 0..STEPS {
            let mut state = state.clone();
            if let Some(value) = state.stimuli.get_mut(at) {
                *value = low + (high - low) * step as f64 / (STEPS - 1) as f64;
                states.push(state);
            }
        }
    }
    states
}

fn say(
    context: &Context<'_>,
    input: &Input<'_>,
    lives: &Lives,
    (movers, diode): (&Movers, Option<Holding>),
    threshold: f64,
    (low, high): (f64, f64),
    place: Loc,
) -> Finding {
    let (circuit, facts) = (context.circuit, context.facts);
    let pin = facts.pin_name(input.module, input.cavity);
    let level = if low >= threshold { "high" } else { "low" };
    // What decides over the module's life cannot be tried on it.
    let decides = |e: &ElementId| {
        let when = circuit.elements.get(e.index()).map(|e| e.when);
        matches!(when, Some(When::In { control, .. }) if lives.decide.contains(&control))
    };
    let free: Vec<ElementId> = movers.contacts.iter().copied().filter(|e| !decides(e)).collect();
    let contacts = if free.is_empty() && movers.sensors.is_empty() { &movers.contacts } else { &free };
    let mut names: Vec<_> = contacts.iter().map(|&e| words::name(circuit, e)).collect();
    let devices = movers.sensors.iter().filter_map(|s| circuit.devices.get(s.device.index()));
    names.extend(devices.map(|d| d.name.clone()));
    names.sort_unstable();
    names.dedup();
    let does = if names.len() == 1 { "does" } else { "do" };
    let gets = if high - low < 0.05 {
        words::quantity(low, "V")
    } else {
        format!("{} to {}", words::digits((low.max(0.0) * 1e3).round() / 1e3), words::quantity(high, "V"))
    };
    let reads = format!("reads high from {}", words::quantity(threshold, "V"));
    let (why, help) = if let Some(held) = diode {
        let diode = words::diode(circuit, held.diode);
        let why = if held.leads_away {
            format!("{diode} holds it at {gets}, and it {reads}")
        } else {
            format!("{diode} stands against the current on the way")
        };
        let help = if held.turn {
            format!("turn {diode} round: current passes a diode towards its bar only")
        } else {
            format!("take off {diode}, or lead its other end where it was meant to go")
        };
        (why, help)
    } else if let Some(contact) = movers.bridged {
        let name = words::name(circuit, contact);
        (
            format!("wires join both sides of `{name}`"),
            "take off the wire past the contact, or lead it to the terminal that was meant".to_owned(),
        )
    } else if let Some((contact, _)) = movers.nowhere {
        let name = words::name(circuit, contact);
        (
            format!("the other side of `{name}` reaches neither a supply nor ground"),
            "wire that side to ground for an input with a pull-up, to a supply for one with a pull-down"
                .to_owned(),
        )
    } else {
        (
            format!("it gets {gets} and {reads}"),
            "correct the threshold, or give the input the pull that its switch needs: a pull-up for one to ground, a pull-down for one to \
             a supply"
                .to_owned(),
        )
    };
    let message = format!("`{pin}` reads {level} whatever {} {does}: {why}", words::names(&names));
    let mut finding = RULE.at(place, message).help(help);
    if let Some(see) = diode.and_then(|held| facts.place(held.diode)).filter(|see| *see != place) {
        return finding.see(see, "the diode");
    }
    let first = movers.bridged.or(movers.nowhere.map(|(e, _)| e)).or(contacts.first().copied());
    if let Some(see) = first.and_then(|e| facts.place(e)).filter(|see| *see != place) {
        finding = finding.see(see, "this was to change it");
    }
    finding
}
