//! A digital input that nothing can change.

use crate::{
    Context, Finding,
    facts::{modules::Life, movers::Movers, paths::node, signals::Input},
    words,
};
use keyon_circuit::{
    ids::*,
    model::{ElementKind, Loc},
};
use keyon_solve::{Cancelled, Cases, NodeState, Solution, State, solve};

crate::rule::rule! {
    name: "stuck-input",
    level: Warning,
    group: "signal",
    summary: "A digital input reads the same in every state, though a switch, a driver or a sensor on it was meant to change it.",
    why: "\
The switch clicks, a meter shows that it opens and closes, and the module takes no notice: the threshold lies above what the pull-up \
gives, the input has a pull-up where its switch goes to battery, or a wire bridges the switch. Looked at are all positions, the spans \
of sensors and the range of the supply. An input that is tied to ground or to a supply and on which nothing else was meant to act is \
sound: pins that tell a module its side or its variant, and wake inputs on a permanent feed, are made so (common practice, no source).",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let facts = context.facts;
    if context.circuit.incomplete {
        return Ok(());
    }
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
        let Some((low, high)) = readings(context, &input, &movers, threshold, &cases)? else { continue };
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
        out.push(say(context, &input, &movers, threshold, (low, high), place));
    }
    Ok(())
}

/// Steps in which a sensor's span is gone through.
const STEPS: usize = 5;

/// Lowest and highest volts that an input gets over all states; `None` where it changes, or where that cannot be told.
fn readings(
    context: &Context<'_>,
    input: &Input<'_>,
    movers: &Movers,
    threshold: f64,
    cases: &Cases,
) -> Result<Option<(f64, f64)>, Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    let inside = input.cavity.inside;
    let lives = |s: &Solution| s.alive.get(input.module.index()).copied().unwrap_or(true);
    let own = |kind| {
        let mut elements = input.cavity.elements.iter().copied();
        elements.find(|e| circuit.elements.get(e.index()).is_some_and(|e| e.kind == kind))
    };
    let pull_up = own(ElementKind::PullUp);
    let (alive, dead): (Vec<&Solution>, Vec<&Solution>) =
        cases.cases.iter().map(|case| &*case.solution).partition(|s| lives(s));
    // Without any source it is `signal-without-reference` or `floating-input`.
    use NodeState::{Chatters, Clash, Grounded, GroundedViaLoad, Open};
    let sourceless = |s: &&Solution| matches!(node(s, inside), Open | Grounded | GroundedViaLoad);
    if cases.cut.is_some() || alive.is_empty() || (pull_up.is_none() && alive.iter().all(sourceless)) {
        return Ok(None);
    }
    // In a module that is dead for it the signal may well be another: then it says that the module is to live.
    let outer = |s: &Solution| match pull_up {
        Some(pull) => {
            let end = facts.end(s, inside, pull);
            (end.fed || end.fed_via, end.grounded || end.grounded_via)
        }
        None => {
            use NodeState::{Between, Fed, FedViaLoad, Referenced};
            let state = node(s, inside);
            (
                matches!(state, Fed | Referenced | FedViaLoad | Between),
                matches!(state, Grounded | GroundedViaLoad | Between),
            )
        }
    };
    if dead.iter().any(|s| !alive.iter().any(|a| outer(a) == outer(s))) {
        return Ok(None);
    }
    let mut span: Option<(f64, f64)> = None;
    let mut look = |s: &Solution| -> bool {
        let volts = s.input_volts(circuit, input.module, input.at.0, input.at.1);
        let Some(volts) = volts.filter(|_| !matches!(node(s, inside), Open | Clash | Chatters)) else {
            return false;
        };
        let (low, high) = span.map_or((volts, volts), |(low, high)| (low.min(volts), high.max(volts)));
        span = Some((low, high));
        (low >= threshold) == (high >= threshold)
    };
    for s in &alive {
        if !look(s) {
            return Ok(None);
        }
    }
    for s in &alive {
        if context.cancel.cancelled() {
            return Err(Cancelled);
        }
        for state in beside(context, movers, &s.state) {
            let s = solve(circuit, &state);
            if lives(&s) && !look(&s) {
                return Ok(None);
            }
        }
    }
    Ok(span)
}

/// A state with the supplies at either end of their range, and with each sensor over its span.
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
    for sensor in &movers.sensors {
        let at = sensor.stimulus.index();
        let Some((low, high)) = circuit.stimuli.get(at).map(|s| s.span) else { continue };
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
    movers: &Movers,
    threshold: f64,
    (low, high): (f64, f64),
    place: Loc,
) -> Finding {
    let (circuit, facts) = (context.circuit, context.facts);
    let pin = facts.pin_name(input.module, input.cavity);
    let level = if low >= threshold { "high" } else { "low" };
    let mut names: Vec<_> = movers.contacts.iter().map(|&e| words::name(circuit, e)).collect();
    let devices = movers.sensors.iter().filter_map(|s| circuit.devices.get(s.device.index()));
    names.extend(devices.map(|d| d.name.clone()));
    names.sort_unstable();
    names.dedup();
    let does = if names.len() == 1 { "does" } else { "do" };
    let (why, help) = if let Some(contact) = movers.bridged {
        let name = words::name(circuit, contact);
        (
            format!("wires join both sides of `{name}`"),
            "take off the wire past the contact, or lead it to the terminal that was meant",
        )
    } else if let Some((contact, _)) = movers.nowhere {
        let name = words::name(circuit, contact);
        (
            format!("the other side of `{name}` reaches neither a supply nor ground"),
            "wire that side to ground for an input with a pull-up, to a supply for one with a pull-down",
        )
    } else {
        let gets = if high - low < 0.05 {
            words::quantity(low, "V")
        } else {
            format!("{} to {}", words::digits(low.max(0.0)), words::quantity(high, "V"))
        };
        (
            format!("it gets {gets} and reads high from {}", words::quantity(threshold, "V")),
            "correct the threshold, or give the input the pull that its switch needs: a pull-up for one to ground, a pull-down for one to \
             a supply",
        )
    };
    let message = format!("`{pin}` reads {level} whatever {} {does}: {why}", words::names(&names));
    let mut finding = RULE.at(place, message).help(help);
    let first = movers.bridged.or(movers.nowhere.map(|(e, _)| e)).or(movers.contacts.first().copied());
    if let Some(see) = first.and_then(|e| facts.place(e)).filter(|see| *see != place) {
        finding = finding.see(see, "this was to change it");
    }
    finding
}
