//! A signal that leaves the input's range, or does not move.

use super::steady::{self, SLACK, Steady};
use crate::{
    Context, Finding,
    facts::{
        graph::Flood,
        paths::{Missing, node},
        sensors::Sensor,
        signals::Input,
    },
    words,
};
use keyon_circuit::{
    ids::*,
    model::{Role, Stimulus, StimulusKind},
};
use keyon_solve::{Cancelled, Cases, NodeState, State, solve};

crate::rule::rule! {
    name: "signal-out-of-range",
    level: Warning,
    group: "signal",
    summary: "A signal leaves the input's range over the sensor's span or where wiring alone holds it, or does not change at all.",
    why: "\
A module takes a voltage outside of its range for a broken wire and sets a fault code, with nothing broken. A signal that stays the same \
over the whole span says nothing: the sensor is wired past its input, or bridged. Without a sensor the same holds for an input that a \
supply or a reference feeds, up to the top of the supply's range (far beyond the input's range it is `supply-on-input`), and for \
one that is grounded in every state; and for a button that by itself takes an input out of its range by way of a resistor. The low \
end of a supply's range is not looked at, for a module knows when the engine cranks; nor is an open input with a pull-up, which is how a \
broken wire is told.",
    check: check,
}

/// Values of a stimulus that are looked at over its span.
const STEPS: usize = 9;
/// Volts below which a signal does not move.
const STILL: f64 = 1e-3;

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let facts = context.facts;
    for input in facts.inputs().filter(|input| !input.digital) {
        let Some(range) = input.cavity.range else { continue };
        let joined = facts.joined(input.cavity.outside);
        let sensors = facts.devices_on(&joined).into_iter().flat_map(|device| facts.sensors_of(device));
        let on_it = |sensor: &Sensor| facts.signal_pins(sensor).iter().any(|&pin| joined.has(pin));
        let sensors: Vec<Sensor> = sensors.filter(on_it).collect();
        // A sensor that lacks its return, lies in a short circuit or is turned round is told as that.
        let mut ailing = false;
        for sensor in &sensors {
            ailing |= is_ailing(context, sensor)?;
        }
        if ailing {
            continue;
        }
        let cases = facts.some_volts_of(input.cavity.inside)?;
        if cases.cases.iter().any(|case| facts.folded(&case.solution)) {
            continue;
        }
        let before = out.len();
        let held = is_held(&input, &cases);
        for stimulus in &sensors {
            if held && is_read_elsewhere(context, &input, stimulus, &joined) {
                continue;
            }
            let i = stimulus.stimulus.index();
            let Some(stimulus) = context.circuit.stimuli.get(i) else { continue };
            if context.cancel.cancelled() {
                return Err(Cancelled);
            }
            // The state in which the sensor is at work: the first in which its signal moves.
            let Some(mut at_work) = widest(context, &input, i, &cases) else { continue };
            if at_work.0 < STILL {
                // At its nominal value it may read what another sensor reads, which a selector puts in its place: with this
                // one at the end of its span their states are told apart.
                let apart = facts.some_volts_with(input.cavity.inside, i.into(), stimulus.span.1)?;
                at_work = widest(context, &input, i, &apart).filter(|w| w.0 > at_work.0).unwrap_or(at_work);
            }
            let (span, readings, state) = at_work;
            if let Some(finding) = judge(context, &input, stimulus, range, span, &readings, &state) {
                out.push(finding);
            }
        }
        if out.len() == before {
            let steady = match steady::outside(context, &input, range, &cases) {
                Some(steady) => Some((steady, ", whatever is measured")),
                None if sensors.is_empty() => {
                    steady::pressed(context, &input, range, &cases)?.map(|s| (s, ""))
                }
                None => None,
            };
            let told = steady.and_then(|(steady, whatever)| hold(context, &input, range, steady, whatever));
            out.extend(told);
        }
    }
    Ok(())
}

/// What is said of an input that wiring alone holds outside of its range.
fn hold(
    context: &Context<'_>,
    input: &Input<'_>,
    range: (f64, f64),
    steady: Steady,
    whatever: &str,
) -> Option<Finding> {
    let facts = context.facts;
    let place = facts.pin_place(input.module, input.cavity)?;
    let path = steady.path.map_or(String::new(), |path| format!(". The path: {path}"));
    Some(
        RULE.at(
            place,
            format!(
                "{}, `{}` reads {}, outside of its range of {} .. {}{whatever}: the module takes that for a fault{path}",
                steady.when,
                facts.pin_name(input.module, input.cavity),
                words::quantity(steady.volts, "V"),
                words::digits(range.0),
                words::quantity(range.1, "V"),
            ),
        )
        .help("lead what was meant to this input, bring it down with a divider, or correct the range"),
    )
}

/// Whether a supply or a reference holds an input in every state.
fn is_held(input: &Input<'_>, cases: &Cases) -> bool {
    let mut states = cases.cases.iter().map(|case| node(&case.solution, input.cavity.inside));
    !cases.cases.is_empty() && states.all(|s| matches!(s, NodeState::Fed | NodeState::Referenced))
}

/// Whether another input reads a sensor of two wires at its other end: then this one has but its supply in common with it.
fn is_read_elsewhere(context: &Context<'_>, input: &Input<'_>, sensor: &Sensor, joined: &Flood) -> bool {
    let facts = context.facts;
    facts.sensor_pins(sensor).iter().filter(|&&pin| !joined.has(pin)).any(|&pin| {
        let there = facts.cavities_on(&facts.joined(pin));
        let other = |m, at| (m, at) != (input.module, input.at);
        there.iter().any(|&(m, at, c)| matches!(c.role, Role::Senses { .. }) && other(m, at))
    })
}

/// Whether a sensor has another finding that says more.
fn is_ailing(context: &Context<'_>, sensor: &Sensor) -> Result<bool, Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    if facts.reversed(sensor).is_some() || facts.lacks_return(sensor)? {
        return Ok(true);
    }
    let device = sensor.device;
    let pins = circuit.devices.get(device.index()).map_or(&[][..], |d| &d.pins);
    // Beyond a pin that is marked unused nothing is missing: a track is a mere resistor then.
    let spare = |p: PointId| pins.iter().any(|pin| pin.inside == p && pin.unused.is_some());
    let ends = |e: ElementId| circuit.elements.get(e.index()).is_some_and(|e| spare(e.from) || spare(e.to));
    let missing = match facts.device_paths(device)? {
        Some(paths) => paths
            .loads
            .iter()
            .any(|load| load.beyond || load.missing() != Missing::Nothing && !ends(load.element)),
        None => true,
    };
    let in_short = facts.shorts()?.iter().flat_map(|s| &s.path).any(|e| {
        let ends = circuit.elements.get(e.index()).map(|e| [e.from, e.to]);
        pins.iter().any(|pin| ends.is_some_and(|ends| ends.contains(&pin.outside)))
    });
    Ok(missing || in_short)
}

/// What is read at each step of a sensor's span.
type Readings = Vec<(f64, f64)>;

/// The span of the readings, the readings and the state in which they lie farthest apart; `None` where there are none.
fn widest(
    context: &Context<'_>,
    input: &Input<'_>,
    stimulus: usize,
    cases: &Cases,
) -> Option<(f64, Readings, State)> {
    let states = cases.cases.iter().take(16).map(|case| &case.solution.state);
    let mut widest: Option<(f64, _, _)> = None;
    for (readings, state) in states.filter_map(|state| sweep(context, input, stimulus, state)) {
        let low = readings.iter().map(|r| r.1).fold(f64::INFINITY, f64::min);
        let high = readings.iter().map(|r| r.1).fold(f64::NEG_INFINITY, f64::max);
        if widest.as_ref().is_none_or(|&(span, ..)| high - low > span + 1e-9) {
            widest = Some((high - low, readings, state));
        }
    }
    widest
}

/// What the module reads over the span in one state; `None` where the module is dead or the signal has no value.
fn sweep(
    context: &Context<'_>,
    input: &Input<'_>,
    stimulus: usize,
    state: &State,
) -> Option<(Readings, State)> {
    let (low, high) = context.circuit.stimuli.get(stimulus)?.span;
    let mut readings = Vec::with_capacity(STEPS);
    for step in 0..STEPS {
        let value = low + (high - low) * step as f64 / (STEPS - 1) as f64;
        let mut state = state.clone();
        *state.stimuli.get_mut(stimulus)? = value;
        let solution = solve(context.circuit, &state);
        if !solution.lives(input.module) || context.facts.folded(&solution) {
            return None;
        }
        let (c, k) = input.at;
        readings.push((value, solution.input_volts(context.circuit, input.module, c, k)?));
    }
    Some((readings, state.clone()))
}

fn judge(
    context: &Context<'_>,
    input: &Input<'_>,
    stimulus: &Stimulus,
    range: (f64, f64),
    span: f64,
    readings: &[(f64, f64)],
    state: &State,
) -> Option<Finding> {
    let facts = context.facts;
    let place = facts.pin_place(input.module, input.cavity)?;
    let pin = facts.pin_name(input.module, input.cavity);
    let (first, last) = (readings.first()?, readings.last()?);
    let over = format!("{} .. {}", value(stimulus, first.0), value(stimulus, last.0));
    let sensor =
        context.circuit.elements.get(stimulus.element.index()).and_then(|_| facts.place(stimulus.element));
    let see = |finding: Finding| match sensor.filter(|see| *see != place) {
        Some(see) => finding.see(see, "the sensor"),
        None => finding,
    };
    if span < STILL && (last.0 - first.0).abs() > 0.0 {
        return Some(see(RULE
            .at(
                place,
                format!(
                    "`{pin}` reads {} over the whole span of `{}` ({over}): the sensor makes no difference",
                    words::quantity(first.1, "V"),
                    stimulus.name
                ),
            )
            .help("look for a bridged sensor, a signal wire on the wrong pin, or a missing pull-up")));
    }
    let beyond = |&&(_, volts): &&(f64, f64)| volts < range.0 - SLACK || volts > range.1 + SLACK;
    let distance = |volts: f64| (range.0 - volts).max(volts - range.1);
    let worst = readings.iter().filter(beyond).max_by(|a, b| distance(a.1).total_cmp(&distance(b.1)))?;
    let away: Vec<_> = state
        .positions
        .iter()
        .enumerate()
        .filter(|(_, p)| **p != 0)
        .map(|(c, &p)| (c.into(), usize::from(p)))
        .collect();
    let when =
        if away.is_empty() { String::new() } else { format!(" {}", words::with(context.circuit, &away)) };
    Some(see(
        RULE.at(
            place,
            format!(
                "with `{}` at {} `{pin}` reads {}{when}, outside of its range of {} .. {}: the module takes that for a broken wire",
                stimulus.name,
                value(stimulus, worst.0),
                words::quantity(worst.1, "V"),
                words::digits(range.0),
                words::quantity(range.1, "V"),
            ),
        )
        .help("choose the pull-up, the sensor or the range so that the whole span fits"),
    ))
}

/// A stimulus's value as it is written.
fn value(stimulus: &Stimulus, value: f64) -> String {
    if let Some((number, unit)) = stimulus.written(value) {
        return format!("{} {unit}", words::digits(number));
    }
    match stimulus.kind {
        StimulusKind::Temperature => format!("{} degC", words::digits(value)),
        StimulusKind::Travel => words::percent(value),
        StimulusKind::Resistance => words::quantity(value, "ohm"),
        StimulusKind::Over(dimension) => keyon_solve::quantity(value, dimension),
    }
}
