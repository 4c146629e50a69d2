//! A stage over its limit.

use crate::{Context, Finding, words};
use keyon_circuit::model::ElementKind;
use keyon_solve::{Cancelled, Solution};

crate::rule::rule! {
    name: "driver-overload",
    level: Error,
    group: "driver",
    summary: "A driver stage carries more than its limit in some state.",
    why: "\
A driver over its limit switches itself off, folds back, or dies. The load works on the bench and fails in the heat. The worst state of \
all controls counts, with the supply at the top of its range; a motor that starts or is held is another matter (see \
`stall-over-fuse`).",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let circuit = context.circuit;
    for stage in context.facts.stages() {
        let Some(limit) = stage.cavity.limit.map(|l| l.nominal) else { continue };
        let mut worst = None;
        for &element in &stage.cavity.elements {
            if circuit.elements.get(element.index()).is_some_and(|e| e.kind == ElementKind::Stage) {
                let Some(most) = context.facts.worst_above(element, limit)? else { continue };
                if worst.as_ref().is_none_or(|(_, w): &(_, std::sync::Arc<keyon_solve::Worst>)| {
                    most.amps.abs() > w.amps.abs()
                }) {
                    worst = Some((element, most));
                }
            }
        }
        let Some((element, worst)) = worst.filter(|(_, w)| w.amps.abs() > limit * (1.0 + 1e-9)) else {
            continue;
        };
        let Some(place) = context.facts.stage_place(&stage) else { continue };
        let amps = worst.amps.abs();
        let enough = |s: &Solution| {
            s.amps.get(element.index()).and_then(|a| a.known()).is_some_and(|a| a.abs() >= amps * 0.999)
        };
        let (away, _) = context.facts.fewest(&worst.solution.state, enough);
        out.push(
            RULE.at(
                place,
                format!(
                    "{}, the driver `{}` carries {}, more than its limit of {}: it switches off, or dies",
                    words::with(circuit, &away),
                    context.facts.stage_name(&stage),
                    words::quantity(amps, "A"),
                    words::quantity(limit, "A")
                ),
            )
            .help("let it drive a relay that carries the load, or use a stronger output"),
        );
    }
    Ok(())
}
