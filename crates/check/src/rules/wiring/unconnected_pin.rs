//! A pin that nothing reaches.

use super::pins::{Pin, pins};
use crate::{Context, Finding, fix::edit, words};
use keyon_circuit::{
    ids::{FileId, PointId},
    model::{PointKind, Role},
};
use keyon_solve::Cancelled;
use keyon_syntax::tree::ItemKind;

crate::rule::rule! {
    name: "unconnected-pin",
    level: Warning,
    group: "wiring",
    summary: "No wire reaches a pin, and it is not marked `unused`.",
    why: "\
A pin without a wire is a spare, or a wire that was forgotten. Only whoever drew it knows which; `unused` says it, so that the next reader \
need not trace the loom to find out.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let facts = context.facts;
    let damaged = facts.damaged();
    let reached = |pin: &Pin<'_>| {
        let branch = || context.circuit.branches.iter().any(|b| pin.points().any(|p| p == b.point));
        // A bus answers for what its lines carry, not for where they lead.
        let held = |p: PointId| if pin.bus { damaged.contains(&p) } else { facts.held(p) };
        let unsure = |p: PointId| held(p) || facts.named_by_damage(p);
        !pin.landings.is_empty() || branch() || pin.points().any(unsure)
    };
    let all = pins(context);
    // A list of spares that was not read to its end may name any pin that its device can do without.
    let items = context.elaboration.files.first().map_or(&[][..], |file| &file.parse.file.items);
    let unread =
        items.iter().any(|placed| placed.item.damaged && matches!(placed.item.kind, ItemKind::Spare(_)));
    let spare = |pin: &Pin<'_>| unread && !works_by(context, pin);
    let mut open = all.iter().filter(|pin| pin.unused.is_none() && !reached(pin) && !spare(pin)).peekable();
    while let Some(pin) = open.next() {
        let first = pin;
        // All open pins of one device are one finding.
        let mut names = vec![pin.name()];
        while let Some(next) =
            open.next_if(|next| pin.of().is_some() && next.of() == pin.of() && next.loc == pin.loc)
        {
            names.push(next.name());
        }
        let (reaches, mark) =
            if names.len() == 1 { ("", "it is a spare") } else { ("any of ", "they are spares") };
        let line = format!("unused {}", names.join(", "));
        let spare = !works_by(context, first);
        let marked = edit::whole(context.elaboration, pin.loc)
            .filter(|loc| spare && loc.file == FileId(0))
            .and_then(|item| edit::line_below(context.elaboration, item, &line))
            .map(|edit| edit::review(format!("mark {} as unused", words::names(&names)), vec![edit]));
        out.push(
            RULE.at(
                pin.loc,
                format!(
                    "no wire reaches {reaches}{}: a spare, or a wire that was forgotten",
                    words::names(&names)
                ),
            )
            .help(format!("wire it, or say `{line}` if {mark}"))
            .fixes(marked),
        );
    }
    Ok(())
}

/// Whether a device or a module cannot work without this pin: then it is no spare, whatever a mark would say.
fn works_by(context: &Context<'_>, pin: &Pin<'_>) -> bool {
    let points: Vec<PointId> = pin.points().collect();
    let circuit = context.circuit;
    // A pin is joined to what lies inside by its terminal.
    let inside = points.iter().flat_map(|&p| context.facts.graph().steps(p)).map(|step| step.to);
    let mut at = inside.flat_map(|p| context.facts.graph().steps(p));
    let load = at.any(|step| circuit.elements.get(step.element.index()).is_some_and(|e| e.kind.is_load()));
    let power = points.iter().any(|&p| match circuit.points.get(p.index()).map(|p| p.kind) {
        Some(PointKind::Cavity(m, c, k)) => {
            circuit.cavity(m, c, k).is_some_and(|c| matches!(c.role, Role::Feed | Role::Ground))
        }
        _ => false,
    });
    power || load
}
