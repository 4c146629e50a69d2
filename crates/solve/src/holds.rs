//! Relays that rest and would also stay energised.

use crate::{
    nets::Sets,
    plan::{Act, Gate, Plan},
    settle::{Still, drops_out, judge, run, still},
};

/// Coils that rest and would stay if they were pushed in by hand, the others following.
pub(crate) fn holding(plan: &Plan<'_>, rest: &Still) -> Vec<usize> {
    let resting = |&coil: &usize| {
        !rest.held.energised[coil] && rest.flows.iter().any(|flow| flow.conducts[plan.coils[coil]])
    };
    let mut coils: Vec<usize> = (0..plan.coils.len()).filter(resting).collect();
    if coils.is_empty() {
        return coils;
    }
    let may = within_reach(plan, rest);
    coils.retain(|&coil| may[coil] && stays(plan, rest, coil));
    coils
}

fn stays(plan: &Plan<'_>, rest: &Still, pushed: usize) -> bool {
    let mut held = rest.held.clone();
    held.energised[pushed] = true;
    let step = |_: &[bool], mut next: Vec<bool>| {
        next[pushed] = true;
        next
    };
    let Ok(start) = still(plan, &held, Some(rest)) else { return false };
    let Ok(cycle) = run(plan, start, step) else { return false };
    matches!(cycle.as_slice(), [one] if judge(plan, one)[pushed])
}

/// The coils whose current could be changed by a relay or a module that comes alive: something that such a change
/// would close lies at a point that loads and diodes join to the coil, or something that it would open holds one.
/// The others need no trial.
fn within_reach(plan: &Plan<'_>, rest: &Still) -> Vec<bool> {
    let flow = &rest.flows[0];
    let stiff = &flow.stiff;
    let free = |cluster: usize| !stiff.is_held(cluster);
    let mut regions = Sets::new(stiff.clusters);
    for (index, part) in plan.parts.iter().enumerate() {
        let joins = match part.act {
            Act::Diode(_) => true,
            Act::Nothing | Act::Source { .. } => false,
            _ => flow.conducts[index],
        };
        let (a, b) = (stiff.of(part.from), stiff.of(part.to));
        if joins && free(a) && free(b) {
            regions.join(a, b);
        }
    }
    let mut touched = vec![false; stiff.clusters];
    for (index, part) in plan.parts.iter().enumerate() {
        let switched = matches!(part.gate, Gate::Energised { .. });
        let dead = part.alive.is_some_and(|module| !flow.alive[module]);
        if !(switched || dead) {
            continue;
        }
        for cluster in [stiff.of(part.from), stiff.of(part.to)] {
            if free(cluster) || (switched && flow.conducts[index]) {
                let region = regions.find(cluster);
                touched[region] = true;
            }
        }
    }
    let mut near = |part: usize| {
        let (from, to) = (stiff.of(plan.parts[part].from), stiff.of(plan.parts[part].to));
        touched[regions.find(from)] || touched[regions.find(to)]
    };
    let carries = |part: usize| rest.amps(plan, part).abs() > drops_out(plan, part).unwrap_or(0.0);
    plan.coils.iter().map(|&part| near(part) || carries(part)).collect()
}
