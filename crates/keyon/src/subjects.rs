//! What the names on a command line mean.

use crate::output::Failure;
use keyon_circuit::{
    Elaboration, Entity,
    ids::*,
    model::{Circuit, ControlKind, Role},
};
use keyon_solve::{
    fault::Complaint,
    sweep::{Axis, Watch},
};

/// What `--of` asks for.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Subjects {
    pub(crate) devices: Vec<DeviceId>,
    pub(crate) points: Vec<PointId>,
    /// The devices that these have a say in.
    pub(crate) controls: Vec<ControlId>,
}

/// Resolves the names of `--of`.
pub(crate) fn subjects(elaboration: &Elaboration, names: &[String]) -> Result<Subjects, Failure> {
    let circuit = &elaboration.circuit;
    let mut found = Subjects::default();
    for name in names {
        let entity = one(elaboration, name, "a device, a point, a control, a driver or a module", |c, e| {
            is_device_with_loads(c, e)
                || c.control_of(e).is_some()
                || matches!(e, Entity::Module(_) | Entity::Device(_))
                || (c.point_of(e).is_some() && !matches!(e, Entity::Wire(_) | Entity::Element(_)))
        })?;
        match entity {
            Entity::Device(device) if is_device_with_loads(circuit, entity) => found.devices.push(device),
            Entity::Module(module) => found.controls.extend(controls_of(circuit, module)),
            // A driver named by its cavity's number is asked about as a point, by its name as a driver.
            Entity::Cavity(..) if !names_a_cavity_number(circuit, entity, name) => {
                match (circuit.control_of(entity), circuit.point_of(entity)) {
                    (Some(control), _) => found.controls.push(control),
                    (None, Some(point)) => found.points.push(point),
                    (None, None) => {}
                }
            }
            _ => match (circuit.point_of(entity), circuit.control_of(entity)) {
                (Some(point), _) => found.points.push(point),
                (None, Some(control)) => found.controls.push(control),
                (None, None) => {
                    return Err(Failure::Message(format!(
                        "`{name}` has nothing to tabulate: it has no load and no positions"
                    )));
                }
            },
        }
    }
    Ok(found)
}

/// `SCU.A.4` as against `SCU.left_cmd` or `left_cmd`.
fn names_a_cavity_number(circuit: &Circuit, entity: Entity, name: &str) -> bool {
    circuit.name_of(entity) == name
}

fn is_device_with_loads(circuit: &Circuit, entity: Entity) -> bool {
    matches!(entity, Entity::Device(device) if keyon_present::state::has_loads(circuit, device))
}

/// The controls that a module moves.
fn controls_of(circuit: &Circuit, module: ModuleId) -> impl Iterator<Item = ControlId> + '_ {
    circuit.controls.iter().enumerate().filter_map(move |(index, control)| match control.kind {
        ControlKind::Stage(m, ..) | ControlKind::Gang(m, _) | ControlKind::Return(m, ..) if m == module => {
            Some(ControlId::from(index))
        }
        _ => None,
    })
}

/// The point that a name means.
pub(crate) fn point(elaboration: &Elaboration, name: &str) -> Result<PointId, Failure> {
    let circuit = &elaboration.circuit;
    // A device's inner side has a name only in what we print: read it too.
    let inner = || circuit.points.iter().position(|p| p.name == name).map(PointId::from);
    match one(elaboration, name, "a point (a pin, a cavity, a splice, a supply, a ground point)", |c, e| {
        c.point_of(e).is_some()
    }) {
        Ok(entity) => match circuit.point_of(entity) {
            Some(point) => Ok(point),
            None => Err(Failure::Message(no_point(circuit, entity, name))),
        },
        Err(failure) => inner().ok_or(failure),
    }
}

/// What does not work: a device, else a point.
pub(crate) fn complaint(elaboration: &Elaboration, name: &str) -> Result<Complaint, Failure> {
    let circuit = &elaboration.circuit;
    let device = circuit.lookup(name).into_iter().find_map(|entity| match entity {
        Entity::Device(device) if is_device_with_loads(circuit, entity) => Some(device),
        _ => None,
    });
    match device {
        Some(device) => Ok(Complaint::Device(device)),
        None => point(elaboration, name).map(Complaint::Point),
    }
}

/// What has connectors or pins.
pub(crate) fn connected(elaboration: &Elaboration, name: &str) -> Result<Entity, Failure> {
    one(elaboration, name, "a module, a connector or a device", |_, e| {
        matches!(
            e,
            Entity::Module(_)
                | Entity::Connector(..)
                | Entity::Device(_)
                | Entity::Inline(_)
                | Entity::Cavity(..)
        )
    })
}

/// What a drawing may be about.
pub(crate) fn drawable(elaboration: &Elaboration, name: &str) -> Result<Entity, Failure> {
    let wanted = "a device, a module, a connector, a fuse, a wire or a point";
    one(elaboration, name, wanted, |c, e| {
        use Entity::{Connector, Device, Fuse, Inline, Module};
        c.point_of(e).is_some() || matches!(e, Device(_) | Module(_) | Connector(..) | Inline(_) | Fuse(_))
    })
}

/// The things that a drawing of these shows: each with all that lies on a way to its feed and its return.
pub(crate) fn things(elaboration: &Elaboration, names: &[String]) -> Result<Vec<keyon_draw::Thing>, Failure> {
    let starts = names.iter().map(|name| drawable(elaboration, name)).collect::<Result<Vec<_>, _>>()?;
    Ok(keyon_present::things_about(&elaboration.circuit, &starts))
}

/// What a sweep reads: an input by its name, else a point.
pub(crate) fn watch(elaboration: &Elaboration, name: &str) -> Result<Watch, Failure> {
    let circuit = &elaboration.circuit;
    let inputs = circuit.lookup(name).into_iter().filter_map(|entity| match entity {
        Entity::Cavity(m, c, k) if !names_a_cavity_number(circuit, entity, name) => {
            let senses = circuit.cavity(m, c, k).is_some_and(|k| matches!(k.role, Role::Senses { .. }));
            senses.then_some(Watch::Input(m, c, k))
        }
        _ => None,
    });
    match inputs.collect::<Vec<_>>().as_slice() {
        [only] => Ok(*only),
        // Of several of one name the full names are asked for; a point is a point.
        _ => point(elaboration, name).map(Watch::Point),
    }
}

/// What is swept: a sensor, or a supply.
pub(crate) fn axis(elaboration: &Elaboration, name: &str) -> Result<Axis, Failure> {
    let circuit = &elaboration.circuit;
    let of = |entity: Entity| match entity {
        Entity::Supply(index) => Some(Axis::Supply(index)),
        _ => circuit.stimulus_of(entity).map(Axis::Stimulus),
    };
    let wanted = "a sensor (its temperature, travel, pressure, resistance) or a supply";
    let all = circuit.lookup(name);
    let mut found: Vec<Axis> = all.iter().copied().filter_map(of).collect();
    found.dedup();
    match (found.as_slice(), all.first()) {
        ([only], _) => Ok(*only),
        ([], Some(&other)) => Err(Failure::Message(format!(
            "`{name}` is {} and cannot be swept: name {wanted}",
            with_article(&elaboration.describe(other), name)
        ))),
        ([], None) => {
            let stimuli = circuit.stimuli.iter().map(|s| s.name.as_str());
            let names = stimuli.chain(circuit.supplies.iter().map(|s| s.name.as_str()));
            Err(Failure::Message(match keyon_syntax::nearest(name, names) {
                Some(nearest) => format!("nothing is called `{name}`: did you mean `{nearest}`?"),
                None => format!("nothing is called `{name}`: name {wanted}"),
            }))
        }
        _ => Err(Failure::Message(format!("`{name}` may be several things: write its full name"))),
    }
}

/// "a wire", "an in-line connector, Gate", "the common ground": what a thing of this name is.
fn with_article(described: &str, name: &str) -> String {
    let described = described.replacen(&format!(" `{name}`"), "", 1);
    if described.starts_with("the ") || described.starts_with("readings") {
        return described;
    }
    let article = if described.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" };
    format!("{article} {described}")
}

/// What to do where a device stands for a point.
fn no_point(circuit: &Circuit, entity: Entity, name: &str) -> String {
    let points: Vec<String> = match entity {
        Entity::Device(d) => circuit.devices.get(d.index()).map_or_else(Vec::new, |device| {
            device.pins.iter().map(|pin| format!("{name}.{}", pin.name)).collect()
        }),
        Entity::Fuse(e) | Entity::Element(e) => {
            circuit.elements.get(e.index()).map_or_else(Vec::new, |element| {
                let name = |p: PointId| circuit.points.get(p.index()).map(|p| p.name.to_string());
                [element.from, element.to].into_iter().filter_map(name).collect()
            })
        }
        Entity::Connector(m, c) => {
            circuit.modules.get(m.index()).and_then(|m| m.connectors.get(c)).map_or_else(Vec::new, |c| {
                c.cavities.iter().map(|k| format!("{name}.{}", k.number)).collect()
            })
        }
        _ => Vec::new(),
    };
    if points.is_empty() {
        format!("`{name}` is no point: name a pin, a cavity, a splice, a supply or a ground point")
    } else {
        format!("`{name}` is no point: name one of {}", points.join(", "))
    }
}

/// The one thing that a name means, if `fits` where several are called so.
fn one(
    elaboration: &Elaboration,
    name: &str,
    wanted: &str,
    fits: impl Fn(&Circuit, Entity) -> bool,
) -> Result<Entity, Failure> {
    let circuit = &elaboration.circuit;
    let all = circuit.lookup(name);
    let mut fitting = all.iter().copied().filter(|&entity| fits(circuit, entity));
    match (fitting.next(), fitting.next()) {
        (Some(one), None) => Ok(one),
        (Some(first), Some(second)) => {
            let [first, second] = [first, second].map(|it| with_article(&elaboration.describe(it), name));
            Err(Failure::Message(format!("`{name}` may be {first} or {second}: write its full name")))
        }
        (None, _) => match all.first() {
            Some(&other) if circuit.point_of(other).is_none() => {
                Err(Failure::Message(no_point(circuit, other, name)))
            }
            Some(&other) => {
                let it = with_article(&elaboration.describe(other), name);
                Err(Failure::Message(format!("`{name}` is {it}, not {wanted}")))
            }
            None => Err(Failure::Message(unknown(circuit, name, wanted))),
        },
    }
}

fn unknown(circuit: &Circuit, name: &str, wanted: &str) -> String {
    let mut names: Vec<String> = Vec::new();
    names.extend(circuit.devices.iter().map(|d| d.name.to_string()));
    names.extend(circuit.modules.iter().map(|m| m.name.to_string()));
    names.extend(circuit.controls.iter().flat_map(|c| [c.name.to_string(), c.qualified.to_string()]));
    for point in keyon_present::shown::shown_points(circuit, None) {
        names.push(point.name.to_string());
        names.extend(point.alias.map(|alias| alias.to_string()));
    }
    match keyon_syntax::nearest(name, names.iter().map(String::as_str)) {
        Some(nearest) => format!("nothing is called `{name}`: did you mean `{nearest}`?"),
        None => format!("nothing is called `{name}`: name {wanted}"),
    }
}
