//! A load on a battery with no fuse on the way.

use crate::{
    Context, Finding,
    facts::protection::Unfused,
    fix::{edit, wiring},
    words,
};
use keyon_circuit::{
    Fix,
    ids::ElementId,
    model::{Element, ElementKind, Loc, Supply},
};
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "unfused-feed",
    level: Warning,
    group: "power",
    summary: "A load is fed from a battery with no fuse, breaker or fusible link on the way.",
    why: "\
A battery gives hundreds of amps into a chafed wire. A fuse is what turns that into a dead lamp instead of a burning \
loom. Supplies with a `limit` of their own, and the cables of starters, are left out. One load is told in its own line; several that hang \
on one wire from the battery are told once, at that wire, which is where the fuse belongs.",
    settings: ["starter-current", "fuses", "fuse-load"],
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    let mut told: Vec<Loc> = Vec::new();
    for supply in facts.batteries() {
        let mut bare = facts.unfused(supply);
        bare.retain(|one| !told.contains(&one.loc));
        while !bare.is_empty() {
            // All that leaves the supply by the same wire.
            let first = bare.first().and_then(|one| one.path.first()).copied();
            let (group, rest): (Vec<Unfused>, Vec<Unfused>) =
                bare.into_iter().partition(|one| one.path.first().copied() == first);
            bare = rest;
            told.extend(group.iter().map(|one| one.loc));
            let Some(one) = group.first() else { break };
            let path = words::path(circuit, supply.point, &one.path);
            let fuse = add_fuse(context, supply, &one.path)?;
            let finding = match common_wire(context, &group) {
                Some((wire, place)) => say_several(context, supply, wire, place, &group),
                None => say(one.loc, &one.name, &supply.name, &path),
            };
            out.push(finding.fixes(fuse));
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

/// The first wire from the supply on the way of all of several loads, and its line.
fn common_wire(context: &Context<'_>, group: &[Unfused]) -> Option<(ElementId, Loc)> {
    let (first, others) = group.split_first().filter(|(_, others)| !others.is_empty())?;
    let shared = first.path.iter().enumerate();
    let mut shared = shared.take_while(|(i, e)| others.iter().all(|one| one.path.get(*i) == Some(e)));
    let wire = shared
        .find(|(_, e)| context.circuit.elements.get(e.index()).is_some_and(|e| e.kind == ElementKind::Wire));
    let (_, &wire) = wire?;
    Some((wire, context.facts.place(wire)?))
}

fn say_several(
    context: &Context<'_>,
    supply: &Supply,
    wire: ElementId,
    place: Loc,
    group: &[Unfused],
) -> Finding {
    let shown = if group.len() > MOST + 1 { MOST } else { group.len() };
    let more = (shown < group.len()).then(|| format!("{} more", group.len() - shown));
    let names = group.iter().take(shown).map(|one| format!("`{}`", one.name));
    let finding = RULE
        .at(
            place,
            format!(
                "{} feeds {} from `{}` with no fuse on the way: a chafed wire there burns instead of blowing a fuse",
                words::thing(context.circuit, wire),
                words::list(names.chain(more)),
                supply.name
            ),
        )
        .help("put a fuse into it near the supply, rated above the loads together and below what each wire behind it carries");
    group.iter().take(MOST).fold(finding, |finding, one| finding.see(one.loc, "fed without a fuse"))
}

/// Loads that a message names one by one.
const MOST: usize = 8;

fn say(loc: Loc, name: &str, supply: &str, path: &str) -> Finding {
    RULE.at(
        loc,
        format!("`{name}` is fed from `{supply}` with no fuse on the way ({path}): a chafed wire there burns instead of blowing a fuse"),
    )
    .help("put a fuse near the supply, rated above the load and below what the wire carries")
}
