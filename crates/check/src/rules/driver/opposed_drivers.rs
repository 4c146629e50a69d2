//! Two stages that can work against each other.
//!
//! The finding stands at the wire that brings them together, if there is one without which everything else still works;
//! else at the second stage.

use super::gang_short::gang_of;
use crate::{
    Context, Finding,
    facts::{place_of_stage, shorts::Short},
    words,
};
use keyon_circuit::{ids::*, model::ElementKind};
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "opposed-drivers",
    level: Error,
    group: "driver",
    summary: "Two independent stages on one net can drive it to different potentials at the same time.",
    why: "\
Nothing keeps two stages apart that are commanded independently. When one pulls up while the other pulls down, the supply is shorted \
through both, and the weaker dies. Stages that belong together are moved by one gang, or are one stage of the role `drives half`.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let circuit = context.circuit;
    for short in context.facts.shorts()? {
        let stages = stages(context, short);
        let [first, .., last] = stages.as_slice() else { continue };
        if gang_of(context, short).is_some() {
            continue;
        }
        let wire = circuit
            .elements
            .get(short.blame.index())
            .is_some_and(|e| matches!(e.kind, ElementKind::Wire | ElementKind::Tie | ElementKind::Fuse(_)));
        let place =
            if wire { context.facts.place(short.blame) } else { place_of_stage(context.facts, *last) };
        let Some(place) = place else { continue };
        let mut finding = RULE
            .at(
                place,
                format!(
                    "{}, `{}` and `{}` drive against each other with no load between: the supply is shorted through both, and the \
                     weaker dies. The path: {}",
                    words::with(circuit, &short.away),
                    words::name(circuit, *first),
                    words::name(circuit, *last),
                    words::path(circuit, short.start, &short.path)
                ),
            )
            .help("part them, or let one gang move both so that they are never on together");
        for &stage in [first, last] {
            if let Some(see) = place_of_stage(context.facts, stage).filter(|see| *see != place) {
                finding = finding.see(see, format!("`{}`", words::name(circuit, stage)));
            }
        }
        out.push(finding);
    }
    Ok(())
}

fn stages(context: &Context<'_>, short: &Short) -> Vec<ElementId> {
    let stage = |e: &&ElementId| {
        context.circuit.elements.get(e.index()).is_some_and(|e| e.kind == ElementKind::Stage)
    };
    short.path.iter().filter(stage).copied().collect()
}
