//! Every pin and cavity with what lands on it.

use crate::Context;
use keyon_circuit::{
    ids::*,
    model::{self, Cavity, Connector, Device, ElementKind, Inline, InlineCavity, Loc, Module, Role},
};
use keyon_syntax::tree::ItemKind;
use smol_str::{SmolStr, format_smolstr};
use std::collections::BTreeMap;

/// A place that takes one wire.
pub(super) struct Pin<'a> {
    whose: Whose<'a>,
    /// The line of the device, the row of the cavity.
    pub(super) loc: Loc,
    pub(super) landings: &'a [ElementId],
    /// Where it is marked `unused`.
    pub(super) unused: Option<Loc>,
    /// Two sides of an in-line cavity take one wire each.
    pub(super) takes: usize,
    /// It is a module's bus pin.
    pub(super) bus: bool,
}

/// Names are made for what is told only: there are many pins.
enum Whose<'a> {
    Device(&'a Device, &'a model::Pin),
    Module(&'a Module, &'a Connector, &'a Cavity),
    Inline(&'a Inline, &'a InlineCavity),
}

impl Pin<'_> {
    /// `left_valve.2`, `SCU.A.4`, `C201.1`.
    pub(super) fn name(&self) -> SmolStr {
        match self.whose {
            Whose::Device(device, pin) => format_smolstr!("{}.{}", device.name, pin.name),
            Whose::Module(module, connector, cavity) => {
                format_smolstr!("{}.{}.{}", module.name, connector.name, cavity.number)
            }
            Whose::Inline(inline, cavity) => format_smolstr!("{}.{}", inline.name, cavity.name),
        }
    }

    /// What it is a pin of, where finding a whole one unwired gives one finding.
    pub(super) fn of(&self) -> Option<&SmolStr> {
        match self.whose {
            Whose::Device(device, _) => Some(&device.name),
            Whose::Inline(inline, _) => Some(&inline.name),
            Whose::Module(..) => None,
        }
    }

    /// Points that belong to it.
    pub(super) fn points(&self) -> impl Iterator<Item = PointId> + use<> {
        let (one, other) = match self.whose {
            Whose::Device(_, pin) => (pin.outside, None),
            Whose::Module(.., cavity) => (cavity.outside, None),
            Whose::Inline(_, cavity) => (cavity.a, Some(cavity.b)),
        };
        [Some(one), other].into_iter().flatten()
    }
}

/// Pins of devices, cavities of modules, cavities of in-line connectors.
pub(super) fn pins<'a>(context: &Context<'a>) -> Vec<Pin<'a>> {
    let circuit = context.circuit;
    let mut pins = Vec::with_capacity(circuit.points.len() / 2);
    for device in &circuit.devices {
        pins.extend(device.pins.iter().map(|pin| Pin {
            whose: Whose::Device(device, pin),
            loc: device.loc,
            landings: &pin.landings,
            unused: pin.unused,
            takes: 1,
            bus: false,
        }));
    }
    for module in &circuit.modules {
        for connector in &module.connectors {
            pins.extend(connector.cavities.iter().map(|cavity| Pin {
                whose: Whose::Module(module, connector, cavity),
                loc: context.facts.own_first([cavity.loc, module.loc]).unwrap_or(module.loc),
                landings: &cavity.landings,
                unused: cavity.unused,
                takes: 1,
                bus: matches!(cavity.role, Role::Bus { .. }),
            }));
        }
    }
    if circuit.inlines.is_empty() {
        return pins;
    }
    let spares = spares(context);
    for inline in &circuit.inlines {
        for cavity in &inline.cavities {
            let mut pin = Pin {
                whose: Whose::Inline(inline, cavity),
                loc: cavity.loc,
                landings: &cavity.landings,
                unused: None,
                takes: 2,
                bus: false,
            };
            if !spares.is_empty() {
                pin.unused = spares.get(&pin.name()).copied();
            }
            pins.push(pin);
        }
    }
    pins
}

/// Names in `unused …` items of the circuit's own file, each with its first place.
fn spares(context: &Context<'_>) -> BTreeMap<SmolStr, Loc> {
    let Some(file) = context.elaboration.files.first() else { return BTreeMap::new() };
    let mut spares = BTreeMap::new();
    for (item, placed) in file.parse.file.items.iter().enumerate() {
        if let ItemKind::Spare(names) = &placed.item.kind {
            let loc = |span| Loc { file: FileId(0), item: item as u32, span };
            for name in names {
                spares.entry(name.text.clone()).or_insert(loc(name.span));
            }
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
