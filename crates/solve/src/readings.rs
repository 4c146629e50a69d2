//! Volts of one phase: what stands there, and what a meter makes of it.

use crate::{
    phase::Flow,
    plan::{Act, Plan},
    stiff::Stiff,
};

/// Volts of each point.
#[derive(Clone, Debug)]
pub(crate) struct Readings {
    /// Without a meter; `None` in a clash, next to one, and where it floats.
    pub(crate) unloaded: Vec<Option<f64>>,
    /// With the meter on this net alone; 0 where it floats.
    pub(crate) meter: Vec<Option<f64>>,
}

pub(crate) fn readings(plan: &Plan<'_>, flow: &Flow) -> Readings {
    let unknown = unknown(plan, flow);
    let answer = &flow.electric.answer;
    let meter = plan.state.options.meter;
    let inner = if meter.is_finite() { flow.electric.factored.resistances() } else { Vec::new() };
    let mut readings =
        Readings { unloaded: Vec::with_capacity(plan.points), meter: Vec::with_capacity(plan.points) };
    for point in 0..plan.points {
        let cluster = flow.stiff.of(point);
        let (unloaded, read) = if unknown[cluster] {
            (None, None)
        } else if answer.floating[point] {
            (None, Some(0.0))
        } else {
            let volts = answer.volts[point];
            let share = inner
                .get(point)
                .map_or(1.0, |inner| if *inner > 0.0 { meter / (meter + inner) } else { 1.0 });
            (Some(volts), Some(volts * share))
        };
        readings.unloaded.push(unloaded);
        readings.meter.push(read);
    }
    readings
}

/// Clusters in a clash, and those whose volts hang on one.
fn unknown(plan: &Plan<'_>, flow: &Flow) -> Vec<bool> {
    let stiff = &flow.stiff;
    let mut unknown = stiff.clash.clone();
    if !unknown.contains(&true) {
        return unknown;
    }
    let mut links: Vec<Vec<usize>> = vec![Vec::new(); stiff.clusters];
    for (index, part) in plan.parts.iter().enumerate().filter(|&(i, _)| flow.conducts[i]) {
        let (a, b) = (stiff.of(part.from), stiff.of(part.to));
        match part.act {
            Act::Ohms(_) if part.load => {
                links[a].push(b);
                links[b].push(a);
            }
            Act::Diode(_) if flow.on[index] => {
                links[a].push(b);
                links[b].push(a);
            }
            Act::Output { .. } => links[a].push(b),
            Act::Source { .. } => links[a].push(b),
            _ => {}
        }
    }
    let mut stack: Vec<usize> = (0..stiff.clusters).filter(|&c| unknown[c]).collect();
    while let Some(c) = stack.pop() {
        for &other in &links[c] {
            if !unknown[other] && !is_sure(plan, stiff, &unknown, other) {
                unknown[other] = true;
                stack.push(other);
            }
        }
    }
    unknown
}

/// Whether something known holds a cluster.
fn is_sure(plan: &Plan<'_>, stiff: &Stiff, unknown: &[bool], cluster: usize) -> bool {
    stiff.labels_of(cluster).iter().any(|label| match label.source {
        None => true,
        Some(source) => !unknown[stiff.of(plan.parts[source].from)],
    })
}
