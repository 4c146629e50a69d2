//! Every pin and cavity with what lands on it.

use crate::Context;
use keyon_circuit::{
    ids::*,
    model::{ElementKind, Loc, Role},
};
use keyon_syntax::tree::ItemKind;
use smol_str::{SmolStr, format_smolstr};
use std::collections::BTreeSet;

/// A place that takes one wire.
pub(super) struct Pin<'a> {
    /// `left_valve.2`, `SCU.A.4`, `C201.1`.
    pub(super) name: SmolStr,
    /// What it is a pin of: finding a whole one unwired gives one finding.
    pub(super) of: SmolStr,
    /// The line of the device, the row of the cavity.
    pub(super) loc: Loc,
    pub(super) landings: &'a [ElementId],
    /// Where it is marked `unused`.
    pub(super) unused: Option<Loc>,
    /// Points that belong to it.
    pub(super) points: Vec<PointId>,
    /// Two sides of an in-line cavity take one wire each.
    pub(super) takes: usize,
    /// It is a module's bus pin.
    pub(super) bus: bool,
}

/// Pins of devices, cavities of modules, cavities of in-line connectors.
pub(super) fn pins<'a>(context: &Context<'a>) -> Vec<Pin<'a>> {
    let circuit = context.circuit;
    let mut pins = Vec::new();
    for device in &circuit.devices {
        for pin in &device.pins {
            pins.push(Pin {
                name: format_smolstr!("{}.{}", device.name, pin.name),
                of: device.name.clone(),
                loc: device.loc,
                landings: &pin.landings,
                unused: pin.unused,
                points: vec![pin.outside],
                takes: 1,
                bus: false,
            });
        }
    }
    for module in &circuit.modules {
        for connector in &module.connectors {
            for cavity in &connector.cavities {
                let own = context.facts.own_first([cavity.loc, module.loc]);
                pins.push(Pin {
                    name: format_smolstr!("{}.{}.{}", module.name, connector.name, cavity.number),
                    of: SmolStr::default(),
                    loc: own.unwrap_or(module.loc),
                    landings: &cavity.landings,
                    unused: cavity.unused,
                    points: vec![cavity.outside],
                    takes: 1,
                    bus: matches!(cavity.role, Role::Bus { .. }),
                });
            }
        }
    }
    let spares = spares(context);
    for inline in &circuit.inlines {
        for cavity in &inline.cavities {
            let name = format_smolstr!("{}.{}", inline.name, cavity.name);
            pins.push(Pin {
                of: inline.name.clone(),
                loc: cavity.loc,
                landings: &cavity.landings,
                unused: spares.iter().find(|(spare, _)| *spare == name).map(|(_, loc)| *loc),
                points: vec![cavity.a, cavity.b],
                takes: 2,
                bus: false,
                name,
            });
        }
    }
    pins
}

/// Names in `unused …` items of the circuit's own file.
fn spares(context: &Context<'_>) -> BTreeSet<(SmolStr, Loc)> {
    let Some(file) = context.elaboration.files.first() else { return BTreeSet::new() };
    let mut spares = BTreeSet::new();
    for (item, placed) in file.parse.file.items.iter().enumerate() {
        if let ItemKind::Spare(names) = &placed.item.kind {
            let loc = |span| Loc { file: FileId(0), item: item as u32, span };
            spares.extend(names.iter().map(|name| (name.text.clone(), loc(name.span))));
        }
    }
    spares
}

/// Only the wires among what lands somewhere.
pub(super) fn wires<'a>(
    context: &'a Context<'_>,
    landings: &'a [ElementId],
) -> impl Iterator<Item = ElementId> + 'a {
    let wire =
        |e: &&ElementId| context.circuit.elements.get(e.index()).is_some_and(|e| e.kind == ElementKind::Wire);
    landings.iter().filter(wire).copied()
}
