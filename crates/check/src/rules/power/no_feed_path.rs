//! A device that no supply or reference ever reaches.

use super::common::{blame_diode, but_a_pull, devices, diode_against, lacking, pin, subject};
use crate::{
    Context, Finding,
    facts::{
        modules::Life,
        paths::{Missing, senses},
    },
    words,
};
use keyon_circuit::model::COMMON;
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "no-feed-path",
    level: Error,
    group: "power",
    summary: "A load, a sensor or a module has no path to any supply or reference in any state.",
    why: "\
Nothing works without a feed, whatever is commanded. On the machine this is an open feed wire; in a drawing it is most \
often a wire that was forgotten or that lands on the wrong splice. A sensor counts as fed by its module's reference, or \
by the pull-up inside the module; a load also through another load in series, but not by a pull-up, which carries milliamps.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    for found in devices(context) {
        let (id, device, paths) = found?;
        let Some((loads, all)) = lacking(context, device, &paths, |m| matches!(m, Missing::Feed(_))) else {
            continue;
        };
        let Some(first) = loads.first() else { continue };
        if context.facts.tells_of_an_open_load(id, first.element)? {
            continue;
        }
        let ends =
            context.circuit.elements.get(first.element.index()).map_or([COMMON; 2], |e| [e.from, e.to]);
        if ends.iter().any(|&end| context.facts.hangs_on_damage(end) || context.facts.doubtful(end)) {
            continue;
        }
        let (at, but) = match first.missing() {
            Missing::Feed(Some(from)) => {
                (pin(context, device, first.element, from), but_a_pull(context, first.element, from))
            }
            _ => (None, String::new()),
        };
        let sensor = context.circuit.elements.get(first.element.index()).is_some_and(|e| senses(e.kind));
        let source = if sensor { "a reference, a supply or a pull-up" } else { "a supply" };
        let message = match at {
            Some(pin) => format!("nothing {but}joins {pin} to {source} in any state"),
            None => format!(
                "nothing joins either end of {} to {source} in any state",
                subject(context, device, &loads, all)
            ),
        };
        let so = if sensor { "it can never give a signal" } else { "it can never work" };
        let finding = RULE.at(device.loc, format!("{message}: {so}")).help(if sensor {
            "wire it to its module's reference, or to an input with a pull-up"
        } else {
            "wire it to a supply through a fuse, or follow its feed wire to where it ends"
        });
        out.push(blame_diode(context, finding, diode_against(context, first)));
    }
    for (m, module) in context.circuit.modules.iter().enumerate() {
        let feeds = module.feeds.iter().filter_map(|&at| crate::facts::modules::cavity(module, at));
        let unsure = feeds.into_iter().any(|feed| context.facts.hangs_on_damage(feed.outside));
        if context.facts.life(m.into())? == Life::NoFeed && !unsure {
            let feeds = module.feeds.iter().filter_map(|&at| crate::facts::modules::cavity(module, at));
            let names: Vec<_> = feeds.map(|cavity| cavity.name.clone()).collect();
            let plural = if names.len() == 1 { "feed" } else { "feeds" };
            let message = format!(
                "no supply ever reaches the {plural} {} of `{}` without a load between, so the module is dead: its \
                 drivers stay open and its references are off",
                words::names(&names),
                module.name
            );
            let finding = RULE.at(module.loc, message).help("wire a feed to a supply through a fuse");
            let feeds = module.feeds.iter().filter_map(|&at| crate::facts::modules::cavity(module, at));
            let diode = feeds.into_iter().find_map(|c| context.facts.diode_against(c.outside, true));
            out.push(blame_diode(context, finding, diode));
        }
    }
    Ok(())
}
