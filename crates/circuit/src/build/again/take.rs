//! Values and places of one item, taken from a circuit in which it was read again.

use super::super::{Slot, marks::Made};
use crate::{ids::*, model::*};
use std::ops::Range;

/// Takes into `to` what `from` says of the values and places of an item. `None` where they differ in more: in how many things
/// there are, or in what kind of law an element follows.
pub(super) fn take(to: &mut Circuit, made: &Made, from: &Circuit, makes: &Made, item: u32) -> Option<()> {
    let own = |loc: Loc| loc.file == FileId(0) && loc.item == item;
    for (a, b) in both(&made.declared, &makes.declared)?.chain(both(&made.points, &makes.points)?) {
        to.points.get_mut(a)?.loc = from.points.get(b)?.loc;
    }
    for (a, b) in both(&made.elements, &makes.elements)? {
        let (element, new) = (to.elements.get_mut(a)?, from.elements.get(b)?);
        element.law = law(&element.law, &new.law)?;
        (element.rating, element.loc) = (new.rating, new.loc);
        if let (Some(name), Some(new)) =
            (to.index.element_names.get_mut(&a.into()), from.index.element_names.get(&b.into()))
        {
            *name = *new;
        }
    }
    for (a, b) in both(&made.wires, &makes.wires)? {
        let (wire, new) = (to.wires.get_mut(a)?, from.wires.get(b)?);
        wire.title.clone_from(&new.title);
        wire.loc = new.loc;
        for (stretch, new) in pairs(&mut wire.stretches, &new.stretches)? {
            *stretch = Stretch { element: stretch.element, ..new.clone() };
        }
    }
    for (a, b) in both(&made.controls, &makes.controls)? {
        let (control, new) = (to.controls.get_mut(a)?, from.controls.get(b)?);
        control.title.clone_from(&new.title);
        control.loc = new.loc;
        to.index.positions.get_mut(a)?.clone_from(from.index.positions.get(b)?);
    }
    for (a, b) in both(&made.stimuli, &makes.stimuli)? {
        to.stimuli.get_mut(a)?.loc = from.stimuli.get(b)?.loc;
    }
    for (a, b) in both(&made.branches, &makes.branches)? {
        let (branch, new) = (to.branches.get_mut(a)?, from.branches.get(b)?);
        branch.title.clone_from(&new.title);
        branch.loc = new.loc;
    }
    match (made.slot, makes.slot) {
        (Slot::None | Slot::Control(_), Slot::None | Slot::Control(_)) => {}
        (Slot::Ground(a), Slot::Ground(b)) => {
            let (ground, new) = (to.grounds.get_mut(a)?, from.grounds.get(b)?);
            ground.title.clone_from(&new.title);
            ground.attributes.clone_from(&new.attributes);
            ground.loc = new.loc;
        }
        (Slot::Splice(a), Slot::Splice(b)) => {
            let (splice, new) = (to.splices.get_mut(a)?, from.splices.get(b)?);
            splice.title.clone_from(&new.title);
            splice.attributes.clone_from(&new.attributes);
            splice.loc = new.loc;
        }
        (Slot::Inline(a), Slot::Inline(b)) => {
            let (inline, new) = (to.inlines.get_mut(a.index())?, from.inlines.get(b.index())?);
            inline.title.clone_from(&new.title);
            inline.attributes.clone_from(&new.attributes);
            inline.loc = new.loc;
            for (cavity, new) in pairs(&mut inline.cavities, &new.cavities)? {
                cavity.loc = new.loc;
            }
        }
        (Slot::Fuse(a), Slot::Fuse(b)) => {
            let (fuse, new) = (to.fuses.get_mut(a)?, from.fuses.get(b)?);
            fuse.title.clone_from(&new.title);
            fuse.attributes.clone_from(&new.attributes);
            fuse.loc = new.loc;
        }
        (Slot::Device(a), Slot::Device(b)) => {
            let (device, new) = (to.devices.get_mut(a.index())?, from.devices.get(b.index())?);
            device.title.clone_from(&new.title);
            device.attributes.clone_from(&new.attributes);
            device.loc = new.loc;
            for (pin, new) in pairs(&mut device.pins, &new.pins)? {
                pin.loc = new.loc;
                mark(&mut pin.unused, new.unused, own)?;
            }
        }
        (Slot::Module(a), Slot::Module(b)) => {
            module(to.modules.get_mut(a.index())?, from.modules.get(b.index())?, own)?;
        }
        _ => return None,
    }
    Some(())
}

fn module(module: &mut Module, new: &Module, own: impl Fn(Loc) -> bool + Copy) -> Option<()> {
    module.title.clone_from(&new.title);
    module.attributes.clone_from(&new.attributes);
    module.loc = new.loc;
    for (connector, new) in pairs(&mut module.connectors, &new.connectors)? {
        connector.title.clone_from(&new.title);
        connector.attributes.clone_from(&new.attributes);
        connector.loc = new.loc;
        for (cavity, new) in pairs(&mut connector.cavities, &new.cavities)? {
            match (&mut cavity.role, &new.role) {
                (Role::Reference { volts }, Role::Reference { volts: new }) => *volts = *new,
                (Role::Bus { volts, .. }, Role::Bus { volts: new, .. }) => *volts = *new,
                _ => {}
            }
            (cavity.limit, cavity.clamp, cavity.pwm) = (new.limit, new.clamp, new.pwm);
            (cavity.range, cavity.threshold) = (new.range, new.threshold);
            (cavity.name_loc, cavity.loc) = (new.name_loc, new.loc);
            mark(&mut cavity.unused, new.unused, own)?;
            match (&mut cavity.shared_by, &new.shared_by) {
                (Some((_, loc)), Some((_, new))) => *loc = *new,
                (None, None) => {}
                _ => return None,
            }
        }
    }
    for (gang, new) in pairs(&mut module.gangs, &new.gangs)? {
        gang.gaps.clone_from(&new.gaps);
        gang.rows.clone_from(&new.rows);
        gang.loc = new.loc;
    }
    Some(())
}

/// Where something is marked unused: by its own item, or by an `unused` line elsewhere, which stays.
fn mark(place: &mut Option<Loc>, new: Option<Loc>, own: impl Fn(Loc) -> bool) -> Option<()> {
    match (place, new) {
        (Some(place), Some(new)) => {
            if own(*place) {
                *place = new;
            }
            Some(())
        }
        (Some(place), None) => (!own(*place)).then_some(()),
        (None, None) => Some(()),
        (None, Some(_)) => None,
    }
}

/// A law with new values; what it follows stays.
fn law(old: &Law, new: &Law) -> Option<Law> {
    let mut law = new.clone();
    match (&mut law, old) {
        (Law::Thermistor { stimulus, .. }, Law::Thermistor { stimulus: kept, .. })
        | (Law::Track { stimulus, .. }, Law::Track { stimulus: kept, .. })
        | (Law::Variable { stimulus, .. }, Law::Variable { stimulus: kept, .. }) => *stimulus = *kept,
        (Law::Transducer { feed, stimulus, .. }, Law::Transducer { feed: point, stimulus: kept, .. }) => {
            (*feed, *stimulus) = (*point, *kept);
        }
        (new, old) => {
            if new.stimulus().is_some() || old.stimulus().is_some() {
                return None;
            }
        }
    }
    Some(law)
}

/// The indices of the same things in two circuits.
fn both(a: &Range<usize>, b: &Range<usize>) -> Option<impl Iterator<Item = (usize, usize)> + use<>> {
    (a.len() == b.len()).then(|| a.clone().zip(b.clone()))
}

fn pairs<'s, T>(a: &'s mut [T], b: &'s [T]) -> Option<impl Iterator<Item = (&'s mut T, &'s T)>> {
    (a.len() == b.len()).then(|| a.iter_mut().zip(b))
}
