//! Node states: what each cluster reaches, with and without loads on the way.

use crate::{
    NodeState,
    nets::Sets,
    phase::Flow,
    plan::{Act, Plan, SourceKind},
    stiff::{Arrows, SAME},
};

/// States of clusters, and the volts of the sources that feed them.
#[derive(Clone, Debug)]
pub(crate) struct Trace {
    /// By cluster.
    pub(crate) states: Vec<NodeState>,
    /// Stated volts of the strongest supply (else reference) that each cluster reaches, through loads if need be.
    pub(crate) feeders: Vec<Option<f64>>,
}

/// What a walk from a cluster that nothing holds ends at.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Border {
    region: usize,
    cluster: usize,
    /// The cluster inside the region from which it is reached.
    from: usize,
    grounded: bool,
    /// The frame and volts, to tell potentials apart.
    volts: (u32, f64),
}

/// States of all clusters of a phase.
pub(crate) fn trace(plan: &Plan<'_>, flow: &Flow) -> Trace {
    let stiff = &flow.stiff;
    let held = |c: usize| stiff.is_held(c);
    let mut states: Vec<NodeState> = (0..stiff.clusters).map(|c| held_state(flow, c)).collect();
    let mut feeders: Vec<Option<f64>> = (0..stiff.clusters).map(|c| own_feeder(plan, flow, c)).collect();
    // Loads and conducting diodes between clusters.
    let mut regions = Sets::new(stiff.clusters);
    let mut links = Vec::new();
    let (mut arrows, mut drops) = (Vec::new(), Vec::new());
    for (index, part) in plan.parts.iter().enumerate().filter(|&(i, _)| flow.conducts[i]) {
        let (a, b) = (stiff.of(part.from), stiff.of(part.to));
        match part.act {
            Act::Ohms(_) if part.load => links.push((a, b)),
            Act::Output { feed, .. } => links.extend([(a, b), (stiff.of(feed), b)]),
            Act::Diode(drop) if flow.on[index] => {
                arrows.push((a, b));
                drops.push(drop);
            }
            _ => {}
        }
    }
    // What feeds a diode's near end feeds its far end too, less its drop.
    let mut nominal = stiff.nominal.clone();
    let mut spread = !arrows.is_empty();
    while spread {
        spread = false;
        for (&(a, b), drop) in arrows.iter().zip(&drops).filter(|((_, b), _)| stiff.fed[*b]) {
            if feeders[a].is_some_and(|volts| feeders[b].is_none_or(|known| known < volts)) {
                feeders[b] = feeders[a];
                spread = true;
            }
            if let (Some((frame, volts)), None) = (nominal[a], nominal[b]) {
                nominal[b] = Some((frame, volts - drop));
                spread = true;
            }
        }
    }
    for &(a, b) in links.iter().chain(&arrows).filter(|&&(a, b)| !held(a) && !held(b)) {
        regions.join(a, b);
    }
    let mut borders = Vec::new();
    for &(a, b) in &links {
        for (from, cluster) in [(a, b), (b, a)] {
            if !held(from) && held(cluster) {
                let region = regions.find(from);
                let volts = nominal[cluster].unwrap_or((cluster as u32 + 1, 0.0));
                let grounded = stiff.grounded[cluster];
                borders.push(Border { region, cluster, from, grounded, volts });
                // A clash is of two potentials, whichever these are.
                if stiff.clash[cluster] {
                    let volts = (u32::MAX - cluster as u32, 0.0);
                    borders.push(Border { region, cluster, from, grounded: false, volts });
                }
            }
        }
    }
    borders.sort_by_key(|b| (b.region, b.cluster, b.from));
    // Regions with a diode inside are walked potential by potential, the others are all one.
    let mut directed: Vec<usize> =
        arrows.iter().filter(|&&(a, b)| !held(a) && !held(b)).map(|&(a, _)| regions.find(a)).collect();
    directed.sort_unstable();
    directed.dedup();
    let mut of_region: Vec<Vec<u32>> = vec![Vec::new(); stiff.clusters];
    for cluster in (0..stiff.clusters).filter(|&c| !held(c)) {
        of_region[regions.find(cluster)].push(cluster as u32);
    }
    let mut walks: Option<(Arrows, Arrows)> = None;
    for run in borders.chunk_by(|a, b| a.region == b.region) {
        let members = &of_region[run[0].region];
        let mut reached: Vec<Vec<Border>> = Vec::new();
        if directed.binary_search(&run[0].region).is_err() {
            let (state, feeder) = judge(run.iter(), &feeders);
            for &c in members {
                (states[c as usize], feeders[c as usize]) = (state, feeder);
            }
            continue;
        }
        let (forward, backward) = walks.get_or_insert_with(|| {
            let mut both: Vec<(usize, usize)> =
                links.iter().copied().filter(|&(a, b)| !held(a) && !held(b)).collect();
            both.extend(both.clone().iter().map(|&(a, b)| (b, a)));
            both.extend(arrows.iter().copied().filter(|&(a, b)| !held(a) && !held(b)));
            (Arrows::new(stiff.clusters, &both, false), Arrows::new(stiff.clusters, &both, true))
        });
        reached.resize(members.len(), Vec::new());
        let mut kinds: Vec<&Border> = Vec::new();
        for border in run {
            if !kinds.iter().any(|k| k.grounded == border.grounded && same(k.volts, border.volts)) {
                kinds.push(border);
            }
        }
        for kind in kinds {
            let mut marked = vec![false; stiff.clusters];
            for border in run.iter().filter(|b| b.grounded == kind.grounded && same(b.volts, kind.volts)) {
                marked[border.from] = true;
            }
            let mut back = marked.clone();
            forward.flood(&mut marked);
            backward.flood(&mut back);
            // Current comes from a source forward and goes to ground forward.
            for (at, &c) in members.iter().enumerate() {
                if (!kind.grounded && marked[c as usize]) || (kind.grounded && back[c as usize]) {
                    reached[at].push(*kind);
                }
            }
        }
        for (&c, borders) in members.iter().zip(&reached) {
            let (state, feeder) = judge(borders.iter(), &feeders);
            (states[c as usize], feeders[c as usize]) = (state, feeder);
        }
    }
    Trace { states, feeders }
}

fn same(a: (u32, f64), b: (u32, f64)) -> bool {
    a.0 == b.0 && (a.1 - b.1).abs() <= SAME * (1.0 + a.1.abs())
}

/// The state of what is reached through loads alone, and the volts that feed it.
fn judge<'b>(borders: impl Iterator<Item = &'b Border>, feeders: &[Option<f64>]) -> (NodeState, Option<f64>) {
    let mut grounded = false;
    let mut source: Option<(u32, f64)> = None;
    let mut several = false;
    let mut feeder: Option<f64> = None;
    for border in borders {
        if border.grounded {
            grounded = true;
        } else {
            several |= source.is_some_and(|first| !same(first, border.volts));
            source = Some(border.volts);
        }
        feeder = match (feeder, feeders[border.cluster]) {
            (Some(a), Some(b)) => Some(a.max(b)),
            (a, b) => a.or(b),
        };
    }
    let state = match (source.is_some(), grounded) {
        (true, true) => NodeState::Between,
        (true, false) if several => NodeState::Between,
        (true, false) => NodeState::FedViaLoad,
        (false, true) => NodeState::GroundedViaLoad,
        (false, false) => NodeState::Open,
    };
    (state, feeder)
}

/// The state of a cluster by continuity alone.
fn held_state(flow: &Flow, cluster: usize) -> NodeState {
    let stiff = &flow.stiff;
    if stiff.clash[cluster] || stiff.soft_clash[cluster] {
        NodeState::Clash
    } else if stiff.grounded[cluster] {
        NodeState::Grounded
    } else if stiff.gives[0][cluster] {
        NodeState::Fed
    } else if stiff.gives[1][cluster] {
        NodeState::Referenced
    } else if stiff.fed[cluster] || stiff.referenced[cluster] {
        // A diode holds it to a supply that cannot give through it: what flows comes through a load.
        NodeState::Between
    } else {
        NodeState::Open
    }
}

/// Stated volts of the strongest supply, else reference, at a cluster.
fn own_feeder(plan: &Plan<'_>, flow: &Flow, cluster: usize) -> Option<f64> {
    let stated = |part: usize| {
        let law = plan.circuit.elements.get(part).map(|e| &e.law);
        match (law, plan.parts[part].act) {
            (Some(keyon_circuit::model::Law::Source { volts, .. }), _) => Some(volts.nominal.abs()),
            (_, Act::Source { volts, .. }) => Some(volts.abs()),
            _ => None,
        }
    };
    let of = |kind: SourceKind| {
        let labels = flow.stiff.labels_of(cluster).iter();
        let sources = labels.filter_map(|l| l.source).filter(|&s| plan.parts[s].source == Some(kind));
        sources.filter_map(stated).reduce(f64::max)
    };
    of(SourceKind::Supply).or_else(|| of(SourceKind::Reference))
}
