//! A fuse with a supply at both ends.

use crate::{
    Context, Finding,
    facts::{
        graph::{Flood, is_continuity},
        paths::node,
    },
    words,
};
use keyon_circuit::{
    ids::*,
    model::{Change, Element, ElementKind, Fuse, Supply},
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
        // What comes in by a diode is fed from two sides on purpose: each has its own fuse, and neither feeds back.
        let reach = facts.graph().flood(&starts, |e, step| {
            let diode = e.kind == ElementKind::Diode;
            is_continuity(e) && !diode && step.element != fuse.element && !facts.ground_net().has(step.to)
        });
        if !(reach.has(e.from) && reach.has(e.to)) {
            continue;
        }
        // Two potentials that meet through it are a finding of their own.
        if facts.shorts()?.iter().any(|short| short.other.is_some() && short.path.contains(&fuse.element)) {
            continue;
        }
        if between_batteries(context, e, fuse.element) {
            continue;
        }
        // Possible over all states at once; now in one state.
        let mut base = facts.mend(facts.base())?;
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

/// Whether it lies between a battery and its generator, or between two batteries that a contact joins: such a cable has a
/// source at either end, and its fuse is there for both.
fn between_batteries(context: &Context<'_>, e: &Element, fuse: ElementId) -> bool {
    let (circuit, facts) = (context.circuit, context.facts);
    let reach = |start: PointId, contacts: bool| {
        facts.graph().flood(&[start], |e, step| {
            let contact = matches!(e.kind, ElementKind::Contact | ElementKind::Diode);
            is_continuity(e)
                && (contacts || !contact)
                && step.element != fuse
                && !facts.ground_net().has(step.to)
        })
    };
    let on =
        |reach: &Flood| -> Vec<&Supply> { circuit.supplies.iter().filter(|s| reach.has(s.point)).collect() };
    let (near, far) = (reach(e.from, true), reach(e.to, true));
    let (a, b) = (on(&near), on(&far));
    if a.is_empty() || b.is_empty() || a.iter().any(|s| b.iter().any(|o| o.element == s.element)) {
        return false;
    }
    let parted = on(&reach(e.from, false)).is_empty() || on(&reach(e.to, false)).is_empty();
    parted || a.iter().any(|a| b.iter().any(|b| facts.charges(a, b) || facts.charges(b, a)))
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
            "{}, both ends of `{}` are live without it: pulling it takes no power off, and if it blows nobody notices. The \
             other way: {}",
            words::with(circuit, away),
            fuse.name,
            words::path(circuit, start, path)
        ),
    )
    .help("part the two feeds, with a diode each or a changeover contact")
}
