//! What is held at a potential with no load between: continuity to supplies, references and ground, and where two
//! potentials meet.
//!
//! Points that anything but loads, sources and diodes joins are a *cluster*. The walk never leads through the common
//! ground (or a ground point joined to it): what hangs there side by side stays apart, so that a short in one branch
//! says nothing of the others.

use crate::{
    nets::Sets,
    plan::{Act, Plan, SourceKind},
};

/// Volts that count as the same potential.
pub(crate) const SAME: f64 = 1e-9;

/// A potential that reaches a cluster.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Label {
    pub(crate) cluster: usize,
    /// Volts in the cluster's frame.
    pub(crate) volts: f64,
    /// The source's part; `None` for ground.
    pub(crate) source: Option<usize>,
    /// By which part it reaches the cluster.
    pub(crate) by: usize,
    /// It gives way at a limit.
    pub(crate) soft: bool,
}

/// Clusters and their potentials.
#[derive(Clone, Debug)]
pub(crate) struct Stiff {
    /// The cluster of each point.
    pub(crate) cluster: Vec<u32>,
    pub(crate) clusters: usize,
    /// Potentials, by cluster.
    pub(crate) labels: Vec<Label>,
    /// Volts by way of sources without a limit, in the frame.
    pub(crate) volts: Vec<f64>,
    /// Clusters whose differences are fixed share a frame: 0 has the ground, others float.
    pub(crate) frame: Vec<u32>,
    pub(crate) frames: usize,
    /// Volts by way of any source, for words; `None` where no source or ground reaches.
    pub(crate) nominal: Vec<Option<(u32, f64)>>,
    /// Two potentials without a limit meet here.
    pub(crate) clash: Vec<bool>,
    /// … or with one.
    pub(crate) soft_clash: Vec<bool>,
    /// Clusters by kind of potential, conducting diodes counted in their direction.
    pub(crate) fed: Vec<bool>,
    pub(crate) referenced: Vec<bool>,
    pub(crate) grounded: Vec<bool>,
    /// Of those that are fed or referenced: where the current may come from the supply, the reference. Elsewhere a diode only
    /// clamps to it.
    pub(crate) gives: [Vec<bool>; 2],
    /// A supply or reference reaches it forward.
    pub(crate) alive_feed: Vec<bool>,
    /// It reaches ground forward.
    pub(crate) alive_ground: Vec<bool>,
}

/// A source between clusters.
#[derive(Clone, Copy)]
struct Lift {
    part: usize,
    from: usize,
    to: usize,
    volts: f64,
    soft: bool,
}

/// What of the parts counts as continuity.
#[derive(Clone, Copy)]
pub(crate) struct Closed<'a> {
    pub(crate) conducts: &'a [bool],
    /// Diodes that conduct.
    pub(crate) on: &'a [bool],
    /// Diodes in the way of an unlimited current: joints, as it were.
    pub(crate) forced: &'a [usize],
}

/// Whether a part joins its ends with no load between.
pub(crate) fn is_conductor(plan: &Plan<'_>, part: usize) -> bool {
    matches!(plan.parts[part].act, Act::Joint | Act::Ohms(_)) && !plan.parts[part].load
}

impl Stiff {
    pub(crate) fn new(plan: &Plan<'_>, closed: Closed<'_>) -> Self {
        let mut sets = Sets::new(plan.points);
        let mut contacts = Vec::new();
        let conductors = (0..plan.parts.len()).filter(|&i| closed.conducts[i] && is_conductor(plan, i));
        for index in conductors.chain(closed.forced.iter().copied()) {
            let part = &plan.parts[index];
            match (plan.anchored[part.from], plan.anchored[part.to]) {
                (false, false) => _ = sets.join(part.from, part.to),
                (false, true) => contacts.push((part.from, index)),
                (true, false) => contacts.push((part.to, index)),
                (true, true) => {}
            }
        }
        let mut cluster = vec![0u32; plan.points];
        let mut clusters = 0;
        for point in 0..plan.points {
            let lowest = sets.find(point);
            cluster[point] = if lowest == point {
                clusters += 1;
                clusters as u32 - 1
            } else {
                cluster[lowest]
            };
        }
        let at = |point: usize| cluster[point] as usize;
        let mut labels = Vec::new();
        let ground = |cluster, by| Label { cluster, volts: 0.0, source: None, by, soft: false };
        for point in (0..plan.points).filter(|&p| plan.anchored[p]) {
            labels.push(ground(at(point), usize::MAX));
        }
        for &(point, by) in &contacts {
            labels.push(ground(at(point), by));
        }
        let mut lifts = Vec::new();
        for (part, p) in plan.parts.iter().enumerate().filter(|&(i, _)| closed.conducts[i]) {
            if let (Act::Source { limit, .. }, Some(volts)) = (p.act, p.level()) {
                lifts.push(Lift { part, from: at(p.from), to: at(p.to), volts, soft: limit.is_some() });
            }
        }
        // Whichever order the elements have: a contradiction shows at the same place.
        lifts.sort_by(|a, b| (a.from, a.to).cmp(&(b.from, b.to)).then(a.volts.total_cmp(&b.volts)));
        let mut stiff = Self {
            cluster,
            clusters,
            labels,
            volts: vec![0.0; clusters],
            frame: vec![u32::MAX; clusters],
            frames: 1,
            nominal: vec![None; clusters],
            clash: vec![false; clusters],
            soft_clash: vec![false; clusters],
            fed: vec![false; clusters],
            referenced: vec![false; clusters],
            grounded: vec![false; clusters],
            gives: [vec![false; clusters], vec![false; clusters]],
            alive_feed: vec![false; clusters],
            alive_ground: vec![false; clusters],
        };
        stiff.spread(&lifts);
        stiff.meet();
        // A diode is forced only by two potentials, wherever their contradiction came to be written down.
        for &diode in closed.forced {
            for end in
                [plan.parts[diode].from, plan.parts[diode].to].into_iter().filter(|&e| !plan.anchored[e])
            {
                stiff.clash[stiff.cluster[end] as usize] = true;
            }
        }
        stiff.reach(plan, closed);
        stiff
    }

    pub(crate) fn of(&self, point: usize) -> usize {
        self.cluster[point] as usize
    }

    /// Potentials of clusters from ground over the sources, hard ones first.
    fn spread(&mut self, lifts: &[Lift]) {
        let grounded: Vec<usize> = self.labels.iter().map(|label| label.cluster).collect();
        for &cluster in &grounded {
            self.frame[cluster] = 0;
        }
        let mut first = vec![0u32; self.clusters + 1];
        for lift in lifts {
            first[lift.from] += 1;
            first[lift.to] += 1;
        }
        let mut sum = 0;
        for count in &mut first {
            sum += *count;
            *count = sum;
        }
        let mut near = vec![0u32; lifts.len() * 2];
        for (index, lift) in lifts.iter().enumerate().rev() {
            for cluster in [lift.from, lift.to] {
                first[cluster] -= 1;
                near[first[cluster] as usize] = index as u32;
            }
        }
        let around =
            |c: usize| near[first[c] as usize..first[c + 1] as usize].iter().map(|&l| lifts[l as usize]);
        let mut queue = grounded.clone();
        let walk = |queue: &mut Vec<usize>, frame: &mut [u32], volts: &mut [f64]| {
            let mut next = 0;
            while let Some(&c) = queue.get(next) {
                next += 1;
                for lift in around(c).filter(|lift| !lift.soft) {
                    let (other, step) =
                        if lift.from == c { (lift.to, lift.volts) } else { (lift.from, -lift.volts) };
                    if frame[other] == u32::MAX {
                        frame[other] = frame[c];
                        volts[other] = volts[c] + step;
                        queue.push(other);
                    }
                }
            }
        };
        walk(&mut queue, &mut self.frame, &mut self.volts);
        for cluster in 0..self.clusters {
            if self.frame[cluster] == u32::MAX {
                self.frame[cluster] = self.frames as u32;
                self.frames += 1;
                walk(&mut vec![cluster], &mut self.frame, &mut self.volts);
            }
        }
        // The same with limited sources, for words only; what floats is known against its own lowest cluster.
        let mut known = vec![None; self.clusters];
        for cluster in (0..self.clusters).filter(|&c| self.frame[c] == 0) {
            known[cluster] = Some((0, self.volts[cluster]));
        }
        let mut queue: Vec<usize> = (0..self.clusters).filter(|&c| known[c].is_some()).collect();
        let mut start = 0;
        loop {
            let mut next = 0;
            while let Some(&c) = queue.get(next) {
                next += 1;
                let Some((frame, volts)) = known[c] else { continue };
                for lift in around(c) {
                    let (other, step) =
                        if lift.from == c { (lift.to, lift.volts) } else { (lift.from, -lift.volts) };
                    if known[other].is_none() {
                        known[other] = Some((frame, volts + step));
                        queue.push(other);
                    }
                }
            }
            queue.clear();
            let alone = (start..self.clusters).find(|&c| known[c].is_none() && around(c).next().is_some());
            let Some(cluster) = alone else { break };
            known[cluster] = Some((cluster as u32 + 1, 0.0));
            queue.push(cluster);
            start = cluster + 1;
        }
        for lift in lifts {
            if let Some((_, volts)) = known[lift.from] {
                let volts = volts + lift.volts;
                let (source, by) = (Some(lift.part), lift.part);
                self.labels.push(Label { cluster: lift.to, volts, source, by, soft: lift.soft });
            }
        }
        // The other pole of a source whose `to` hangs on ground is what is live: positive earth.
        let mut labelled = vec![false; self.clusters];
        self.labels.iter().for_each(|label| labelled[label.cluster] = true);
        for lift in lifts.iter().filter(|lift| !labelled[lift.from]) {
            if let Some((0, volts)) = known[lift.from] {
                let (cluster, source) = (lift.from, Some(lift.part));
                self.labels.push(Label { cluster, volts, source, by: lift.part, soft: lift.soft });
            }
        }
        self.labels.sort_by_key(|label| label.cluster);
        for label in &self.labels {
            self.nominal[label.cluster] = known[label.cluster];
        }
        // In a frame that hard sources alone span, volts are told in that frame.
        for label in &mut self.labels {
            let cluster = label.cluster;
            if let Some((_, nominal)) = known[cluster] {
                // Shift what a label differs from its cluster's own, so that both compare in the frame.
                label.volts += self.volts[cluster] - nominal;
            }
        }
    }

    /// Where potentials meet.
    fn meet(&mut self) {
        for label in &self.labels {
            let c = label.cluster;
            if (label.volts - self.volts[c]).abs() > SAME * (1.0 + label.volts.abs()) {
                if label.soft { self.soft_clash[c] = true } else { self.clash[c] = true }
            }
        }
        // What stands side by side at the common ground is never itself in a clash.
        for label in self.labels.iter().filter(|label| label.by == usize::MAX) {
            self.clash[label.cluster] = false;
            self.soft_clash[label.cluster] = false;
        }
        // For what else hangs on it a cluster in a clash counts as its lowest potential: a short to ground is dead.
        for label in &self.labels {
            let c = label.cluster;
            if self.clash[c] && !label.soft {
                self.volts[c] = self.volts[c].min(label.volts);
            }
        }
    }

    /// Which kinds of potential reach each cluster, diodes that conduct counted in.
    fn reach(&mut self, plan: &Plan<'_>, closed: Closed<'_>) {
        for label in &self.labels {
            let c = label.cluster;
            match label.source.map(|part| plan.parts[part].source) {
                None => (self.grounded[c], self.alive_ground[c]) = (true, true),
                Some(Some(SourceKind::Supply)) => (self.fed[c], self.alive_feed[c]) = (true, true),
                Some(_) => (self.referenced[c], self.alive_feed[c]) = (true, true),
            }
        }
        let ends = |&index: &usize| (self.of(plan.parts[index].from), self.of(plan.parts[index].to));
        let diodes: Vec<(usize, usize)> =
            plan.diodes.iter().filter(|&&i| closed.conducts[i] && closed.on[i]).map(ends).collect();
        if diodes.is_empty() {
            self.gives = [self.fed.clone(), self.referenced.clone()];
            return;
        }
        let (forward, backward) =
            (Arrows::new(self.clusters, &diodes, false), Arrows::new(self.clusters, &diodes, true));
        self.give(plan, &forward, &backward);
        forward.flood(&mut self.alive_feed);
        backward.flood(&mut self.alive_ground);
        for flags in [&mut self.fed, &mut self.referenced, &mut self.grounded] {
            let mut back = flags.clone();
            forward.flood(flags);
            backward.flood(&mut back);
            flags.iter_mut().zip(back).for_each(|(flag, back)| *flag |= back);
        }
        for &(a, k) in &diodes {
            // A limited source that gives all it has through a diode.
            if let (Some((fa, va)), Some((fk, vk))) = (self.nominal[a], self.nominal[k])
                && fa == fk
                && va > vk + SAME
                && !self.clash[a]
                && !self.clash[k]
                && self.labels.iter().any(|l| l.soft && (l.cluster == a || l.cluster == k))
                && self.drop_between(plan, closed, a, k) < va - vk - SAME
            {
                self.soft_clash[a] = true;
                self.soft_clash[k] = true;
            }
        }
    }

    /// Where supplies and references can give: forward over diodes what stands above ground, backward what stands below it,
    /// both ways what floats.
    fn give(&mut self, plan: &Plan<'_>, forward: &Arrows, backward: &Arrows) {
        for (gives, kind) in self.gives.iter_mut().zip([SourceKind::Supply, SourceKind::Reference]) {
            let mut back = gives.clone();
            for label in &self.labels {
                let c = label.cluster;
                if label.source.and_then(|part| plan.parts[part].source) != Some(kind) {
                    continue;
                }
                match self.nominal[c] {
                    Some((0, volts)) if volts < 0.0 => back[c] = true,
                    Some((0, _)) => gives[c] = true,
                    _ => (gives[c], back[c]) = (true, true),
                }
            }
            forward.flood(gives);
            backward.flood(&mut back);
            gives.iter_mut().zip(back).for_each(|(gives, back)| *gives |= back);
        }
    }

    fn drop_between(&self, plan: &Plan<'_>, closed: Closed<'_>, a: usize, k: usize) -> f64 {
        let drops = plan.diodes.iter().filter(|&&i| closed.conducts[i] && closed.on[i]).filter_map(|&i| {
            let part = &plan.parts[i];
            match part.act {
                Act::Diode(drop) if self.of(part.from) == a && self.of(part.to) == k => Some(drop),
                _ => None,
            }
        });
        drops.fold(f64::INFINITY, f64::min)
    }

    /// Whether continuity holds a cluster at some potential.
    pub(crate) fn is_held(&self, cluster: usize) -> bool {
        self.fed[cluster] || self.referenced[cluster] || self.grounded[cluster]
    }

    pub(crate) fn labels_of(&self, cluster: usize) -> &[Label] {
        let start = self.labels.partition_point(|label| label.cluster < cluster);
        let end = self.labels.partition_point(|label| label.cluster <= cluster);
        &self.labels[start..end]
    }
}

/// Arrows between clusters, by their tails.
pub(crate) struct Arrows {
    first: Vec<u32>,
    heads: Vec<u32>,
}

impl Arrows {
    pub(crate) fn new(clusters: usize, arrows: &[(usize, usize)], turned: bool) -> Self {
        let ends = |&(a, b): &(usize, usize)| if turned { (b, a) } else { (a, b) };
        let mut first = vec![0u32; clusters + 1];
        for (tail, _) in arrows.iter().map(ends) {
            first[tail] += 1;
        }
        let mut sum = 0;
        for count in &mut first {
            sum += *count;
            *count = sum;
        }
        let mut heads = vec![0u32; arrows.len()];
        for (tail, head) in arrows.iter().rev().map(ends) {
            first[tail] -= 1;
            heads[first[tail] as usize] = head as u32;
        }
        Self { first, heads }
    }

    /// Where the arrows of a cluster lead.
    pub(crate) fn from(&self, tail: usize) -> &[u32] {
        &self.heads[self.first[tail] as usize..self.first[tail + 1] as usize]
    }

    /// Marks all that arrows reach from what is marked.
    pub(crate) fn flood(&self, marked: &mut [bool]) {
        let mut stack: Vec<usize> = (0..marked.len()).filter(|&c| marked[c]).collect();
        while let Some(tail) = stack.pop() {
            for &head in self.from(tail) {
                if !std::mem::replace(&mut marked[head as usize], true) {
                    stack.push(head as usize);
                }
            }
        }
    }
}
