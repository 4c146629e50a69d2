//! A return that several share and nobody says so.

use crate::{
    Context, Finding,
    fix::{edit, modules},
    words,
};
use keyon_circuit::{
    ids::FileId,
    model::{Circuit, DeviceOrModule, Loc, Splice},
};
use keyon_solve::Cancelled;
use keyon_syntax::tree::ItemKind;
use smol_str::SmolStr;
use std::collections::BTreeSet;

crate::rule::rule! {
    name: "undeclared-shared-return",
    level: Warning,
    group: "return",
    summary: "Two or more devices share a return pin or its splice, and no `shared by` says so.",
    why: "\
One open wire in a shared return takes several sensors out at once, and all of them read high. Whoever does not know that \
it is shared replaces the sensors one after the other. `shared by` on the pin or on the splice says that it is meant, and \
who hangs on it. Devices that serve one and the same input, such as the buttons of a ladder or a sensor and the resistor beside it, share \
nothing by that: they make one reading.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let circuit = context.circuit;
    for net in context.facts.returns().iter().filter(|net| net.sharers.len() >= 2) {
        let Some(pin) = context.facts.return_pin(net) else { continue };
        let splices = || net.splices.iter().filter_map(|&s| circuit.splices.get(s));
        if pin.shared_by.is_some() {
            continue;
        }
        // Parts of one reading share nothing.
        if context.facts.parties(net, &net.sharers).len() < 2 {
            continue;
        }
        // Whether they make one reading is not known where a wire of theirs was not read.
        let unsure = |sharer: &DeviceOrModule| match sharer {
            DeviceOrModule::Device(d) => {
                let pins = circuit.devices.get(d.index()).map_or(&[][..], |d| &d.pins);
                pins.iter().any(|pin| context.facts.held(pin.outside))
            }
            DeviceOrModule::Module(_) => false,
        };
        if net.sharers.iter().any(unsure) {
            continue;
        }
        // Behind a splice that has a list the list is compared: see `shared-return-mismatch`.
        let listed: BTreeSet<DeviceOrModule> = net
            .splices
            .iter()
            .filter(|&&s| circuit.splices.get(s).is_some_and(|s| s.shared_by.is_some()))
            .flat_map(|&s| context.facts.sharers_behind(net, s))
            .collect();
        if net.sharers.is_subset(&listed) {
            continue;
        }
        let module = circuit.modules.get(net.module.index());
        let places =
            [Some(pin.loc)].into_iter().chain([splices().next().map(|s| s.loc), module.map(|m| m.loc)]);
        let Some(place) = context.facts.own_first(places.flatten()) else { continue };
        let name = format!("{}.{}", module.map_or("", |m| m.name.as_str()), pin.name);
        let sharers = names(circuit, &net.sharers);
        let list = sharers.iter().map(SmolStr::as_str).collect::<Vec<_>>().join(", ");
        let row = (pin.loc.file == FileId(0)).then_some(pin.loc);
        let declare = row.or_else(|| splice_head(context, splices().next()?)).map(|at| {
            let title = format!("say that {} share it", words::names(&sharers));
            edit::review(title, vec![modules::shared_by(at, &sharers)])
        });
        let mut finding = RULE
            .at(
                place,
                format!(
                    "{} share the return `{name}` and nothing says so: if it opens, all of them read wrong at once",
                    words::names(&sharers)
                ),
            )
            .help(format!("if that is meant, add `shared by {list}` to the pin or to the splice"))
            .fixes(declare);
        for splice in splices().filter(|s| s.loc != place) {
            finding = finding.see(splice.loc, "they meet here");
        }
        out.push(finding);
    }
    Ok(())
}

/// The name of a splice with its title, in this file.
fn splice_head(context: &Context<'_>, splice: &Splice) -> Option<Loc> {
    let ItemKind::Splice(item) = &edit::item(context.elaboration, splice.loc)?.kind else { return None };
    let title = item.title.as_ref().map(|t| t.others.last().map_or(t.text.span, |(_, text)| text.span));
    let span = title.map_or(item.name.span, |title| item.name.span.to(title));
    (splice.loc.file == FileId(0)).then_some(Loc { span, ..splice.loc })
}

/// Names of sharers.
pub(super) fn names<'a>(
    circuit: &Circuit,
    sharers: impl IntoIterator<Item = &'a DeviceOrModule>,
) -> Vec<SmolStr> {
    let name = |sharer: &DeviceOrModule| match sharer {
        DeviceOrModule::Device(d) => circuit.devices.get(d.index()).map(|d| d.name.clone()),
        DeviceOrModule::Module(m) => circuit.modules.get(m.index()).map(|m| m.name.clone()),
    };
    sharers.into_iter().filter_map(name).collect()
}
