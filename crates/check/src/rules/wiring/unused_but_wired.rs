//! A pin that is marked as a spare and has a wire.

use super::pins::{pins, wires};
use crate::{
    Context, Finding,
    fix::{edit, wiring},
    words,
};
use keyon_circuit::{Fix, model::Loc};
use keyon_solve::Cancelled;
use keyon_syntax::tree::ItemKind;

crate::rule::rule! {
    name: "unused-but-wired",
    level: Warning,
    group: "wiring",
    summary: "A pin is marked `unused`, but a wire reaches it.",
    why: "\
One of the two is wrong: the mark, or the cavity that the wire is said to land in. Whoever trusts the mark cuts or moves a wire that is in use.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    for pin in pins(context) {
        let (Some(mark), Some(wire)) = (pin.unused, wires(context, pin.landings).next()) else { continue };
        let wire_place = context.facts.place(wire);
        let Some(place) = context.facts.own_first([Some(mark), wire_place].into_iter().flatten()) else {
            continue;
        };
        let mut finding = RULE
            .at(
                place,
                format!(
                    "`{}` is marked `unused`, but {} lands there: whoever trusts the mark cuts a wire that is in use",
                    pin.name(),
                    words::thing(context.circuit, wire)
                ),
            )
            .help("take the mark off, or the wire to where it belongs")
            .fixes(take_mark_off(context, mark));
        if let Some(see) = wire_place.filter(|see| *see != place) {
            finding = finding.see(see, "the wire");
        }
        out.push(finding);
    }
    Ok(())
}

/// Takes a name out of an `unused` line, the whole line if it is the only one.
fn take_mark_off(context: &Context<'_>, mark: Loc) -> Option<Fix> {
    let ItemKind::Spare(names) = &edit::item(context.elaboration, mark)?.kind else { return None };
    let index = names.iter().position(|name| name.span == mark.span)?;
    let edit = wiring::without(names, index, mark)
        .or_else(|| edit::remove(context.elaboration, edit::whole(context.elaboration, mark)?))?;
    Some(edit::review("take the mark `unused` off", vec![edit]))
}
