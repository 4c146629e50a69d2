//! Volts of one phase: what stands there, and what a meter makes of it.

use crate::{
    margins::Margins,
    nets,
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

pub(crate) fn readings(plan: &Plan<'_>, flow: &Flow, turning: &[(usize, f64)]) -> Readings {
    let unknown = unknown(plan, flow);
    let answer = &flow.electric.answer;
    let meter = plan.state.options.meter;
    let inner = if meter.is_finite() { flow.electric.factored.resistances() } else { Vec::new() };
    let margins = Margins::new(plan, flow, meter);
    // Points that joints make one read the same: one solution with a meter does for all of them.
    let mut nets: Vec<u32> = Vec::new();
    let mut metered: Vec<Option<f64>> = vec![None; plan.points];
    let following = following(plan, flow);
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
            let inner = inner.get(point).copied().unwrap_or(0.0).max(0.0);
            let drawn = volts / (meter + inner);
            let read = if meter.is_finite() && (following[cluster] || margins.tips(drawn, inner)) {
                if nets.is_empty() {
                    nets = nets::nets(plan, &flow.conducts);
                }
                let net = nets.get(point).map_or(point, |&net| net as usize);
                *metered[net].get_or_insert_with(|| flow.metered(plan, turning, point, meter))
            } else if inner > 0.0 {
                volts * (meter / (meter + inner))
            } else {
                volts
            };
            (Some(volts), Some(read))
        };
        readings.unloaded.push(unloaded);
        readings.meter.push(read);
    }
    readings
}

/// Clusters that hang on a transducer whose output follows its feed: what a meter draws there shifts its ground and so
/// the output itself, which the resistance behind a point knows nothing of.
fn following(plan: &Plan<'_>, flow: &Flow) -> Vec<bool> {
    let stiff = &flow.stiff;
    let mut marked = vec![false; stiff.clusters];
    let mut stack = Vec::new();
    for &output in plan.outputs.iter().filter(|&&output| flow.conducts[output]) {
        let end = stiff.of(plan.parts[output].to);
        if matches!(plan.parts[output].act, Act::Output { ratio: true, .. }) && !stiff.is_held(end) {
            marked[end] = true;
            stack.push(end);
        }
    }
    if stack.is_empty() {
        return marked;
    }
    let mut links: Vec<Vec<usize>> = vec![Vec::new(); stiff.clusters];
    for (index, part) in plan.parts.iter().enumerate().filter(|&(i, _)| flow.conducts[i]) {
        if matches!(part.act, Act::Ohms(_)) || (matches!(part.act, Act::Diode(_)) && flow.on[index]) {
            let (a, b) = (stiff.of(part.from), stiff.of(part.to));
            links[a].push(b);
            links[b].push(a);
        }
    }
    while let Some(cluster) = stack.pop() {
        for &other in &links[cluster] {
            if !stiff.is_held(other) && !std::mem::replace(&mut marked[other], true) {
                stack.push(other);
            }
        }
    }
    marked
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
