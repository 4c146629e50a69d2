//! Truth tables, as Markdown.

use crate::{View, shown};
use keyon_circuit::{
    Entity,
    ids::{ControlId, DeviceId},
    model::{Circuit, ControlKind, Device},
};
use keyon_solve::{Cancelled, Survey, Table, table};

/// States and rows of a table that is shown along with something else.
const HOVER: usize = 256;

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
                    device.control.map(|control| of_controls(view, &[control])).transpose()?.flatten()
                }
                _ => of_device(view, device)?,
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
                of_controls(view, &controls)?
            }
            entity => match (circuit.control_of(entity), circuit.point_of(entity)) {
                (Some(control), _) => of_controls(view, &[control])?,
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

/// The table of one device.
pub(crate) fn of_device(view: &View<'_>, device: DeviceId) -> Result<Option<String>, Cancelled> {
    let circuit = &view.elaboration.circuit;
    let base = shown::base(view);
    let table = Survey::new(circuit, &base).table(&[device], &[], &[], HOVER, view.cancel)?;
    Ok((!table.groups.is_empty()).then(|| render(circuit, &table)))
}

/// The table of the devices that depend on any of these controls; `None` if none does.
pub(crate) fn of_controls(view: &View<'_>, controls: &[ControlId]) -> Result<Option<String>, Cancelled> {
    if controls.is_empty() {
        return Ok(None);
    }
    let circuit = &view.elaboration.circuit;
    let base = shown::base(view);
    let mut table = Survey::new(circuit, &base).table(&[], &[], &[], HOVER, view.cancel)?;
    table.groups.retain(|group| group.controls.iter().any(|control| controls.contains(control)));
    Ok((!table.groups.is_empty()).then(|| render(circuit, &table)))
}

/// A table as Markdown.
fn render(circuit: &Circuit, table: &Table) -> String {
    keyon_present::groups_markdown(circuit, table)
}
