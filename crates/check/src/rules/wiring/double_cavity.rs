//! Two wires in one cavity.
//!
//! The finding stands at each wire after the first; of an in-line cavity, which has two sides, at the first that is too many.

use super::pins::{Pin, pins, wires};
use crate::{
    Context, Finding,
    fix::{edit, wiring},
    words,
};
use keyon_circuit::{Fix, ids::ElementId, model::Loc};
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "double-cavity",
    level: Error,
    group: "wiring",
    summary: "Two wires are in one cavity without a splice.",
    why: "\
A terminal is crimped to one wire. Two wires in one cavity are a mistake of the drawing, or a crimp that works loose on the machine; where \
they are meant to join they meet at a splice, which can be found and probed. Supplies, ground points and splices take as many as \
they like, an in-line cavity one on each side.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    // Lines that stand there twice, each told once whatever they reach.
    let mut repeats: Vec<Loc> = Vec::new();
    for pin in pins(context) {
        let wires: Vec<_> = wires(context, pin.landings).collect();
        let Some(&first) = wires.first() else { continue };
        let extras = wires.get(pin.takes..).unwrap_or_default();
        // What goes through an in-line cavity lands on both its sides, and is one wire too many.
        let told = if pin.takes == 2 { extras.get(..1).unwrap_or_default() } else { extras };
        for &extra in told {
            let Some(place) = context.facts.place(extra) else { continue };
            let Some(see) = context.facts.place(first) else { continue };
            if let Some(fix) = edit::without_repeat(context.elaboration, place, see) {
                if !repeats.contains(&place) {
                    repeats.push(place);
                    let wire = words::thing(context.circuit, first);
                    let message =
                        format!("this line stands here twice: {wire} lands in `{}` already", pin.name());
                    out.push(
                        RULE.at(place, message)
                            .help("take one of the two lines out")
                            .see(see, "the first one")
                            .fixes(Some(fix)),
                    );
                }
                continue;
            }
            let mut finding = RULE
                .at(
                    place,
                    format!(
                        "{} lands in `{}`, where {} is already: a cavity takes one wire{}",
                        words::thing(context.circuit, extra),
                        pin.name(),
                        words::thing(context.circuit, first),
                        if pin.takes == 2 { " on each side" } else { "" }
                    ),
                )
                .help("join the wires at a splice, and lead one wire from it to the cavity")
                .fixes(join(context, &pin, first, extra));
            if let Some(see) = context.facts.place(first).filter(|see| *see != place) {
                finding = finding.see(see, "the first wire");
            }
            let others = extras.iter().filter(|_| pin.takes == 2).filter_map(|&e| context.facts.place(e));
            let mut seen = vec![place];
            for other in others {
                if seen.iter().all(|known| (known.file, known.item) != (other.file, other.item)) {
                    finding = finding.see(other, "this one too");
                    seen.push(other);
                }
            }
            out.push(finding);
        }
    }
    Ok(())
}

/// Both wires to a new splice, and from there one wire to the cavity.
fn join(context: &Context<'_>, pin: &Pin<'_>, first: ElementId, extra: ElementId) -> Option<Fix> {
    if pin.takes != 1 {
        return None;
    }
    let point = pin.points().next()?;
    let splice = wiring::numbered(context, "S");
    let (a, b) = (wiring::end_at(context, first, point)?, wiring::end_at(context, extra, point)?);
    let gauge = wiring::gauge_text(context, first);
    let nl = edit::newline(context.elaboration, b.file);
    let lines = format!("wire {splice} -> {}{gauge}{nl}splice {splice}", pin.name());
    let below = edit::line_below(context.elaboration, edit::whole(context.elaboration, b)?, &lines)?;
    let edits = vec![(a, splice.to_string()), (b, splice.to_string()), below];
    Some(edit::review(format!("join them at a splice before `{}`", pin.name()), edits))
}
