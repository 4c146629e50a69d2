//! A pin that is marked as a spare and has a wire.

use super::pins::{pins, wires};
use crate::{Context, Finding, words};
use keyon_solve::Cancelled;

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
                    "`{}` is marked `unused`, but {} lands there",
                    pin.name,
                    words::thing(context.circuit, wire)
                ),
            )
            .help("take the mark off, or the wire to where it belongs");
        if let Some(see) = wire_place.filter(|see| *see != place) {
            finding = finding.see(see, "the wire");
        }
        out.push(finding);
    }
    Ok(())
}
