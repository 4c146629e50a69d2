//! A fuse on the ground side.

use crate::{
    Context, Finding,
    facts::graph::{Flood, is_continuity},
    words,
};
use keyon_circuit::{
    ids::*,
    model::{COMMON, Element, ElementKind, FuseKind},
};
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "fused-ground",
    level: Warning,
    group: "return",
    summary: "A fuse or a breaker lies in the way to ground instead of in the feed.",
    why: "\
When a fuse on the ground side blows, the load stops but its feed stays live, and a short from the feed to the frame goes past the fuse. A \
module that loses its ground behind such a fuse looks for another one through its sensors and drivers. The fuse belongs in the \
feed, near the supply.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    let mut sources: Vec<PointId> =
        circuit.elements.iter().filter(|e| e.kind.is_source()).map(|e| e.to).collect();
    // The other pole of a supply, where it is not the common ground, is no ground of this circuit.
    sources.extend(circuit.supplies.iter().map(|s| s.negative).filter(|&p| p != COMMON));
    for fuse in &circuit.fuses {
        let Some(e) = circuit.elements.get(fuse.element.index()) else { continue };
        if facts.held(e.from) || facts.held(e.to) {
            continue;
        }
        // Of a fuse that anything feeds, the nearer end is fed without it.
        if facts.fed_somehow().has(e.from) || facts.fed_somehow().has(e.to) {
            continue;
        }
        let walk = |starts: &[PointId], down: bool| -> Flood {
            facts.graph().flood(starts, |e, step| {
                let diode = e.kind == ElementKind::Diode && step.forward != down;
                is_continuity(e) && !diode && step.element != fuse.element
            })
        };
        // In the wire of a motor that turns both ways, or behind a changeover, it is on either side in turn.
        let fed = walk(&sources, true);
        if fed.has(e.from) || fed.has(e.to) {
            continue;
        }
        let grounded = walk(&[COMMON], false);
        let Some(load_side) = [(e.from, e.to), (e.to, e.from)]
            .into_iter()
            .find(|(near, far)| grounded.has(*near) && !grounded.has(*far))
            .map(|(_, far)| far)
        else {
            continue;
        };
        let behind = walk(&[load_side], false);
        let hang = |p: PointId| behind.has(p);
        // What nothing feeds, also not through another load, has its fuse on the wrong stud, not its ground fused.
        let supplied = facts.graph().flood(&sources, |e, step| {
            !e.kind.is_source() && step.element != fuse.element && !grounded.has(step.to)
        });
        let feeds = |e: &Element| {
            [(e.from, e.to), (e.to, e.from)].into_iter().any(|(near, far)| hang(near) && supplied.has(far))
        };
        let loads = circuit.elements.iter().enumerate().filter(|(_, e)| e.kind.is_load());
        let mut names: Vec<_> = loads
            .filter(|(_, e)| feeds(e))
            .map(|(i, _)| words::name(circuit, i.into()))
            .chain(circuit.modules.iter().filter_map(|m| {
                let grounds = m.grounds.iter().filter_map(|&at| crate::facts::modules::cavity(m, at));
                grounds.into_iter().any(|c| hang(c.inside)).then(|| m.name.clone())
            }))
            .collect();
        names.sort();
        names.dedup();
        if names.is_empty() {
            continue;
        }
        let kind = if fuse.kind == FuseKind::Breaker { "opens" } else { "blows" };
        out.push(
            RULE.at(
                fuse.loc,
                format!(
                    "`{}` lies on the ground side of {}: if it {kind}, the feed stays live, and a short from the feed to the \
                     frame goes past it",
                    fuse.name,
                    words::names(&names)
                ),
            )
            .help("take it out of the ground wire and put it into the feed"),
        );
    }
    Ok(())
}
