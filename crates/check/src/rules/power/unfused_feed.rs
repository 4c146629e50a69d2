//! A load on a battery with no fuse on the way.

use crate::{Context, Finding, words};
use keyon_circuit::model::{Loc, Owner};
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "unfused-feed",
    level: Warning,
    group: "power",
    summary: "A load is fed from a battery with no fuse, breaker or fusible link on the way.",
    why: "\
A battery gives hundreds of amps into a chafed wire. A fuse is what turns that into a dead lamp instead of a burning \
loom. Supplies with a `limit` of their own, and the cables of starters, are left out.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    let mut told: Vec<Loc> = Vec::new();
    for supply in facts.batteries() {
        let reach = facts.before_fuses(supply);
        for e in circuit.elements.iter().filter(|e| e.kind.is_load()) {
            let Owner::Device(id) = e.owner else { continue };
            let Some(device) = circuit.devices.get(id.index()) else { continue };
            let Some(end) = [e.from, e.to].into_iter().find(|&end| reach.has(end)) else { continue };
            // In a short circuit that is not fused everything is unfused: the short is the finding.
            if told.contains(&device.loc) || facts.is_starter(id) || shorted(&reach, e) {
                continue;
            }
            told.push(device.loc);
            let path = words::path(circuit, supply.point, &reach.path(end));
            out.push(say(device.loc, &device.name, &supply.name, &path));
        }
        for module in &circuit.modules {
            let feeds = module.feeds.iter().filter_map(|&at| crate::facts::modules::cavity(module, at));
            for feed in feeds.filter(|feed| reach.has(feed.inside)) {
                if !told.contains(&module.loc) {
                    told.push(module.loc);
                    let path = words::path(circuit, supply.point, &reach.path(feed.outside));
                    out.push(say(module.loc, &module.name, &supply.name, &path));
                }
            }
        }
    }
    Ok(())
}

fn shorted(reach: &crate::facts::graph::Flood, e: &keyon_circuit::model::Element) -> bool {
    reach.has(e.from) && reach.has(e.to) && reach.has(keyon_circuit::model::COMMON)
}

fn say(loc: Loc, name: &str, supply: &str, path: &str) -> Finding {
    RULE.at(
        loc,
        format!("`{name}` is fed from `{supply}` with no fuse on the way ({path}): a chafed wire there burns instead of blowing a fuse"),
    )
    .help("put a fuse near the supply, rated above the load and below what the wire carries")
}
