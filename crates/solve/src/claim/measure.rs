//! What a meter, a clamp, a test lamp or an eye finds.

use super::{Got, Refusal, ohms::resistance};
use crate::{
    Amps, NodeState, Solution, State,
    cases::query::element_state,
    probe::{self, Shown, TEST_LAMP},
    table::device_words,
};
use keyon_circuit::{ids::*, model::*};
use keyon_syntax::unit::Dimension;
use smol_str::SmolStr;

/// What is to be found: a number of this dimension, or words.
type Wanted = Option<Dimension>;

/// Measures in a solved state: a number of the dimension `wanted`, or what one sees where it is `None`.
///
/// # Errors
/// Where that cannot be measured there, or must not be.
pub fn measure(
    circuit: &Circuit,
    solution: &Solution,
    probe: Probe,
    wanted: Option<Dimension>,
) -> Result<Got, Refusal> {
    match probe {
        Probe::Point(p) => match told(circuit, solution, p).filter(|_| wanted == Some(Dimension::Voltage)) {
            Some(volts) => Ok(Got::volts(volts)),
            None => point(solution, p, wanted),
        },
        Probe::Input(m, c, k) => input(circuit, solution, (m, c, k), wanted),
        Probe::Device(d) => device(circuit, solution, d, wanted),
        Probe::Element(e) | Probe::Clamp(e) => element(circuit, solution, e, wanted),
        Probe::Across(a, b) => match wanted {
            Some(Dimension::Voltage) => between(circuit, &solution.state, a, b, solution.state.options.meter),
            _ => unfit("two leads read volts (or ohms, with `ohms`)"),
        },
        Probe::Ohms(a, b) => match wanted {
            None | Some(Dimension::Resistance) => {
                let [a, b] = on_the_part(circuit, solution, [a, b]).unwrap_or([a, b]);
                resistance(circuit, solution, a, b)
            }
            _ => unfit("an ohmmeter reads ohms"),
        },
        Probe::Lamp(a, b) => lamp(circuit, solution, a, b, wanted),
    }
}

/// Where ohms are read between two pins of a device that is unplugged: on the part, not on the plug that was taken off.
fn on_the_part(circuit: &Circuit, solution: &Solution, ends: [PointId; 2]) -> Option<[PointId; 2]> {
    let pin = |p: PointId| match circuit.points.get(p.index())?.kind {
        PointKind::Pin(device, at) => Some((device, circuit.devices.get(device.index())?.pins.get(at)?)),
        _ => None,
    };
    let [(one, a), (other, b)] = [pin(ends[0])?, pin(ends[1])?];
    let off = |pin: &Pin| solution.conducts.get(pin.terminal.index()) == Some(&false);
    (one == other && off(a) && off(b)).then_some([a.inside, b.inside])
}

fn unfit<T>(why: &str) -> Result<T, Refusal> {
    Err(Refusal::Unfit(why.into()))
}

fn at<T: Copy>(values: &[T], index: usize) -> Option<T> {
    values.get(index).copied()
}

/// The volts that a bus cavity is said to have: data is not computed, and nothing else is known of it.
fn told(circuit: &Circuit, solution: &Solution, p: PointId) -> Option<f64> {
    let (PointKind::Cavity(m, c, k) | PointKind::CavityInside(m, c, k)) = circuit.points.get(p.index())?.kind
    else {
        return None;
    };
    let Role::Bus { volts, .. } = circuit.modules.get(m.index())?.connectors.get(c)?.cavities.get(k)?.role
    else {
        return None;
    };
    volts.filter(|_| at(&solution.node_states, p.index()) == Some(NodeState::Open))
}

fn point(solution: &Solution, p: PointId, wanted: Wanted) -> Result<Got, Refusal> {
    let state = at(&solution.node_states, p.index()).unwrap_or(NodeState::Open);
    match wanted {
        None => Ok(Got::words(state.words())),
        Some(Dimension::Voltage) => Ok(match at(&solution.volts, p.index()).flatten() {
            Some(value) => {
                let remark = (state == NodeState::Open).then(|| SmolStr::new_static("open"));
                Got::Number { value, dimension: Dimension::Voltage, remark }
            }
            None => Got::words(state.words()),
        }),
        Some(Dimension::Current) => {
            unfit("a point has no current of its own: name the wire, the fuse or the device")
        }
        Some(Dimension::Resistance) => unfit("resistance is measured between two points: `ohms A to B`"),
        Some(_) => unfit("a point has a voltage and a state, nothing else"),
    }
}

fn input(
    circuit: &Circuit,
    solution: &Solution,
    (m, c, k): (ModuleId, usize, usize),
    wanted: Wanted,
) -> Result<Got, Refusal> {
    let cavity = circuit.modules.get(m.index()).and_then(|m| m.connectors.get(c)?.cavities.get(k));
    let volts = solution.input_volts(circuit, m, c, k);
    match wanted {
        Some(Dimension::Voltage) => Ok(volts.map_or(Got::words("floating"), Got::volts)),
        None => {
            let Some(cavity) = cavity else { return unfit("there is no such input") };
            match (cavity.threshold, volts) {
                (Some(threshold), Some(volts)) => {
                    Ok(Got::words(if volts >= threshold { "high" } else { "low" }))
                }
                (Some(_), None) => Ok(Got::words("floating")),
                (None, _) => point(solution, cavity.inside, None),
            }
        }
        Some(_) => unfit("an input reads volts, or high and low"),
    }
}

fn device(circuit: &Circuit, solution: &Solution, d: DeviceId, wanted: Wanted) -> Result<Got, Refusal> {
    let Some((device, state)) = circuit.devices.get(d.index()).zip(solution.devices.get(d.index())) else {
        return unfit("there is no such device");
    };
    let loads: Vec<ElementId> = device
        .elements
        .iter()
        .copied()
        .filter(|e| circuit.elements.get(e.index()).is_some_and(|e| e.kind.is_load()))
        .collect();
    match (wanted, loads.as_slice()) {
        (None, _) => Ok(Got::Words(device_words(state))),
        (Some(_), &[only]) => element(circuit, solution, only, wanted),
        // A device of several elements: what flows into it, whichever way.
        (Some(Dimension::Current), _) => {
            let mut total = 0.0;
            for pin in &device.pins {
                match at(&solution.amps, pin.terminal.index()) {
                    Some(Amps::Known(amps)) => total += amps.abs() / 2.0,
                    Some(Amps::Unlimited) => return Ok(Got::words("unlimited")),
                    None => {}
                }
            }
            Ok(Got::number(total, Dimension::Current))
        }
        (Some(Dimension::Voltage), _) => match device.pins.as_slice() {
            [a, b] => between(circuit, &solution.state, a.outside, b.outside, solution.state.options.meter),
            _ => unfit("this device has several pins: name two of them"),
        },
        _ => unfit("a device has a state and a current"),
    }
}

fn element(circuit: &Circuit, solution: &Solution, e: ElementId, wanted: Wanted) -> Result<Got, Refusal> {
    let Some(element) = circuit.elements.get(e.index()) else { return unfit("there is no such part") };
    let amps = at(&solution.amps, e.index()).unwrap_or(Amps::Known(0.0));
    let across = || between(circuit, &solution.state, element.from, element.to, solution.state.options.meter);
    match wanted {
        Some(Dimension::Current) => {
            Ok(amps.known().map_or(Got::words("unlimited"), |a| Got::number(a, Dimension::Current)))
        }
        Some(Dimension::Voltage) => across(),
        Some(Dimension::Power) => Ok(match (across()?, amps) {
            (Got::Number { value, .. }, Amps::Known(amps)) => Got::number(value * amps, Dimension::Power),
            (other, _) => other,
        }),
        Some(_) => unfit("a part has a current, a voltage across it, and a state"),
        None => Ok(Got::Words(match element.kind {
            ElementKind::Fuse(_) => {
                let blown = solution.blown.iter().any(|(b, _)| *b == e);
                SmolStr::new_static(if blown { "blown" } else { "good" })
            }
            ElementKind::Contact | ElementKind::Stage => {
                let on = at(&solution.conducts, e.index()).unwrap_or(false);
                SmolStr::new_static(if on { "closed" } else { "open" })
            }
            _ => match element_state(circuit, solution, e) {
                Some(state) => SmolStr::new_static(state.words()),
                None => ends(solution, element),
            },
        })),
    }
}

/// The node state of a wire: of both its ends, if they differ.
fn ends(solution: &Solution, element: &Element) -> SmolStr {
    let state = |p: PointId| at(&solution.node_states, p.index()).unwrap_or(NodeState::Open);
    let (from, to) = (state(element.from), state(element.to));
    if from == to {
        SmolStr::new_static(from.words())
    } else {
        smol_str::format_smolstr!("{} to {}", from.words(), to.words())
    }
}

/// Volts of `a` over `b` as something of so many ohms between them reads it.
fn between(circuit: &Circuit, state: &State, a: PointId, b: PointId, ohms: f64) -> Result<Got, Refusal> {
    Ok(match probe::across(circuit, state, a, b, ohms) {
        Shown::Volts(volts) => Got::volts(volts),
        Shown::Clash => Got::words(NodeState::Clash.words()),
        Shown::Unsettled => Got::words(NodeState::Chatters.words()),
        // Both hang in the air together: nothing drives the meter.
        Shown::Floating => {
            Got::Number { value: 0.0, dimension: Dimension::Voltage, remark: Some("open".into()) }
        }
    })
}

/// A test lamp.
fn lamp(
    circuit: &Circuit,
    solution: &Solution,
    a: PointId,
    b: PointId,
    wanted: Wanted,
) -> Result<Got, Refusal> {
    let got = between(circuit, &solution.state, a, b, TEST_LAMP)?;
    let Got::Number { value, .. } = got else { return Ok(got) };
    match wanted {
        None => Ok(Got::words(probe::glow(circuit, value).words())),
        Some(Dimension::Voltage) => Ok(Got::volts(value)),
        Some(Dimension::Current) => Ok(Got::number(value / TEST_LAMP, Dimension::Current)),
        Some(_) => unfit("a test lamp is bright, dim or dark"),
    }
}
