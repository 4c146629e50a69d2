//! A `shared by` that does not say who really shares.

use super::undeclared_shared_return::names;
use crate::{Context, Finding, facts::returns::ReturnNet, fix::edit, words};
use keyon_circuit::{
    Elaboration,
    model::{DeviceOrModule, Loc, Pin},
};
use keyon_solve::Cancelled;
use keyon_syntax::{Span, tree::ItemKind};
use std::collections::BTreeSet;

crate::rule::rule! {
    name: "shared-return-mismatch",
    level: Warning,
    group: "return",
    summary: "The devices that `shared by` names are not those that the wires join to the return.",
    why: "\
The list is what a person reads when several sensors fail together. One that is missing from it is looked for elsewhere; one that \
is listed but hangs on another return is measured for nothing. Of devices that serve one and the same input, such as the buttons of a \
ladder, one in the list stands for all.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let circuit = context.circuit;
    for net in context.facts.returns() {
        let Some(pin) = context.facts.return_pin(net) else { continue };
        // A return that no wire leaves is told as that.
        if let Some((declared, loc)) = pin.shared_by.as_ref().filter(|_| !pin.landings.is_empty()) {
            let name = format!("return `{}`", pin.name);
            out.extend(compare(context, net, declared, &net.sharers, *loc, &name));
        }
        for &index in &net.splices {
            let Some(splice) = circuit.splices.get(index) else { continue };
            if let Some(declared) = &splice.shared_by {
                let behind = context.facts.sharers_behind(net, index);
                out.extend(compare(
                    context,
                    net,
                    declared,
                    &behind,
                    splice.loc,
                    &format!("splice `{}`", splice.name),
                ));
            }
        }
    }
    Ok(())
}

/// The names of a list: of a splice those in its item, of a pin the place itself.
fn list_at(elaboration: &Elaboration, loc: Loc) -> Option<Loc> {
    match &edit::item(elaboration, loc)?.kind {
        ItemKind::Splice(splice) => {
            let span = splice.shared_by.first()?.span.to(splice.shared_by.last()?.span);
            Some(Loc { span, ..loc })
        }
        _ => Some(loc),
    }
}

/// Whether a comma stands behind a list.
fn is_cut_short(elaboration: &Elaboration, list: Loc) -> bool {
    let file = elaboration.files.get(list.file.index());
    let behind = file.and_then(|file| file.text.get(elaboration.span(list).end as usize..));
    behind.is_some_and(|text| text.trim_start_matches([' ', '\t']).starts_with(','))
}

/// Whether a sharer, or a wire at one of its pins, was not read to its end: what it hangs on is not known. Nor is it where a pin
/// has no wire, which is told as that.
fn is_unread(context: &Context<'_>, sharer: DeviceOrModule) -> bool {
    let held = |point| context.facts.held(point);
    match sharer {
        DeviceOrModule::Device(d) => {
            let pins = context.circuit.devices.get(d.index()).map_or(&[][..], |d| &d.pins);
            let open = |pin: &Pin| pin.landings.is_empty() && pin.unused.is_none();
            pins.is_empty() || pins.iter().any(|pin| held(pin.outside) || open(pin))
        }
        DeviceOrModule::Module(m) => {
            let connectors = context.circuit.modules.get(m.index()).map_or(&[][..], |m| &m.connectors);
            let mut cavities = connectors.iter().flat_map(|c| &c.cavities).peekable();
            cavities.peek().is_none() || cavities.any(|cavity| held(cavity.outside))
        }
    }
}

fn compare(
    context: &Context<'_>,
    net: &ReturnNet,
    declared: &[DeviceOrModule],
    computed: &BTreeSet<DeviceOrModule>,
    loc: Loc,
    what: &str,
) -> Option<Finding> {
    let circuit = context.circuit;
    let declared: BTreeSet<DeviceOrModule> = declared.iter().copied().collect();
    if declared == *computed {
        return None;
    }
    // A name in it that means nothing is a finding of its own.
    let list = list_at(context.elaboration, loc);
    let listed = list.map_or("", |list| context.elaboration.text(list));
    // Nor is it known what was to follow a comma at its end.
    if list.is_some_and(|list| is_cut_short(context.elaboration, list)) {
        return None;
    }
    let names_in_list: BTreeSet<&str> = listed.split(',').map(str::trim).filter(|n| !n.is_empty()).collect();
    if names_in_list.len() > declared.len() {
        return None;
    }
    // One part of a reading stands for all of its parts.
    let parties = context.facts.parties(net, computed);
    let told = |sharer: &&DeviceOrModule| {
        parties.iter().any(|party| party.contains(*sharer) && !party.is_disjoint(&declared))
    };
    let missing = names(circuit, computed.difference(&declared).filter(|sharer| !told(sharer)));
    let absent = names(circuit, declared.difference(computed).filter(|sharer| !is_unread(context, **sharer)));
    let mut says = Vec::new();
    if !missing.is_empty() {
        let hang = if missing.len() == 1 { "hangs" } else { "hang" };
        says.push(format!("{} {hang} on it too", words::names(&missing)));
    }
    if !absent.is_empty() {
        let hang = if absent.len() == 1 { "does not hang" } else { "do not hang" };
        says.push(format!("{} {hang} on it", words::names(&absent)));
    }
    if says.is_empty() {
        return None;
    }
    let right = names(circuit, computed).join(", ");
    let help = if computed.len() < 2 {
        match absent.as_slice() {
            [] => "take `shared by` off: it is not shared".to_owned(),
            absent => format!(
                "lead the return of {} to it, or take `shared by` off if it is not to be shared",
                words::names(absent)
            ),
        }
    } else {
        format!("by the wires it is `shared by {right}`; correct the list, or the wire")
    };
    let correct = || {
        let elaboration = context.elaboration;
        let list = list_at(elaboration, loc)?;
        if computed.len() < 2 {
            // From the word before the list on.
            let before = elaboration.text(Loc { span: Span { start: 0, end: list.span.start }, ..list });
            let start = before.rfind("shared")? as u32;
            let span = Span { start, end: list.span.end };
            let edit = (Loc { span, ..list }, String::new());
            return Some(edit::review("take `shared by` off", vec![edit]));
        }
        Some(edit::review(format!("write `shared by {right}`"), vec![(list, right.clone())]))
    };
    Some(
        RULE.at(loc, format!("`shared by` of the {what} is not what the wires say: {}", says.join(", and ")))
            .help(help)
            .fixes(correct()),
    )
}
