//! What can only be resolved when every element is there: coils of other devices, when a supply is live.

use super::{Builder, declare::NO_ELEMENT};
use crate::{Entity, ids::*, model::*};

impl<'a> Builder<'a> {
    /// What could only be resolved when everything was there.
    pub(super) fn finish_connections(&mut self) {
        for wait in std::mem::take(&mut self.pending_coils) {
            self.find_coil(&wait);
        }
        for (element, (control, position), item) in std::mem::take(&mut self.pending_lives) {
            self.item = item;
            let found = self.resolve(control, "a control", &|c, entity| c.control_of(entity).is_some());
            let Some(id) = found.and_then(|entity| self.c.control_of(entity)) else {
                self.taint_fed_by(element);
                continue;
            };
            let known = self
                .c
                .controls
                .get(id.index())
                .and_then(|c| c.positions.iter().position(|p| *p == position.text));
            match known {
                Some(index) => {
                    let loc = self.place(position);
                    self.occurs(loc, Entity::Position(id, index), false);
                    if let Some(element) = self.c.elements.get_mut(element.index()) {
                        element.when = When::In { control: id, positions: 1 << index };
                    }
                }
                None => {
                    self.unknown_position(position, id);
                    self.taint_fed_by(element);
                }
            }
        }
        self.resolve_shares();
        self.rate_by_feed();
        self.taint_damaged();
        // Everything has its element by now; what was lost on the way must not be an index into nothing.
        debug_assert!(self.c.fuses.iter().all(|f| f.element != NO_ELEMENT));
        debug_assert!(self.c.devices.iter().flat_map(|d| &d.pins).all(|p| p.terminal != NO_ELEMENT));
    }

    /// When a supply is live is not known, and so not what hangs on it: what is wired to its terminal.
    pub(super) fn taint_fed_by(&mut self, supply: ElementId) {
        let Some(terminal) = self.c.elements.get(supply.index()).map(|e| e.to) else { return };
        let wired = self.c.elements.iter().filter(|e| !e.kind.is_source());
        let far = wired.filter_map(|e| match (e.from == terminal, e.to == terminal) {
            (true, false) => Some(e.to),
            (false, true) => Some(e.from),
            _ => None,
        });
        for point in far.collect::<Vec<_>>() {
            self.taint(point);
        }
    }

    fn find_coil(&mut self, wait: &super::edges::PendingCoil<'a>) {
        (self.file, self.item, self.mode) = (wait.file, wait.item, wait.mode);
        let circuit_only = |c: &Circuit, entity: Entity| coil_of(c, entity).is_some();
        // A coil of its own that was not read is no name that means nothing.
        let owner = self.c.elements.get(wait.element.index()).map(|e| e.owner);
        let lost = match owner {
            Some(Owner::Device(d)) if !wait.coil.text.contains('.') => {
                self.c.devices.get(d.index()).is_some_and(|d| self.open_ended.contains(&d.name))
            }
            _ => false,
        };
        let known = !lost || self.may_mean(wait.coil, &circuit_only) > 0;
        let found = if known { self.resolve(wait.coil, "a coil", &circuit_only) } else { None };
        let coil = found.and_then(|entity| coil_of(&self.c, entity));
        match coil {
            Some(coil) => self.set_energised(wait.element, coil, wait.open),
            None => {
                self.mode = super::Mode::Own;
                if let Some(Owner::Device(d)) = self.c.elements.get(wait.element.index()).map(|e| e.owner) {
                    self.taint_thing(Entity::Device(d));
                }
            }
        }
        (self.file, self.mode) = (FileId(0), super::Mode::Own);
    }
}

/// The coil that an entity is, or that is the only one of a device.
fn coil_of(circuit: &Circuit, entity: Entity) -> Option<ElementId> {
    let is_coil = |e: ElementId| circuit.elements.get(e.index()).is_some_and(|e| e.kind == ElementKind::Coil);
    match entity {
        Entity::Element(e) => Some(e).filter(|&e| is_coil(e)),
        Entity::Device(d) => {
            let mut coils = circuit.devices.get(d.index())?.elements.iter().copied().filter(|&e| is_coil(e));
            coils.next().filter(|_| coils.next().is_none())
        }
        _ => None,
    }
}
