//! A load on a battery with no fuse on the way.

use crate::{Context, Finding, words};
use keyon_circuit::model::Loc;
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
        for bare in facts.unfused(supply) {
            if !told.contains(&bare.loc) {
                told.push(bare.loc);
                let path = words::path(circuit, supply.point, &bare.path);
                out.push(say(bare.loc, &bare.name, &supply.name, &path));
            }
        }
    }
    Ok(())
}

fn say(loc: Loc, name: &str, supply: &str, path: &str) -> Finding {
    RULE.at(
        loc,
        format!("`{name}` is fed from `{supply}` with no fuse on the way ({path}): a chafed wire there burns instead of blowing a fuse"),
    )
    .help("put a fuse near the supply, rated above the load and below what the wire carries")
}
