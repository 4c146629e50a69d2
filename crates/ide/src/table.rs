//! Truth tables, as Markdown.

use crate::{View, shown};
use keyon_circuit::{
    Entity,
    ids::{ControlId, DeviceId, ElementId, PointId},
    model::{Circuit, ControlKind, Device, ElementKind, Owner, PointKind, When},
};
use keyon_solve::{Cancelled, Table, table};
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// States and rows of a table of one thing.
const ROWS: usize = 256;

/// The truth table of what is named: a device, a driver, a control, a module, a point; of everything without a name.
/// `None` if there is nothing of that name.
///
/// # Errors
/// When the view's `cancel` asks for it.
pub fn truth_table(view: &View<'_>, name: Option<&str>) -> Result<Option<String>, Cancelled> {
    let circuit = &view.elaboration.circuit;
    let Some(name) = name else {
        let base = shown::base(view);
        let table = table(circuit, &base, &[], &[], &[], view.cancel)?;
        return Ok(Some(keyon_present::table_markdown(
            circuit,
            &table,
            &base,
            &keyon_present::about::Asked::default(),
        )));
    };
    for entity in circuit.lookup(name) {
        let found = match entity {
            Entity::Device(device) => match circuit.devices.get(device.index()) {
                Some(device) if !has_loads(circuit, device) => {
                    device.control.map(|control| of_controls(view, &[control], ROWS)).transpose()?.flatten()
                }
                _ => of_device(view, device, ROWS)?,
            },
            Entity::Module(module) => {
                let controls: Vec<_> = (0..circuit.controls.len())
                    .filter(|&at| {
                        circuit.controls.get(at).is_some_and(|control| match control.kind {
                            ControlKind::Stage(m, ..)
                            | ControlKind::Gang(m, _)
                            | ControlKind::Return(m, ..) => m == module,
                            ControlKind::Device(_) | ControlKind::Free => false,
                        })
                    })
                    .map(ControlId::from)
                    .collect();
                of_controls(view, &controls, ROWS)?
            }
            entity => match (circuit.control_of(entity), circuit.point_of(entity)) {
                (Some(control), _) => of_controls(view, &[control], ROWS)?,
                (None, Some(point)) => {
                    let table = table(circuit, &shown::base(view), &[], &[point], &[], view.cancel)?;
                    Some(render(circuit, &table))
                }
                (None, None) => None,
            },
        };
        if found.is_some() {
            return Ok(found);
        }
    }
    Ok(None)
}

/// Whether a device has a state of its own: a switch has none.
pub(crate) fn has_loads(circuit: &Circuit, device: &Device) -> bool {
    device
        .elements
        .iter()
        .any(|id| circuit.elements.get(id.index()).is_some_and(|element| element.kind.is_load()))
}

/// Whether a device can operate, or rest: a sensor can do neither.
pub(crate) fn can_operate(circuit: &Circuit, device: &Device) -> bool {
    use ElementKind::{Coil, Heater, Lamp, Winding};
    let mut kinds = device.elements.iter().filter_map(|id| circuit.elements.get(id.index())).map(|e| e.kind);
    kinds.any(|kind| matches!(kind, Coil | Heater | Lamp | Winding))
}

/// The table of one device, of so many states at the most.
pub(crate) fn of_device(view: &View<'_>, device: DeviceId, most: usize) -> Result<Option<String>, Cancelled> {
    let circuit = &view.elaboration.circuit;
    let base = shown::base(view);
    let table = view.survey(&base).table(&[device], &[], &[], most, view.cancel)?;
    Ok((!table.groups.is_empty()).then(|| render(circuit, &table)))
}

/// The table of the devices that depend on any of these controls, of so many states at the most; `None` if none does.
pub(crate) fn of_controls(
    view: &View<'_>,
    controls: &[ControlId],
    most: usize,
) -> Result<Option<String>, Cancelled> {
    if controls.is_empty() {
        return Ok(None);
    }
    let circuit = &view.elaboration.circuit;
    let base = shown::base(view);
    // In a very large circuit the table of everything takes seconds: there only what is near is looked at, and that is said.
    let near = if circuit.elements.len() > LARGE { near(circuit, controls) } else { Vec::new() };
    let mut table = view.survey(&base).table(&near, &[], &[], most, view.cancel)?;
    table.groups.retain(|group| group.controls.iter().any(|control| controls.contains(control)));
    let note =
        if near.is_empty() { String::new() } else { format!("\nOf the {} nearest devices.\n", near.len()) };
    Ok((!table.groups.is_empty()).then(|| render(circuit, &table) + &note))
}

/// Elements above which not every device is asked whether it depends on a control.
const LARGE: usize = 3_000;
/// How many are asked at the most then; of fewer the larger the circuit is, since each takes the longer.
const NEAREST: usize = 24;

/// The devices with loads that are the fewest elements away from what these controls move; not through supplies and ground.
fn near(circuit: &Circuit, controls: &[ControlId]) -> Vec<DeviceId> {
    let mut at: BTreeMap<PointId, Vec<(ElementId, PointId)>> = BTreeMap::new();
    let mut queue = VecDeque::new();
    let most = (NEAREST * LARGE / circuit.elements.len().max(1)).clamp(4, NEAREST);
    for (i, e) in circuit.elements.iter().enumerate() {
        at.entry(e.from).or_default().push((i.into(), e.to));
        at.entry(e.to).or_default().push((i.into(), e.from));
        if matches!(e.when, When::In { control, .. } if controls.contains(&control)) {
            queue.extend([e.from, e.to]);
        }
    }
    let mut seen: BTreeSet<PointId> = queue.iter().copied().collect();
    let mut found = Vec::new();
    while let Some(point) = queue.pop_front() {
        let kind = circuit.points.get(point.index()).map(|p| p.kind);
        if matches!(kind, Some(PointKind::Common | PointKind::Supply(_) | PointKind::Ground(_)) | None) {
            continue;
        }
        for &(element, to) in at.get(&point).map_or(&[][..], Vec::as_slice) {
            if let Some(Owner::Device(d)) = circuit.elements.get(element.index()).map(|e| e.owner)
                && !found.contains(&d)
                && circuit.devices.get(d.index()).is_some_and(|d| has_loads(circuit, d))
            {
                found.push(d);
                if found.len() == most {
                    return found;
                }
            }
            if seen.insert(to) {
                queue.push_back(to);
            }
        }
    }
    found
}

/// A table as Markdown.
fn render(circuit: &Circuit, table: &Table) -> String {
    keyon_present::groups_markdown(circuit, table)
}
