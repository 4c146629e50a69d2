//! The names of a circuit as completions.

use super::{CompletionKind as Kind, List};
use crate::View;
use keyon_circuit::{
    Entity,
    entity::role_words,
    model::{Circuit, PointKind, Role},
};
use keyon_syntax::{tree, unit::Dimension};

/// Points to wire, those that nothing reaches yet first.
pub(super) fn points(view: &View<'_>, qualifier: Option<&str>, list: &mut List) {
    let circuit = &view.elaboration.circuit;
    if let Some(qualifier) = qualifier {
        return below(circuit, qualifier, false, list);
    }
    let mut wired = Vec::new();
    for point in &circuit.points {
        let (free, detail) = match point.kind {
            PointKind::Supply(_) => (false, "supply".into()),
            PointKind::Ground(_) => (false, "ground point".into()),
            PointKind::Splice(_) => (false, "splice".into()),
            PointKind::Pin(device, pin) => {
                let Some(device) = circuit.devices.get(device.index()) else { continue };
                let free =
                    device.pins.get(pin).is_some_and(|pin| pin.landings.is_empty() && pin.unused.is_none());
                (free, device.title.clone().unwrap_or_else(|| "pin".into()))
            }
            PointKind::Cavity(module, connector, cavity) => {
                let Some(cavity) = circuit.cavity(module, connector, cavity) else { continue };
                let free = cavity.landings.is_empty() && cavity.role != Role::Unused;
                (free, format!("{} ({})", cavity.name, role_words(&cavity.role)))
            }
            PointKind::InlineSide(inline, cavity, true) => {
                // Named without its side: the first wire takes one, the second the other.
                let Some(inline) = circuit.inlines.get(inline.index()) else { continue };
                let Some(cavity) = inline.cavities.get(cavity) else { continue };
                let name = format!("{}.{}", inline.name, cavity.name);
                wired.push((cavity.landings.len() >= 2, name, "in-line cavity".to_owned()));
                continue;
            }
            PointKind::Common
            | PointKind::PinInside(..)
            | PointKind::CavityInside(..)
            | PointKind::InlineSide(..)
            | PointKind::Internal => continue,
        };
        let detail = if free { format!("{detail}, not wired yet") } else { detail };
        wired.push((!free, point.name.to_string(), detail));
    }
    wired.sort_by_key(|(wired, ..)| *wired);
    for (_, name, detail) in wired {
        list.add(Kind::Point, name, Some(detail));
    }
    for name in super::fresh::undeclared(view, "") {
        list.add(Kind::Point, name, Some("used, and declared nowhere yet".into()));
    }
}

/// What may follow a dot; elements of devices only where something is measured or seen.
pub(super) fn below(circuit: &Circuit, qualifier: &str, elements: bool, list: &mut List) {
    let mut segments = qualifier.split('.');
    let (first, second) = (segments.next().unwrap_or_default(), segments.next());
    for entity in circuit.lookup(first) {
        match entity {
            Entity::Device(id) if second.is_none() => {
                let Some(device) = circuit.devices.get(id.index()) else { continue };
                for pin in &device.pins {
                    let free = pin.landings.is_empty() && pin.unused.is_none();
                    list.add(Kind::Point, pin.name.as_str(), free.then(|| "not wired yet".into()));
                }
                let all = device.elements.iter().filter(|_| elements);
                for element in all.filter_map(|id| circuit.elements.get(id.index())) {
                    if let Some(name) =
                        element.name.strip_prefix(first).and_then(|name| name.strip_prefix('.'))
                    {
                        list.add(Kind::Device, name, Some("element".into()));
                    }
                }
            }
            Entity::Module(id) => {
                let Some(module) = circuit.modules.get(id.index()) else { continue };
                for connector in &module.connectors {
                    match second {
                        None => {
                            let title = connector.title.clone();
                            list.add(
                                Kind::Device,
                                connector.name.as_str(),
                                Some(title.unwrap_or_else(|| "connector".into())),
                            );
                            for cavity in connector.cavities.iter().filter(|cavity| !cavity.name.is_empty()) {
                                list.add(
                                    Kind::Point,
                                    cavity.name.as_str(),
                                    Some(role_words(&cavity.role).into()),
                                );
                            }
                        }
                        Some(second) if connector.name == second => {
                            for cavity in &connector.cavities {
                                let detail = format!("{} ({})", cavity.name, role_words(&cavity.role));
                                list.add(Kind::Point, cavity.number.as_str(), Some(detail));
                            }
                        }
                        Some(_) => {}
                    }
                }
            }
            Entity::Inline(id) => {
                let Some(inline) = circuit.inlines.get(id.index()) else { continue };
                match second {
                    None => {
                        for cavity in &inline.cavities {
                            list.add(Kind::Point, cavity.name.as_str(), None);
                        }
                    }
                    Some(_) => {
                        for side in ["a", "b"] {
                            list.add(Kind::Point, side, Some("side of the connector".into()));
                        }
                    }
                }
            }
            _ => {}
        }
    }
}

/// Devices and modules.
pub(super) fn devices(view: &View<'_>, list: &mut List) {
    let circuit = &view.elaboration.circuit;
    for device in &circuit.devices {
        list.add(Kind::Device, device.name.as_str(), device.title.clone());
    }
    for module in &circuit.modules {
        list.add(Kind::Device, module.name.as_str(), module.title.clone());
    }
}

/// What can be unplugged: devices, connectors.
pub(super) fn plugs(view: &View<'_>, list: &mut List) {
    let circuit = &view.elaboration.circuit;
    for device in &circuit.devices {
        list.add(Kind::Device, device.name.as_str(), device.title.clone());
    }
    for module in &circuit.modules {
        for connector in &module.connectors {
            list.add(Kind::Device, format!("{}.{}", module.name, connector.name), connector.title.clone());
        }
    }
    for inline in &circuit.inlines {
        list.add(Kind::Device, inline.name.as_str(), inline.title.clone());
    }
}

/// Fuses, breakers, links.
pub(super) fn fuses(view: &View<'_>, list: &mut List) {
    for fuse in &view.elaboration.circuit.fuses {
        list.add(Kind::Device, fuse.name.as_str(), fuse.title.clone());
    }
}

/// Wires that have a number.
pub(super) fn wires(view: &View<'_>, list: &mut List) {
    for wire in view.elaboration.circuit.wires.iter().filter(|wire| wire.numbered) {
        list.add(Kind::Device, wire.name.as_str(), Some("wire".into()));
    }
}

/// Controls, sensors and supplies: what a scenario sets.
pub(super) fn settings(view: &View<'_>, list: &mut List) {
    let circuit = &view.elaboration.circuit;
    for control in &circuit.controls {
        list.add(Kind::Control, control.name.as_str(), Some(control.positions.join(", ")));
    }
    for stimulus in &circuit.stimuli {
        list.add(Kind::Control, stimulus.name.as_str(), Some("sensor".into()));
    }
    for supply in &circuit.supplies {
        list.add(Kind::Control, supply.name.as_str(), Some("supply".into()));
    }
}

/// The positions of a control; what a supply can be said to be.
pub(super) fn positions(view: &View<'_>, control: &str, list: &mut List) -> bool {
    let circuit = &view.elaboration.circuit;
    if let Some(supply) = circuit.supplies.iter().find(|supply| supply.name == control) {
        let range = |volts: f64| Some(format!("{} V", keyon_present::figure::volts(volts)));
        list.add(Kind::Position, "resting", range(supply.volts.nominal));
        if let Some((low, high)) = supply.range {
            list.add(Kind::Position, "running", range(high));
            list.add(Kind::Position, "cranking", range(low));
        }
        return true;
    }
    let ids = circuit.lookup(control).into_iter().filter_map(|entity| circuit.control_of(entity));
    let named = ids.filter_map(|id| circuit.controls.get(id.index())).next();
    // A half-typed file may have lost the control's own entity, but not its name.
    let found =
        named.or_else(|| circuit.controls.iter().find(|c| c.name == control || c.qualified == control));
    let Some(control) = found else { return false };
    for (at, position) in control.positions.iter().enumerate() {
        list.add(Kind::Position, position.as_str(), (at == 0).then(|| "rest position".into()));
    }
    true
}

/// What a sensor is set in.
pub(super) fn stimulus_dimension(view: &View<'_>, name: &str) -> Option<Dimension> {
    use keyon_circuit::model::StimulusKind;
    let circuit = &view.elaboration.circuit;
    for entity in circuit.lookup(name) {
        if let Entity::Supply(_) = entity {
            return Some(Dimension::Voltage);
        }
        if let Some(stimulus) = circuit.stimulus_of(entity).and_then(|id| circuit.stimuli.get(id.index())) {
            return Some(match stimulus.kind {
                StimulusKind::Temperature => Dimension::Temperature,
                StimulusKind::Travel => Dimension::Ratio,
                StimulusKind::Resistance => Dimension::Resistance,
                StimulusKind::Over(dimension) => dimension,
            });
        }
    }
    None
}

/// Scenarios.
pub(super) fn scenarios(view: &View<'_>, list: &mut List) {
    for scenario in &view.elaboration.circuit.scenarios {
        list.add(Kind::Scenario, scenario.name.as_str(), scenario.title.clone());
    }
}

/// Parts in scope.
pub(super) fn parts(view: &View<'_>, modules: bool, qualifier: Option<&str>, list: &mut List) {
    for (name, part) in &view.elaboration.scope {
        let Some(part) = view.elaboration.parts.get(*part).filter(|part| part.module == modules) else {
            continue;
        };
        let label = match qualifier {
            Some(qualifier) => name.strip_prefix(qualifier).and_then(|name| name.strip_prefix('.')),
            None => Some(name.as_str()),
        };
        if let Some(label) = label {
            list.add(Kind::Part, label, part.title.clone());
        }
    }
}

/// Parameters of a part.
pub(super) fn parameters(view: &View<'_>, part: &str, list: &mut List) {
    for param in part_named(view, part).into_iter().flat_map(|part| &part.params) {
        list.add(Kind::Parameter, param.name.as_str(), None);
    }
}

/// What a parameter of a part measures; of its only one without a name.
pub(super) fn parameter_dimension(view: &View<'_>, part: &str, name: Option<&str>) -> Option<Dimension> {
    let params = &part_named(view, part)?.params;
    let param = match name {
        Some(name) => params.iter().find(|param| param.name == name),
        None => params.first(),
    };
    param?.dimension
}

/// The cavities of a module part, as `uses` names them.
pub(super) fn cavities_of_part(view: &View<'_>, part: &str, qualifier: Option<&str>, list: &mut List) {
    for (connector, cavity, name) in part_named(view, part).into_iter().flat_map(|part| &part.cavities) {
        let detail = name.as_ref().map(ToString::to_string);
        match qualifier {
            None => list.add(Kind::Point, format!("{connector}.{cavity}"), detail),
            Some(qualifier) if qualifier == connector => list.add(Kind::Point, cavity.as_str(), detail),
            Some(_) => {}
        }
    }
}

fn part_named<'a>(view: &View<'a>, name: &str) -> Option<&'a keyon_circuit::PartInfo> {
    let (_, part) = view.elaboration.scope.iter().find(|(scoped, _)| scoped == name)?;
    view.elaboration.parts.get(*part)
}

/// The body of the device or part that the cursor stands in, as far as it can be read.
pub(super) fn body_at<'a>(view: &View<'a>, start: u32) -> Option<&'a tree::Body> {
    crate::place::item_at(view, start)?.item.kind.body()
}

/// The pinout of the module or part that the cursor stands in.
pub(super) fn pinout_at<'a>(view: &View<'a>, start: u32) -> Option<&'a tree::Pinout> {
    crate::place::item_at(view, start)?.item.kind.pinout()
}
