//! A relay circuit that cannot settle.

use crate::{Context, Finding, facts::paths::state_of, words};
use keyon_circuit::{
    ids::*,
    model::{Change, Element, ElementKind, Law, Owner, When},
};
use keyon_solve::{Cancelled, Solution, solve};

crate::rule::rule! {
    name: "chattering-relay",
    level: Error,
    group: "sneak",
    summary: "A relay circuit cannot settle: each position of its contacts calls for the other.",
    why: "\
A relay whose own contact cuts its coil off buzzes like a bell: many times a second it pulls in and lets go, until the contacts weld or \
burn off. What it switches gets something in between.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    let mut told: Vec<ElementId> = Vec::new();
    let coils: Vec<(ElementId, &Element)> = circuit
        .elements
        .iter()
        .enumerate()
        .filter(|(i, e)| e.kind == ElementKind::Coil && facts.is_relay((*i).into()))
        .map(|(i, e)| (i.into(), e))
        .collect();
    for &(coil, e) in &coils {
        let Owner::Device(id) = e.owner else { continue };
        if told.contains(&coil) {
            continue;
        }
        let cases = facts.device_cases(id)?;
        let buzzes = |s: &Solution| s.chatters.contains(&coil);
        let Some(case) = cases.cases.iter().find(|case| buzzes(&case.solution)) else { continue };
        let (away, solution) = facts.fewest(&case.solution.state, buzzes);
        // Relays that keep each other going are one finding.
        told.extend(&solution.chatters);
        let Some(device) = circuit.devices.get(id.index()) else { continue };
        let others: Vec<_> = solution
            .chatters
            .iter()
            .filter(|&&other| other != coil)
            .map(|&other| words::name(circuit, other))
            .filter(|name| *name != device.name)
            .collect();
        let together = if others.is_empty() {
            String::new()
        } else {
            format!(", together with {}", words::names(&others))
        };
        out.push(
            RULE.at(
                device.loc,
                format!(
                    "{}, `{}` cannot settle{together}: {}, many times a second, until the contacts weld",
                    words::with(circuit, &away),
                    device.name,
                    cycle(context, &solution)
                ),
            )
            .help("feed the coil from before its own contact, or hold it by a second one"),
        );
    }
    Ok(())
}

/// One round of relays that cannot settle: "`KA` pulls in, `KB` lets go, …, and again from the start".
fn cycle(context: &Context<'_>, solution: &Solution) -> String {
    let circuit = context.circuit;
    let coils = &solution.chatters;
    let mut on = vec![false; coils.len()];
    let mut known = vec![on.clone()];
    let mut events: Vec<Vec<String>> = Vec::new();
    for _ in 0..STEPS {
        let mut state = solution.state.clone();
        for (i, e) in circuit.elements.iter().enumerate() {
            if let When::Energised { coil, open } = e.when
                && let Some(at) = coils.iter().position(|&c| c == coil)
            {
                state.changes.push(Change::Stuck(i.into(), on.get(at).copied().unwrap_or(false) != open));
            }
        }
        let now = solve(circuit, &state);
        let next: Vec<bool> =
            coils.iter().zip(&on).map(|(&coil, &was)| energised(context, &now, coil, was)).collect();
        let moved = coils.iter().zip(on.iter().zip(&next)).filter(|(_, (was, is))| was != is);
        let moved = moved.map(|(&coil, (_, &is))| {
            format!("`{}` {}", words::name(circuit, coil), if is { "pulls in" } else { "lets go" })
        });
        events.push(moved.collect());
        if let Some(start) = known.iter().position(|state| *state == next) {
            let round: Vec<String> =
                events.get(start..).unwrap_or(&[]).iter().map(|e| words::list(e.clone())).collect();
            if round.len() > 1 {
                return format!("{}, and so on", round.join(", "));
            }
            break;
        }
        known.push(next.clone());
        on = next;
    }
    "once it has pulled in, its coil loses its current, and it lets go again".to_owned()
}

/// Moves of relays after which a round is no longer looked for.
const STEPS: usize = 32;

/// Whether a coil pulls in, or holds if it is in.
fn energised(context: &Context<'_>, solution: &Solution, coil: ElementId, was: bool) -> bool {
    let Some(e) = context.circuit.elements.get(coil.index()) else { return false };
    let Owner::Device(device) = e.owner else { return false };
    let amps = solution.amps.get(coil.index()).and_then(|a| a.known()).unwrap_or_default().abs();
    match &e.law {
        Law::Coil { drops_out: Some(holds), .. } if was => amps >= holds.nominal,
        _ => state_of(solution, device, coil).operates(),
    }
}
