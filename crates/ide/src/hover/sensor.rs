//! Hover on a sensor: a card of what it senses against what the module sees, and what the module sees when it breaks.

use super::{Page, point};
use crate::{View, display::volts, shown};
use keyon_circuit::{
    ids::{DeviceId, ElementId, ModuleId, StimulusId},
    model::{Change, Circuit, Device, ElementKind, Law, Owner, Role},
};
use keyon_present::figure;
use keyon_solve::{Cancelled, Solution, sensor::thermistor, solve};

/// Whether all that a device has in it senses something.
pub(super) fn is_sensor(circuit: &Circuit, device: &Device) -> bool {
    let mut loads = device
        .elements
        .iter()
        .filter_map(|id| circuit.elements.get(id.index()))
        .filter(|element| element.kind.is_load())
        .peekable();
    loads.peek().is_some()
        && loads.all(|element| {
            use ElementKind::*;
            matches!(element.kind, Thermistor | Track(_) | Variable | Transducer)
        })
}

/// The card, in the state that is shown.
pub(super) fn card(view: &View<'_>, page: &mut Page, id: DeviceId, name: &str) -> Result<(), Cancelled> {
    let circuit = &view.elaboration.circuit;
    let Some(device) = circuit.devices.get(id.index()) else { return Ok(()) };
    let (state, _) = shown::state(view);
    let shown = view.solve(&state);
    let inputs = inputs(circuit, device, &shown);
    let of_device = |element: ElementId| {
        circuit.elements.get(element.index()).is_some_and(|element| element.owner == Owner::Device(id))
    };
    for (at, stimulus) in circuit.stimuli.iter().enumerate().filter(|(_, s)| of_device(s.element)) {
        let stimulus_id = StimulusId::from(at);
        let mut headings = vec![stimulus.name.to_string()];
        let resistive = matches!(
            circuit.elements.get(stimulus.element.index()).map(|element| &element.law),
            Some(Law::Thermistor { .. } | Law::Variable { .. })
        );
        if resistive {
            headings.push("ohms".into());
        }
        headings.extend(columns(circuit, device, &inputs));
        let mut text = format!("| {} |\n|{}\n", headings.join(" | "), "---|".repeat(headings.len()));
        let mut line = |first: String, ohms: String, solution: &Solution| {
            let mut cells = vec![first];
            if resistive {
                cells.push(ohms);
            }
            cells.extend(readings(circuit, device, &inputs, solution));
            text.push_str(&format!("| {} |\n", cells.join(" | ")));
        };
        let now = state.stimuli.get(at).copied().unwrap_or(stimulus.nominal);
        for value in values(stimulus.span, stimulus.nominal, now) {
            if view.cancel.cancelled() {
                return Err(Cancelled);
            }
            let shows = figure::of_stimulus(value, stimulus);
            let ohms = ohms(circuit, stimulus.element, value);
            #[allow(clippy::float_cmp)] // it is the very same number
            if value == now {
                line(format!("**{shows}**"), ohms, &shown);
                continue;
            }
            let mut state = state.clone();
            if let Some(slot) = state.stimuli.get_mut(stimulus_id.index()) {
                *slot = value;
            }
            line(shows, ohms, &solve(circuit, &state));
        }
        for (what, changes) in faults(circuit, device) {
            let mut state = state.clone();
            state.changes.extend(changes);
            line(what.into(), String::new(), &solve(circuit, &state));
        }
        page.say(&format!("What the module sees {name}:"));
        page.say(&text);
    }
    Ok(())
}

/// The span in quarters, with the nominal value and the one that is set.
fn values(span: (f64, f64), nominal: f64, now: f64) -> Vec<f64> {
    let mut values: Vec<f64> = (0..=4).map(|n| span.0 + (span.1 - span.0) * f64::from(n) / 4.0).collect();
    values.extend([nominal, now]);
    values.sort_by(f64::total_cmp);
    values.dedup();
    values
}

fn ohms(circuit: &Circuit, element: ElementId, value: f64) -> String {
    match circuit.elements.get(element.index()).map(|element| &element.law) {
        Some(Law::Thermistor { curve, .. }) => figure::ohms(thermistor(curve, value)),
        Some(Law::Variable { .. }) => figure::ohms(value),
        _ => String::new(),
    }
}

/// A wire or the sensor itself open; a two-wire sensor also bridged.
fn faults(circuit: &Circuit, device: &Device) -> Vec<(&'static str, Vec<Change>)> {
    let mut faults = vec![("unplugged", device.pins.iter().map(|pin| Change::Open(pin.terminal)).collect())];
    if let ([_, _], Some(element)) = (device.pins.as_slice(), device.elements.first())
        && circuit.elements.get(element.index()).is_some_and(|element| element.kind.is_load())
    {
        faults.push(("shorted", vec![Change::Replace(*element, Law::Joint)]));
    }
    faults
}

/// The inputs that hang on a pin of the device.
fn inputs(circuit: &Circuit, device: &Device, solution: &Solution) -> Vec<(ModuleId, usize, usize)> {
    let net = |point: keyon_circuit::ids::PointId| solution.nets.get(point.index()).copied();
    let nets: Vec<_> = device.pins.iter().filter_map(|pin| net(pin.outside)).collect();
    let mut inputs = Vec::new();
    for (m, module) in circuit.modules.iter().enumerate() {
        for (c, connector) in module.connectors.iter().enumerate() {
            for (k, cavity) in connector.cavities.iter().enumerate() {
                // Wires with resistance part the nets: then the wire's other end tells.
                let reaches = net(cavity.outside).is_some_and(|net| nets.contains(&net))
                    || cavity.landings.iter().any(|id| {
                        circuit.elements.get(id.index()).is_some_and(|wire| {
                            [wire.from, wire.to]
                                .iter()
                                .any(|&end| net(end).is_some_and(|net| nets.contains(&net)))
                        })
                    });
                if matches!(cavity.role, Role::Senses { .. }) && reaches {
                    inputs.push((m.into(), c, k));
                }
            }
        }
    }
    inputs
}

fn columns(circuit: &Circuit, device: &Device, inputs: &[(ModuleId, usize, usize)]) -> Vec<String> {
    if inputs.is_empty() {
        return device.pins.iter().map(|pin| format!("{}.{}", device.name, pin.name)).collect();
    }
    let names = inputs.iter().filter_map(|&(module, connector, cavity)| {
        let name = &circuit.modules.get(module.index())?.name;
        Some(format!("{name} {}", circuit.cavity(module, connector, cavity)?.name))
    });
    names.collect()
}

fn readings(
    circuit: &Circuit,
    device: &Device,
    inputs: &[(ModuleId, usize, usize)],
    solution: &Solution,
) -> Vec<String> {
    if inputs.is_empty() {
        return device.pins.iter().map(|pin| point::reads(solution, pin.outside)).collect();
    }
    let reading = |&(module, connector, cavity): &(ModuleId, usize, usize)| {
        solution.input_volts(circuit, module, connector, cavity).map_or_else(|| "floats".into(), volts)
    };
    inputs.iter().map(reading).collect()
}
