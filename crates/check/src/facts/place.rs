//! Where a finding about an element stands: the line that a person would edit.

use super::Facts;
use keyon_circuit::{
    ids::*,
    model::{ElementKind, Loc, Owner},
};

impl Facts<'_> {
    /// The line of an element: its own, where it stands in this file and belongs to one thing only; else the line of
    /// the device or module that it is a part of.
    pub fn place(&self, element: ElementId) -> Option<Loc> {
        let circuit = self.circuit;
        let e = circuit.elements.get(element.index())?;
        let own = e.loc.file == FileId(0);
        Some(match e.owner {
            Owner::Device(id) => {
                let device = circuit.devices.get(id.index())?;
                // A contact of a part is right as it is; how the device is wired is not.
                if own && (device.part.is_none() || e.kind != ElementKind::Contact) {
                    e.loc
                } else {
                    device.loc
                }
            }
            Owner::Module(id, ..) if !own => circuit.modules.get(id.index())?.loc,
            _ => e.loc,
        })
    }

    /// The first of these places that stands in the file asked about, else the first.
    pub fn own_first(&self, places: impl IntoIterator<Item = Loc>) -> Option<Loc> {
        let mut first = None;
        for place in places {
            if place.file == FileId(0) {
                return Some(place);
            }
            first = first.or(Some(place));
        }
        first
    }
}

/// The line of a stage, by one of its elements.
pub fn place_of_stage(facts: &Facts<'_>, element: ElementId) -> Option<Loc> {
    let owner = facts.circuit.elements.get(element.index())?.owner;
    let Owner::Module(module, c, k) = owner else { return facts.place(element) };
    let stage = facts.stages().find(|s| s.module == module && s.at == (c, k))?;
    facts.stage_place(&stage)
}
