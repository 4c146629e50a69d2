//! A load on a battery with no fuse on the way.

use crate::{
    Context, Finding,
    fix::{edit, wiring},
    words,
};
use keyon_circuit::{
    Fix,
    ids::ElementId,
    model::{Element, Loc, Supply},
};
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "unfused-feed",
    level: Warning,
    group: "power",
    summary: "A load is fed from a battery with no fuse, breaker or fusible link on the way.",
    why: "\
A battery gives hundreds of amps into a chafed wire. A fuse is what turns that into a dead lamp instead of a burning \
loom. Supplies with a `limit` of their own, and the cables of starters, are left out.",
    settings: ["starter-current", "fuses", "fuse-load"],
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
                let fuse = add_fuse(context, supply, &bare.path)?;
                out.push(say(bare.loc, &bare.name, &supply.name, &path).fixes(fuse));
            }
        }
    }
    Ok(())
}

/// Puts a fuse between the supply and the first wire on the way, with a splice for the wire to begin at.
fn add_fuse(context: &Context<'_>, supply: &Supply, path: &[ElementId]) -> Result<Option<Fix>, Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    let Some(&first) = path.first() else { return Ok(None) };
    let Some(e) = circuit.elements.get(first.index()) else { return Ok(None) };
    let Some(begins) = wiring::end_at(context, first, supply.point) else { return Ok(None) };
    let worst = facts.worst(first)?;
    if worst.unlimited.is_some() {
        return Ok(None);
    }
    // Every wire that will be behind it, up to the next fuse.
    let far = if e.from == supply.point { e.to } else { e.from };
    let reach = facts.before_fuses(supply);
    let behind = |e: &Element| {
        reach.has(e.from)
            && reach.has(e.to)
            && [e.from, e.to].iter().any(|p| *p == far || reach.path(*p).contains(&first))
    };
    let wires = circuit.elements.iter().enumerate().filter(|(_, e)| behind(e));
    let carries =
        wires.filter_map(|(i, _)| Some(facts.gauged(i.into())?.carries)).fold(f64::INFINITY, f64::min);
    let bears = |rating: &&f64| **rating * context.settings.fuse_load >= worst.amps.abs();
    let rating = context.settings.fuse_ratings.iter().find(bears).filter(|rating| **rating <= carries);
    let Some(rating) = rating.map(|rating| words::quantity(*rating, "A")) else { return Ok(None) };
    let name = wiring::numbered(context, "F");
    let splice = wiring::fresh(context, &format!("S_{name}"));
    let nl = edit::newline(context.elaboration, begins.file);
    let lines = format!(
        "fuse {name}  {} -> {splice}  {rating}{nl}allow lone-splice \"the terminal of {name}\"{nl}splice {splice}",
        supply.name
    );
    let above = edit::whole(context.elaboration, begins)
        .and_then(|item| edit::line_above(context.elaboration, item, &lines));
    Ok(above.map(|above| {
        let title = format!("add a fuse of {rating} at `{}`", supply.name);
        edit::review(title, vec![above, (begins, splice.to_string())])
    }))
}

fn say(loc: Loc, name: &str, supply: &str, path: &str) -> Finding {
    RULE.at(
        loc,
        format!("`{name}` is fed from `{supply}` with no fuse on the way ({path}): a chafed wire there burns instead of blowing a fuse"),
    )
    .help("put a fuse near the supply, rated above the load and below what the wire carries")
}
