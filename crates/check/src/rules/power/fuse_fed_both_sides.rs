//! A fuse with a supply at both ends.

use crate::{
    Context, Finding,
    facts::{graph::is_continuity, paths::node},
    words,
};
use keyon_circuit::{
    ids::*,
    model::{Change, ElementKind, Fuse},
};
use keyon_solve::{Cancelled, DEFAULT_LIMIT, NodeState, Survey};

crate::rule::rule! {
    name: "fuse-fed-both-sides",
    level: Warning,
    group: "power",
    summary: "Both ends of a fuse reach a supply without it.",
    why: "\
Such a fuse can blow and nobody notices, for what lies behind it stays live by the other way; and pulling it does not take the \
power off, which is what someone relies on who reaches in with a spanner.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    let starts: Vec<PointId> = circuit.supplies.iter().map(|s| s.point).collect();
    for fuse in &circuit.fuses {
        let Some(e) = circuit.elements.get(fuse.element.index()) else { continue };
        let reach = facts.graph().flood(&starts, |e, step| {
            let diode = e.kind == ElementKind::Diode && !step.forward;
            is_continuity(e) && !diode && step.element != fuse.element && !facts.ground_net().has(step.to)
        });
        if !(reach.has(e.from) && reach.has(e.to)) {
            continue;
        }
        // Possible over all states at once; now in one state.
        let mut base = facts.base();
        base.changes.push(Change::Open(fuse.element));
        let survey = Survey::new(circuit, &base);
        let cases = survey.cases_of(&[e.from, e.to], &[], DEFAULT_LIMIT, context.cancel)?;
        let both =
            |s: &keyon_solve::Solution| node(s, e.from) == NodeState::Fed && node(s, e.to) == NodeState::Fed;
        if let Some(case) = cases.cases.iter().find(|case| both(&case.solution)) {
            let (away, _) = facts.fewest(&case.solution.state, both);
            out.push(say(context, fuse, &away, &reach.path(e.to), e.to));
        }
    }
    Ok(())
}

fn say(
    context: &Context<'_>,
    fuse: &Fuse,
    away: &[(ControlId, usize)],
    path: &[ElementId],
    end: PointId,
) -> Finding {
    let circuit = context.circuit;
    let start = path.iter().rev().fold(end, |at, e| {
        circuit.elements.get(e.index()).map_or(at, |e| if e.from == at { e.to } else { e.from })
    });
    RULE.at(
        fuse.loc,
        format!(
            "{} both ends of `{}` are live without it: pulling it takes no power off, and if it blows nobody notices. The \
             other way: {}",
            words::with(circuit, away),
            fuse.name,
            words::path(circuit, start, path)
        ),
    )
    .help("part the two feeds, with a diode each or a changeover contact")
}
