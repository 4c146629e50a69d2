//! A fuse that nobody sells.

use crate::{Context, Finding, words};
use keyon_circuit::model::FuseKind;
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "unusual-fuse",
    level: Hint,
    group: "power",
    summary: "A fuse's rating is none of those that can be had.",
    why: "\
A rating that the shelf does not have is most often a slip of the pen; on the machine the next bigger fuse is fitted in its place. Which \
ratings there are is in the settings; the usual ones are those of blade fuses.",
    settings: ["fuses"],
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    for fuse in context.circuit.fuses.iter().filter(|fuse| fuse.kind == FuseKind::Fuse) {
        let rating = context.circuit.elements.get(fuse.element.index()).and_then(|e| e.rating);
        let Some(rating) = rating.map(|rating| rating.nominal) else { continue };
        let known = &context.settings.fuse_ratings;
        let least = known.first().copied().unwrap_or(f64::INFINITY);
        let most = known.last().copied().unwrap_or(0.0);
        // Below and above the blade fuses others begin.
        if rating < least || rating > most || known.iter().any(|r| (r - rating).abs() < 1e-6 * rating) {
            continue;
        }
        let below = known.iter().rfind(|r| **r < rating);
        let above = known.iter().find(|r| **r > rating);
        let (Some(below), Some(above)) = (below, above) else { continue };
        out.push(
            RULE.at(
                fuse.loc,
                format!(
                    "there is no fuse of {}: whoever replaces `{}` has to choose another",
                    words::quantity(rating, "A"),
                    fuse.name
                ),
            )
            .help(format!(
                "the nearest are {} and {}",
                words::quantity(*below, "A"),
                words::quantity(*above, "A")
            )),
        );
    }
    Ok(())
}
