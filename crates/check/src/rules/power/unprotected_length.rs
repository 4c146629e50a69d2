//! Long wire between a battery and its first fuse.

use crate::{
    Context, Finding,
    facts::{
        graph::{Flood, is_continuity},
        protection::Gauged,
    },
    words,
};
use keyon_circuit::{
    ids::*,
    model::{ElementKind, Loc, Owner, Supply},
};
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "unprotected-length",
    level: Warning,
    group: "power",
    summary: "More than 0.3 m of wire between a battery and its first fuse; starter and charging cables excepted.",
    why: "\
A fuse protects only what lies behind it. The wire from the battery to the fuse has nothing before it but the battery: it is kept as \
short as can be and away from sharp edges. (0.3 m: common practice, no source.)",
    settings: ["unprotected-length", "starter-current"],
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    let mut told: Vec<Loc> = Vec::new();
    let generator = |s: &&Supply| circuit.supplies.iter().any(|battery| facts.charges(s, battery));
    let batteries: Vec<&Supply> = facts.batteries().filter(|s| !generator(s)).collect();
    for supply in batteries {
        let reach = facts.before_fuses(supply);
        let unfused = facts.unfused(supply);
        for fuse in &circuit.fuses {
            let Some(e) = circuit.elements.get(fuse.element.index()) else { continue };
            let Some(end) = [e.from, e.to].into_iter().find(|&end| reach.has(end)) else { continue };
            let path = reach.path(end);
            let counted: Vec<(f64, ElementId)> = path
                .iter()
                .filter(|&&wire| !is_heavy_cable(context, supply, &reach, wire))
                .map(|&wire| (facts.metres(wire), wire))
                .collect();
            let metres: f64 = counted.iter().map(|(metres, _)| metres).sum();
            let longest = counted.iter().max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
            let Some(&(_, wire)) = longest.filter(|_| metres > context.settings.unprotected + 1e-9) else {
                continue;
            };
            // A load that hangs on this wire with no fuse at all says more.
            if unfused.iter().any(|bare| bare.path.contains(&wire)) {
                continue;
            }
            let Some(place) = facts.place(wire).filter(|place| !told.contains(place)) else { continue };
            told.push(place);
            let carries = facts
                .gauged(wire)
                .map_or(String::new(), |w: Gauged| format!(" ({})", words::quantity(w.area, "mm2")));
            out.push(
                RULE.at(
                    place,
                    format!(
                        "{} of wire lie between `{}` and its first fuse `{}`, {}{carries} among them: a short there has the whole \
                         battery behind it",
                        words::quantity(metres, "m"),
                        supply.name,
                        fuse.name,
                        words::thing(circuit, wire),
                    ),
                )
                .help(format!(
                    "move the fuse to within {} of the battery, or add a fusible link there",
                    words::quantity(context.settings.unprotected, "m")
                ))
                .see(fuse.loc, "the first fuse"),
            );
        }
    }
    Ok(())
}

/// Whether a wire is also on the way to a starter or a generator.
fn is_heavy_cable(context: &Context<'_>, supply: &Supply, reach: &Flood, wire: ElementId) -> bool {
    let circuit = context.circuit;
    let heavy = |p: PointId| {
        let here =
            context.facts.graph().steps(p).iter().filter_map(|s| circuit.elements.get(s.element.index()));
        let starter = here.into_iter().any(|e| {
            let Owner::Device(device) = e.owner else { return false };
            e.kind.is_load() && context.facts.is_starter(device)
        });
        starter || circuit.supplies.iter().any(|s| s.point == p && s.element != supply.element)
    };
    let Some(e) = circuit.elements.get(wire.index()).filter(|e| e.kind == ElementKind::Wire) else {
        return false;
    };
    // The end away from the battery, and what lies beyond it.
    let by = |p: PointId| reach.step_to(p).is_some_and(|by| by == wire);
    let far = if by(e.to) { e.to } else { e.from };
    let beyond = context.facts.graph().flood(&[far], |e, step| {
        let diode = e.kind == ElementKind::Diode && !step.forward;
        is_continuity(e) && !diode && !matches!(e.kind, ElementKind::Fuse(_)) && step.element != wire
    });
    // A charging cable may have a fuse or a fusible link of its own.
    let charging = context.facts.graph().flood(&[far], |e, step| {
        matches!(e.kind, ElementKind::Wire | ElementKind::Tie | ElementKind::Inline | ElementKind::Fuse(_))
            && step.element != wire
    });
    let charged = |other: &Supply| {
        charging.has(other.point)
            && (context.facts.charges(other, supply) || context.facts.charges(supply, other))
    };
    beyond.order.iter().any(|&p| heavy(p)) || circuit.supplies.iter().any(charged)
}
