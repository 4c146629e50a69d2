//! A device that has a feed but never a way to ground.

use super::common::{blame_diode, but_a_pull, devices, diode_against, lacking, pin, subject};
use super::lost_return::{Lost, return_end, tell};
use crate::{
    Context, Finding,
    facts::{
        modules::Life,
        paths::{Missing, senses},
    },
    words,
};
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "no-return-path",
    level: Error,
    group: "power",
    summary: "A load, a sensor or a module has a feed but no path to ground in any state.",
    why: "\
Current flows in a circle: without a way back to the battery's negative pole nothing works, and a meter shows full \
supply at *both* ends of the load, which misleads whoever takes that for a good circuit. The pull-down of an input is no return for \
a load: it carries milliamps. Several loads whose ways to ground meet and break off are told once, where that is.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let mut lost = Vec::new();
    for found in devices(context) {
        let (id, device, paths) = found?;
        let Some((loads, all)) = lacking(context, device, &paths, |m| matches!(m, Missing::Return(_))) else {
            continue;
        };
        let Some(first) = loads.first() else { continue };
        let tells = context.facts.tells_of_a_blown_fuse(id, first.element)?
            || context.facts.tells_of_an_open_load(id, first.element)?;
        if tells {
            continue;
        }
        let sensor = context.circuit.elements.get(first.element.index()).is_some_and(|e| senses(e.kind));
        let mut but = String::new();
        let message = match first.missing() {
            Missing::Return(Some(from)) => match pin(context, device, first.element, from) {
                Some(pin) => {
                    but = but_a_pull(context, first.element, from);
                    format!("nothing {but}joins {pin} to ground in any state")
                }
                None => format!(
                    "{} has a feed but nothing joins it to ground in any state",
                    subject(context, device, &loads, all)
                ),
            },
            _ if first.bridged => {
                format!("both ends of {} are on the same wire", subject(context, device, &loads, all))
            }
            _ => format!(
                "both ends of {} hang on a supply, and neither reaches ground in any state",
                subject(context, device, &loads, all)
            ),
        };
        let so = if sensor {
            "no current flows through it, so its signal says nothing"
        } else if !but.is_empty() {
            "that carries far too little to make it work"
        } else {
            "no current can flow, and a meter reads full supply at both its ends"
        };
        let finding = RULE.at(device.loc, format!("{message}: {so}")).help(if sensor {
            "wire it to its module's return"
        } else {
            "wire it to a ground point, or to the driver that is to ground it"
        });
        let diode = diode_against(context, first);
        let common = !sensor && but.is_empty() && diode.is_none();
        lost.push(Lost {
            loc: device.loc,
            it: subject(context, device, &loads, all),
            end: return_end(context, first).filter(|_| common),
            finding: blame_diode(context, finding, diode),
        });
    }
    tell(context, lost, out);
    for (m, module) in context.circuit.modules.iter().enumerate() {
        let common = context.facts.lost_commons().iter().any(|common| common.modules.contains(&m.into()));
        if context.facts.life(m.into())? == Life::NoReturn && !common {
            let grounds = module.grounds.iter().filter_map(|&at| crate::facts::modules::cavity(module, at));
            let names: Vec<_> = grounds.map(|cavity| cavity.name.clone()).collect();
            let message = format!(
                "nothing joins the ground {} of `{}` to a ground point in any state, so the module is dead: its drivers \
                 stay open and its references are off",
                words::names(&names),
                module.name
            );
            let finding = RULE.at(module.loc, message).help("wire its ground pin to a ground point");
            let grounds = module.grounds.iter().filter_map(|&at| crate::facts::modules::cavity(module, at));
            let diode = grounds.into_iter().find_map(|c| context.facts.diode_against(c.outside, false));
            out.push(blame_diode(context, finding, diode));
        }
    }
    Ok(())
}
