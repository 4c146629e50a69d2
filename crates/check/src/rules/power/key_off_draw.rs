//! Current that flows with everything off.

use crate::{Context, Finding, words};
use keyon_circuit::{
    ids::*,
    model::{COMMON, ControlKind, Element, ElementKind, Owner, When},
};
use keyon_solve::{Cancelled, Solution, State, solve};

crate::rule::rule! {
    name: "key-off-draw",
    level: Warning,
    group: "power",
    summary: "With every control at rest more than 50 mA flow from a battery, declared `draws` excepted.",
    why: "\
A lamp of 5 W left on empties a battery over a weekend. Modules that keep their memory say so with `draws`; a load that \
draws more than that with the key off is wired before the key, or the switch that should part it is missing. (50 mA: \
common practice, no source.)",
    settings: ["key-off-draw"],
    check: check,
}

/// Names of positions in which a person has switched something off.
const OFF: [&str; 20] = [
    "off", "0", "out", "stop", "stopped", "rest", "released", "neutral", "parked", "middle", "mid", "centre",
    "center", "idle", "standing", "standby", "none", "halt", "inactive", "aus",
];

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let circuit = context.circuit;
    let by_hand =
        circuit.controls.iter().enumerate().filter(|(_, c)| matches!(c.kind, ControlKind::Device(_)));
    let (off, sensed): (Vec<_>, Vec<_>) = by_hand
        .partition(|(_, c)| c.positions.first().is_some_and(|p| OFF.contains(&p.to_lowercase().as_str())));
    // Without a switch that says off there is no rest to speak of: the drawing may begin behind the key.
    if off.is_empty() {
        return Ok(());
    }
    let batteries: Vec<ElementId> = context
        .facts
        .batteries()
        .filter(|s| !switched(&s.name) && s.title.as_deref().is_none_or(|t| !switched(t)))
        .map(|s| s.element)
        .collect();
    if batteries.is_empty() {
        return Ok(());
    }
    if nothing_flows(context, &batteries) {
        return Ok(());
    }
    // Floats, doors, thermostats stand where they stand: what they feed is not left on by anyone.
    let mut state = context.facts.mend(context.facts.base())?;
    let mut best = drawn(context, &batteries, &state);
    for (control, c) in sensed {
        for position in 1..c.positions.len().min(64) {
            let mut tried = state.clone();
            if let Some(p) = tried.positions.get_mut(control) {
                *p = position as u8;
            }
            let amps = drawn(context, &batteries, &tried);
            if amps < best - 1e-9 {
                (best, state) = (amps, tried);
            }
        }
        if context.cancel.cancelled() {
            return Err(Cancelled);
        }
    }
    if best <= context.settings.key_off * (1.0 + 1e-9) {
        return Ok(());
    }
    let solution = solve(circuit, &state);
    let mut loads: Vec<(f64, DeviceId)> = Vec::new();
    for (i, device) in circuit.devices.iter().enumerate() {
        // What hangs on something that was not read may be switched by that.
        if device.pins.iter().any(|pin| context.facts.doubtful(pin.outside)) {
            continue;
        }
        let amps: f64 = device.elements.iter().map(|e| load_amps(context, &solution, *e)).fold(0.0, f64::max);
        if amps > 1e-3 {
            loads.push((amps, i.into()));
        }
    }
    loads.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let limit = context.settings.key_off;
    let alone = loads.iter().filter(|(amps, _)| *amps > limit).count().max(1);
    for &(amps, id) in loads.iter().take(alone) {
        let Some(device) = circuit.devices.get(id.index()) else { continue };
        out.push(
            RULE.at(
                device.loc,
                format!(
                    "`{}` draws {} with everything switched off ({} in all, {} is usual at most): it empties the battery while \
                     the machine stands",
                    device.name,
                    words::quantity(amps, "A"),
                    words::quantity(best, "A"),
                    words::quantity(limit, "A")
                ),
            )
            .help("feed it from behind the key or its switch; if it has to stay on, say why with `allow key-off-draw \"…\"`"),
        );
    }
    Ok(())
}

/// Whether no battery reaches ground at rest by anything that may conduct then, memories apart: known without solving.
fn nothing_flows(context: &Context<'_>, batteries: &[ElementId]) -> bool {
    let circuit = context.circuit;
    let rest = context.facts.base();
    let sources = || batteries.iter().filter_map(|e| circuit.elements.get(e.index()));
    // Where a return is wired, current need not come to the common ground.
    if sources().any(|e| e.from != COMMON) {
        return false;
    }
    let starts: Vec<PointId> = sources().map(|e| e.to).collect();
    let conducts = |e: &Element| match e.when {
        When::In { control, positions } => {
            rest.positions.get(control.index()).is_none_or(|&p| p > 63 || positions >> p & 1 == 1)
        }
        When::Always | When::Energised { .. } => true,
        When::Never => false,
    };
    let reached = context.facts.graph().flood(&starts, |e, _| {
        !matches!(e.kind, ElementKind::Draw | ElementKind::Elsewhere | ElementKind::Supply) && conducts(e)
    });
    !reached.has(COMMON)
}

/// A supply whose name says that the drawing begins behind a switch (DIN 72552: terminal 15 is live with the key on).
fn switched(name: &str) -> bool {
    let name = name.to_lowercase();
    let word = |w: &str| name.split(|c: char| !c.is_alphanumeric()).any(|part| part == w);
    ["ign", "switched", "key_on", "accessory", "run"].iter().any(|w| name.contains(w))
        || ["15", "kl15", "t15", "acc", "terminal15"].iter().any(|w| word(w))
}

/// Amps out of the batteries, less what modules are said to draw.
fn drawn(context: &Context<'_>, batteries: &[ElementId], state: &State) -> f64 {
    let solution = solve(context.circuit, state);
    let known = |e: usize| solution.amps.get(e).and_then(|a| a.known()).unwrap_or_default();
    // What flows into one charges it.
    let out: f64 = batteries.iter().map(|e| known(e.index()).max(0.0)).sum();
    let declared: f64 = context
        .circuit
        .elements
        .iter()
        .enumerate()
        .filter(|(_, e)| matches!(e.kind, ElementKind::Draw | ElementKind::Elsewhere))
        .map(|(i, _)| known(i).abs())
        .sum();
    out - declared
}

fn load_amps(context: &Context<'_>, solution: &Solution, element: ElementId) -> f64 {
    let load = context
        .circuit
        .elements
        .get(element.index())
        .is_some_and(|e| e.kind.is_load() && matches!(e.owner, Owner::Device(_)));
    let amps = solution.amps.get(element.index()).and_then(|a| a.known()).unwrap_or_default().abs();
    if load { amps } else { 0.0 }
}
