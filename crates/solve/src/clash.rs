//! Clashes: ways from one potential to another with no load between, and the elements that lie on them.

use crate::{
    plan::{Act, Plan},
    stiff::{Closed, SAME, Stiff, is_conductor},
};

/// What is in the way of unlimited currents.
#[derive(Clone, Debug)]
pub(crate) struct Core {
    /// Parts whose current has no limit.
    pub(crate) parts: Vec<bool>,
    /// Points on the way, not counting the common ground.
    pub(crate) points: Vec<usize>,
}

/// A diode between frames of potentials: `volts` that are left over it when both frames stand at zero.
#[derive(Clone, Copy)]
struct Arc {
    diode: usize,
    anode: usize,
    cathode: usize,
    /// Its drop less what is fixed across it: what the anode's frame may stand above the cathode's.
    slack: f64,
}

/// Diodes that would have to carry an unlimited current: those on a way from a held potential to a lower one along
/// which the volts exceed the drops.
pub(crate) fn overdriven(plan: &Plan<'_>, stiff: &Stiff, conducts: &[bool], forced: &[usize]) -> Vec<usize> {
    let arcs: Vec<Arc> = plan
        .diodes
        .iter()
        .filter(|&&diode| conducts[diode] && forced.binary_search(&diode).is_err())
        .filter_map(|&diode| {
            let part = &plan.parts[diode];
            let Act::Diode(drop) = part.act else { return None };
            let (a, k) = (stiff.of(part.from), stiff.of(part.to));
            let slack = drop - stiff.volts[a] + stiff.volts[k];
            (a != k).then_some(Arc {
                diode,
                anode: stiff.frame[a] as usize,
                cathode: stiff.frame[k] as usize,
                slack,
            })
        })
        .collect();
    if arcs.iter().all(|arc| arc.slack >= 0.0) {
        return Vec::new();
    }
    // How high each frame is pushed from ground's, and how low it is pulled.
    let mut pushed = vec![f64::NEG_INFINITY; stiff.frames];
    let mut pulled = vec![f64::INFINITY; stiff.frames];
    (pushed[0], pulled[0]) = (0.0, 0.0);
    for _ in 0..arcs.len() {
        let mut moved = false;
        for arc in &arcs {
            let (push, pull) = (pushed[arc.anode] - arc.slack, pulled[arc.cathode] + arc.slack);
            if arc.cathode != 0 && push > pushed[arc.cathode] + SAME {
                pushed[arc.cathode] = push;
                moved = true;
            }
            if arc.anode != 0 && pull < pulled[arc.anode] - SAME {
                pulled[arc.anode] = pull;
                moved = true;
            }
        }
        if !moved {
            break;
        }
    }
    let over = |arc: &&Arc| {
        pushed[arc.anode] - arc.slack > pulled[arc.cathode] + SAME
            || (arc.anode == arc.cathode && arc.slack < -SAME)
    };
    let found: Vec<usize> = arcs.iter().filter(over).map(|arc| arc.diode).collect();
    if found.is_empty() { floating_loop(stiff, &arcs) } else { found }
}

/// Diodes of a loop between floating frames around which the volts exceed the drops: a negative cycle among the
/// constraints v(anode) - v(cathode) <= drop, found by relaxation (R. Bellman, "On a routing problem", Quarterly of
/// Applied Mathematics 16 (1958)).
fn floating_loop(stiff: &Stiff, arcs: &[Arc]) -> Vec<usize> {
    let mut height = vec![0.0; stiff.frames];
    let mut by: Vec<Option<usize>> = vec![None; stiff.frames];
    for _ in 0..=arcs.len() {
        let mut moved = false;
        for (index, arc) in arcs.iter().enumerate() {
            if height[arc.cathode] + arc.slack < height[arc.anode] - SAME {
                height[arc.anode] = height[arc.cathode] + arc.slack;
                by[arc.anode] = Some(index);
                moved = true;
            }
        }
        if !moved {
            return Vec::new();
        }
        if let Some(cycle) = cycle(arcs, &by) {
            return cycle;
        }
    }
    Vec::new()
}

/// A cycle of the arcs by which frames were last moved.
fn cycle(arcs: &[Arc], by: &[Option<usize>]) -> Option<Vec<usize>> {
    let mut seen = vec![usize::MAX; by.len()];
    for start in 0..by.len() {
        let mut at = start;
        while let Some(arc) = by[at] {
            if seen[at] == start {
                let mut diodes = Vec::new();
                let mut on = at;
                while let Some(arc) = by[on] {
                    diodes.push(arcs[arc].diode);
                    on = arcs[arc].cathode;
                    if on == at {
                        break;
                    }
                }
                diodes.sort_unstable();
                return Some(diodes);
            }
            if seen[at] != usize::MAX {
                break;
            }
            seen[at] = start;
            at = arcs[arc].cathode;
        }
    }
    None
}

/// An edge of the graph in which ways between potentials are sought.
#[derive(Clone, Copy)]
struct Edge {
    part: usize,
    ends: [usize; 2],
}

/// The parts and points on ways between different potentials: everything that lies on a loop with the hub, at which all
/// potentials meet (blocks by J. Hopcroft, R. Tarjan, "Algorithm 447", Communications of the ACM 16 (1973)).
pub(crate) fn core(plan: &Plan<'_>, stiff: &Stiff, closed: Closed<'_>) -> Option<Core> {
    let mut parts = vec![false; plan.parts.len()];
    let mut any = false;
    let inside = |point: usize| stiff.clash[stiff.of(point)];
    let hub = plan.points;
    let mut edges = Vec::new();
    // How many sources each cluster hangs on.
    let mut sources = vec![0u32; stiff.clusters];
    for (_, part) in plan.parts.iter().enumerate().filter(|&(i, _)| closed.conducts[i]) {
        if let Act::Source { .. } = part.act {
            sources[stiff.of(part.from)] += 1;
            sources[stiff.of(part.to)] += 1;
        }
    }
    for (index, part) in plan.parts.iter().enumerate().filter(|&(i, _)| closed.conducts[i]) {
        let hard_source = match part.act {
            Act::Source { limit: None, .. } => {
                let volts = part.level().unwrap_or(0.0);
                let lift = stiff.volts[stiff.of(part.to)] - stiff.volts[stiff.of(part.from)];
                let free = !inside(part.from) && !inside(part.to);
                if free && (lift - volts).abs() > SAME * (1.0 + volts.abs()) {
                    // Between two ground points: it cannot hold, and they do not move.
                    parts[index] = true;
                    any = true;
                }
                true
            }
            _ => false,
        };
        let conductor = is_conductor(plan, index) || closed.forced.contains(&index);
        if !(hard_source || conductor) || !(inside(part.from) || inside(part.to)) {
            continue;
        }
        let end = |point: usize| if inside(point) { point } else { hub };
        let (from, to) = (end(part.from), end(part.to));
        // What stands on the clash by this source alone is carried along with it: nothing drives a current through it.
        let stands = |point: usize| {
            let cluster = stiff.of(point);
            !inside(point)
                && sources[cluster] == 1
                && stiff.labels_of(cluster).iter().all(|l| l.source.is_some())
        };
        if hard_source && (stands(part.from) || stands(part.to)) {
            continue;
        }
        // A source whose own pole is no part of the clash still hangs on it by its terminal.
        if from != to || hard_source {
            edges.push(Edge { part: index, ends: [from, to] });
        }
    }
    if edges.is_empty() && !any {
        return None;
    }
    let mut points = vec![false; plan.points + 1];
    for block in blocks(plan.points + 1, &edges) {
        let of_source = |&e: &usize| matches!(plan.parts[edges[e].part].act, Act::Source { .. });
        let touches_hub = |&e: &usize| edges[e].ends.contains(&hub);
        let looped = block.len() > 1 || block.iter().any(|&e| edges[e].ends[0] == edges[e].ends[1]);
        if looped && (block.iter().any(touches_hub) || block.iter().any(of_source)) {
            for edge in block {
                parts[edges[edge].part] = true;
                any = true;
                edges[edge].ends.iter().for_each(|&end| points[end] = true);
            }
        }
    }
    let points = (0..plan.points).filter(|&p| points[p]).collect();
    any.then_some(Core { parts, points })
}

/// The blocks of a graph: sets of edges of which any two lie on a common loop; an edge on no loop is a block alone.
fn blocks(nodes: usize, edges: &[Edge]) -> Vec<Vec<usize>> {
    let mut near: Vec<Vec<usize>> = vec![Vec::new(); nodes];
    let mut found = Vec::new();
    for (index, edge) in edges.iter().enumerate() {
        if edge.ends[0] == edge.ends[1] {
            found.push(vec![index]);
            continue;
        }
        edge.ends.iter().for_each(|&end| near[end].push(index));
    }
    let mut depth = vec![0u32; nodes];
    let mut low = vec![0u32; nodes];
    let mut used = vec![false; edges.len()];
    let mut pending = Vec::new();
    let mut clock = 0;
    for root in 0..nodes {
        if depth[root] != 0 || near[root].is_empty() {
            continue;
        }
        clock += 1;
        (depth[root], low[root]) = (clock, clock);
        // Node, next of its edges, the edge by which it was reached.
        let mut stack = vec![(root, 0usize, usize::MAX)];
        while let Some(&mut (node, ref mut next, by)) = stack.last_mut() {
            if let Some(&edge) = near[node].get(*next) {
                *next += 1;
                if std::mem::replace(&mut used[edge], true) {
                    continue;
                }
                pending.push(edge);
                let other =
                    if edges[edge].ends[0] == node { edges[edge].ends[1] } else { edges[edge].ends[0] };
                if depth[other] == 0 {
                    clock += 1;
                    (depth[other], low[other]) = (clock, clock);
                    stack.push((other, 0, edge));
                } else {
                    low[node] = low[node].min(depth[other]);
                }
                continue;
            }
            stack.pop();
            let Some(&(above, ..)) = stack.last() else { break };
            low[above] = low[above].min(low[node]);
            if low[node] >= depth[above] {
                let from = pending.iter().rposition(|&edge| edge == by).unwrap_or(0);
                found.push(pending.split_off(from));
            }
        }
    }
    found
}
