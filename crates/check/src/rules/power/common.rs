//! What the rules of this group say in the same way.

use crate::{
    Context, Finding,
    facts::paths::{DevicePaths, LoadPaths, Missing, works},
    words,
};
use keyon_circuit::{
    ids::*,
    model::{Device, ElementKind, Law},
};
use keyon_solve::Cancelled;
use std::sync::Arc;

/// Every device with its paths, where something can be said of it.
pub(super) fn devices<'a>(
    context: &Context<'a>,
) -> impl Iterator<Item = Result<(DeviceId, &'a Device, Arc<DevicePaths>), Cancelled>> {
    let circuit = context.circuit;
    let facts = context.facts;
    circuit.devices.iter().enumerate().filter_map(move |(i, device)| {
        let id = DeviceId::from(i);
        facts.device_paths(id).map(|paths| Some((id, device, paths?))).transpose()
    })
}

/// The loads of a device that lack something of one kind, and whether that is all of them. Of a device with several
/// loads a single one is told only where its pins are wired and not marked as spare: else that is another finding.
pub(super) fn lacking(
    context: &Context<'_>,
    device: &Device,
    paths: &DevicePaths,
    lacks: impl Fn(Missing) -> bool,
) -> Option<(Vec<LoadPaths>, bool)> {
    let complete = paths.loads.iter().any(|load| load.missing() == Missing::Nothing);
    let lacking: Vec<LoadPaths> = paths.loads.iter().filter(|load| lacks(load.missing())).cloned().collect();
    if !complete {
        // The first lack of the device decides under which rule it stands.
        let first = paths.loads.iter().find(|load| load.missing() != Missing::Nothing)?;
        return lacks(first.missing()).then_some((lacking, true));
    }
    let told: Vec<LoadPaths> = lacking
        .into_iter()
        .filter(|load| {
            let Some(e) = context.circuit.elements.get(load.element.index()) else { return false };
            // A track whose wiper is tied to one of its ends is a mere setter of ohms: that part of it is meant to be dead.
            let setter = || context.facts.wired(e.from).has(e.to);
            let kind = works(e.kind) || (matches!(e.kind, ElementKind::Track(_)) && !setter());
            kind && [e.from, e.to].iter().all(|&point| {
                device
                    .pins
                    .iter()
                    .find(|pin| pin.inside == point)
                    .is_none_or(|pin| pin.unused.is_none() && !pin.landings.is_empty())
            })
        })
        .collect();
    (!told.is_empty()).then_some((told, false))
}

/// "pin 1 of `lamp`": the device's pin at an end of a load (`true`: its `from`); its feed pin for a transducer.
pub(super) fn pin(context: &Context<'_>, device: &Device, element: ElementId, from: bool) -> Option<String> {
    let e = context.circuit.elements.get(element.index())?;
    let point = match e.law {
        Law::Transducer { feed, .. } if !from => feed,
        _ if from => e.from,
        _ => e.to,
    };
    let pin = device.pins.iter().find(|pin| pin.inside == point)?;
    Some(format!("pin {} of `{}`", pin.name, device.name))
}

/// The diode that stands against the current at the end of a load that lacks something (`true`: its `from`).
pub(super) fn diode_against(context: &Context<'_>, load: &LoadPaths) -> Option<ElementId> {
    let e = context.circuit.elements.get(load.element.index())?;
    let (from, feed) = match load.missing() {
        Missing::Feed(Some(from)) => (from, true),
        Missing::Return(Some(from)) => (from, false),
        _ => return None,
    };
    let end = match e.law {
        Law::Transducer { feed, .. } if !from => feed,
        _ if from => e.from,
        _ => e.to,
    };
    context.facts.diode_against(end, feed)
}

/// The finding with a diode that is its cause, where there is one.
pub(super) fn blame_diode(context: &Context<'_>, finding: Finding, diode: Option<ElementId>) -> Finding {
    let Some(diode) = diode else { return finding };
    let name = words::diode(context.circuit, diode);
    let mut finding = finding;
    finding.message.push_str(&format!(". On the way {name} stands against the current"));
    let finding = finding.help(format!("turn {name} round: current passes a diode towards its bar only"));
    match context.facts.place(diode).filter(|see| *see != finding.loc) {
        Some(see) => finding.see(see, "the diode that blocks"),
        None => finding,
    }
}

/// "but the pull-down of `SCU.lamp_in` ": what joins the end that lacks something (`true`: its `from`) all the same, and carries
/// too little to be a feed or a return.
pub(super) fn but_a_pull(context: &Context<'_>, load: ElementId, from: bool) -> String {
    let circuit = context.circuit;
    let Some(e) = circuit.elements.get(load.index()).filter(|e| works(e.kind)) else { return String::new() };
    let reach = context.facts.wired(if from { e.from } else { e.to });
    let pull = context.facts.cavities_on(&reach).into_iter().find_map(|(module, _, cavity)| {
        let kinds = cavity.elements.iter().filter_map(|e| Some(circuit.elements.get(e.index())?.kind));
        let word = kinds.into_iter().find_map(|kind| match kind {
            ElementKind::PullUp => Some("pull-up"),
            ElementKind::PullDown => Some("pull-down"),
            _ => None,
        })?;
        Some(format!("but the {word} of `{}` ", context.facts.pin_name(module, cavity)))
    });
    pull.unwrap_or_default()
}

/// The device, or those of its loads that are meant.
pub(super) fn subject(context: &Context<'_>, device: &Device, loads: &[LoadPaths], all: bool) -> String {
    if all {
        format!("`{}`", device.name)
    } else {
        let list: Vec<_> = loads.iter().map(|load| words::name(context.circuit, load.element)).collect();
        words::names(&list)
    }
}
