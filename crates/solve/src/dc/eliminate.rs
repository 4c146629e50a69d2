//! Elimination of a network of conductances, node by node, without subtraction.
//!
//! A node that is taken out leaves its neighbours joined by conductances (the star-mesh transformation, A. Rosen, "A new
//! network theorem", Journal of the IEE 62 (1924)). Written so, Gaussian elimination of a network's matrix only adds,
//! multiplies and divides positive numbers: every figure of the factors is good to the last digits however far apart the
//! conductances lie (the reasoning of Grassmann, Taksar, Heyman, "Regenerative analysis and steady state distributions
//! for Markov chains", Operations Research 33 (1985)). The node of least degree goes first, which keeps wiring, being
//! nearly a tree, linear. A core in which every node has many neighbours is left to [`Meshed`].

use super::{meshed::Meshed, wide::Wide};
use smallvec::SmallVec;

/// Neighbours of the least connected node from which on a core counts as meshed, and its fewest and most nodes.
const MESHED_DEGREE: usize = 16;
const MESHED_NODES: std::ops::RangeInclusive<usize> = 32..=4000;

/// A network of conductances between nodes `0 .. n`, each of which may also have one to the reference.
#[derive(Clone, Debug)]
pub struct Conductances {
    /// Siemens to the reference.
    ground: Vec<Wide>,
    /// Neighbours with siemens; each pair stands at both of its nodes.
    near: Vec<Near>,
}

/// Neighbours with siemens; most nodes of wiring have two or three.
type Near = SmallVec<[(u32, Wide); 3]>;

/// A node that was taken out.
#[derive(Clone, Debug)]
struct Step {
    node: u32,
    /// Ohms of its conductances side by side; zero for the last node of an island without a way to the reference.
    ohms: Wide,
    /// The neighbours it had left, each with its share of the conductances in sum: a range of `Eliminated::shares`.
    shares: (u32, u32),
}

/// An eliminated network: potentials for any injected currents, at the price of a substitution.
#[derive(Clone, Debug)]
pub struct Eliminated {
    steps: Vec<Step>,
    shares: Vec<(u32, Wide)>,
    /// Index into `steps` of each node; `u32::MAX` in the core.
    step_of: Vec<u32>,
    core: Option<Meshed>,
}

impl Conductances {
    /// `nodes` nodes without a conductance.
    pub fn new(nodes: usize) -> Self {
        Self { ground: vec![Wide::ZERO; nodes], near: vec![Near::new(); nodes] }
    }

    /// Adds `siemens` between two nodes; `None` is the reference. A conductance from a node to itself does nothing.
    pub fn add(&mut self, a: Option<usize>, b: Option<usize>, siemens: Wide) {
        match (a, b) {
            (Some(a), Some(b)) if a != b => {
                accumulate(&mut self.near[a], b as u32, siemens);
                accumulate(&mut self.near[b], a as u32, siemens);
            }
            (Some(node), None) | (None, Some(node)) => self.ground[node] += siemens,
            _ => {}
        }
    }

    /// Takes out every node, least degree first.
    pub fn eliminate(mut self) -> Eliminated {
        let nodes = self.near.len();
        let mut out = Eliminated {
            steps: Vec::with_capacity(nodes),
            shares: Vec::with_capacity(nodes * 2),
            step_of: vec![u32::MAX; nodes],
            core: None,
        };
        let mut may_mesh = true;
        // Buckets by degree, entries go stale and are skipped: an entry holds if its node is still in and of that degree.
        let mut buckets: Vec<Vec<u32>> = Vec::new();
        let file = |buckets: &mut Vec<Vec<u32>>, degree: usize, node: u32| {
            if buckets.len() <= degree {
                buckets.resize_with(degree + 1, Vec::new);
            }
            buckets[degree].push(node);
        };
        for node in (0..nodes).rev() {
            file(&mut buckets, self.near[node].len(), node as u32);
        }
        let mut least = 0;
        while least < buckets.len() {
            let Some(node) = buckets[least].pop() else {
                least += 1;
                continue;
            };
            let index = node as usize;
            if out.step_of[index] != u32::MAX || self.near[index].len() != least {
                continue;
            }
            if may_mesh && least >= MESHED_DEGREE && MESHED_NODES.contains(&(nodes - out.steps.len())) {
                may_mesh = false;
                out.core = self.meshed(&out.step_of);
                if out.core.is_some() {
                    break;
                }
            }
            let star = std::mem::take(&mut self.near[index]);
            let ground = self.ground[index];
            let total = star.iter().map(|&(_, g)| g).sum::<Wide>() + ground;
            let ohms = if total.is_zero() { Wide::ZERO } else { Wide::ONE / total };
            let first = out.shares.len() as u32;
            for &(neighbour, g) in &star {
                // With one way out all of it is there.
                let share = if star.len() == 1 && ground.is_zero() { Wide::ONE } else { g * ohms };
                out.shares.push((neighbour, share));
                let near = &mut self.near[neighbour as usize];
                if let Some(at) = near.iter().position(|&(other, _)| other == node) {
                    near.swap_remove(at);
                }
                if !ground.is_zero() {
                    self.ground[neighbour as usize] += share * ground;
                }
            }
            for (at, &(a, _)) in star.iter().enumerate() {
                let share = out.shares[first as usize + at].1;
                for &(b, g) in &star[at + 1..] {
                    let mesh = share * g;
                    accumulate(&mut self.near[a as usize], b, mesh);
                    accumulate(&mut self.near[b as usize], a, mesh);
                }
            }
            for &(neighbour, _) in &star {
                let degree = self.near[neighbour as usize].len();
                file(&mut buckets, degree, neighbour);
                least = least.min(degree);
            }
            out.step_of[index] = out.steps.len() as u32;
            out.steps.push(Step { node, ohms, shares: (first, out.shares.len() as u32) });
        }
        out
    }

    /// What is left, as a core.
    fn meshed(&self, step_of: &[u32]) -> Option<Meshed> {
        let nodes: Vec<u32> =
            (0..step_of.len()).filter(|&n| step_of[n] == u32::MAX).map(|n| n as u32).collect();
        let mut place = vec![u32::MAX; step_of.len()];
        for (at, &node) in nodes.iter().enumerate() {
            place[node as usize] = at as u32;
        }
        let mut links = Vec::new();
        for (at, &node) in nodes.iter().enumerate() {
            let near = self.near[node as usize].iter();
            links.extend(near.map(|&(other, g)| (at as u32, place[other as usize], g)).filter(|l| l.0 < l.1));
        }
        let ground = nodes.iter().map(|&node| self.ground[node as usize]).collect();
        Meshed::new(nodes, links, ground)
    }
}

/// Adds to the entry of a neighbour, or makes it.
fn accumulate(near: &mut Near, node: u32, siemens: Wide) {
    match near.iter_mut().find(|(other, _)| *other == node) {
        Some((_, g)) => *g += siemens,
        None => near.push((node, siemens)),
    }
}

impl Eliminated {
    fn shares(&self, step: &Step) -> &[(u32, Wide)] {
        &self.shares[step.shares.0 as usize..step.shares.1 as usize]
    }

    /// The nodes without a way to the reference.
    pub fn floating(&self) -> Vec<bool> {
        let mut floating = vec![false; self.step_of.len()];
        if let Some(core) = &self.core {
            for (&node, &floats) in core.nodes.iter().zip(&core.floats) {
                floating[node as usize] = floats;
            }
        }
        for step in self.steps.iter().rev() {
            // A node floats with the neighbour it was folded into; the last of an island has none.
            floating[step.node as usize] = match self.shares(step).first() {
                Some(&(neighbour, _)) => floating[neighbour as usize],
                None => step.ohms.is_zero(),
            };
        }
        floating
    }

    /// From injected currents (amps into each node) to potentials. In a floating island the node that was taken out
    /// last stands at zero, and what current is left over there is returned: it has nowhere to go.
    pub fn substitute(&self, amps: &mut [Wide]) -> Vec<(usize, Wide)> {
        let mut left_over = Vec::new();
        for step in &self.steps {
            let own = amps[step.node as usize];
            if !own.is_zero() {
                for &(neighbour, share) in self.shares(step) {
                    amps[neighbour as usize] += share * own;
                }
            }
        }
        if let Some(core) = &self.core {
            core.substitute(amps, &mut left_over);
        }
        for step in self.steps.iter().rev() {
            let node = step.node as usize;
            if step.ohms.is_zero() {
                if !amps[node].is_zero() {
                    left_over.push((node, amps[node]));
                }
                amps[node] = Wide::ZERO;
                continue;
            }
            let mut volts = if amps[node].is_zero() { Wide::ZERO } else { amps[node] * step.ohms };
            for &(neighbour, share) in self.shares(step) {
                volts += share * amps[neighbour as usize];
            }
            amps[node] = volts;
        }
        left_over
    }

    /// The resistance between each node and the reference: the diagonal of the inverse, for about the price of the
    /// elimination. Only entries of the inverse where the factors have one are made (K. Takahashi, J. Fagan, M. Chen,
    /// "Formation of a sparse bus impedance matrix and its application to short circuit study", PICA 1973).
    /// Infinite for nodes that float.
    pub fn resistances(&self) -> Vec<f64> {
        let mut own = vec![0.0; self.step_of.len()];
        let inverse = self.core.as_ref().map(Meshed::inverse);
        let mut place = Vec::new();
        if let (Some(core), Some(inverse)) = (&self.core, &inverse) {
            place.resize(self.step_of.len(), 0);
            for (at, &node) in core.nodes.iter().enumerate() {
                place[node as usize] = at;
                own[node as usize] = inverse[(at, at)];
            }
        }
        let in_core = |a: u32, b: u32| {
            let inside = |node: u32| self.step_of[node as usize] == u32::MAX;
            let inverse = inverse.as_ref().filter(|_| inside(a) && inside(b))?;
            Some(inverse[(place[a as usize], place[b as usize])])
        };
        // Beside each share of a step: the inverse's entry of the step's node and that neighbour.
        let mut cross = vec![0.0; self.shares.len()];
        for step in self.steps.iter().rev() {
            let (first, end) = (step.shares.0 as usize, step.shares.1 as usize);
            if step.ohms.is_zero() {
                continue;
            }
            let shares = &self.shares[first..end];
            for at in 0..shares.len() {
                let mut sum = 0.0;
                for &(other, share) in shares {
                    let entry = if other == shares[at].0 {
                        own[other as usize]
                    } else {
                        in_core(other, shares[at].0)
                            .unwrap_or_else(|| self.entry(&cross, other, shares[at].0))
                    };
                    sum += share.value() * entry;
                }
                cross[first + at] = sum;
            }
            let mut sum = step.ohms.value();
            for (at, &(_, share)) in shares.iter().enumerate() {
                sum += share.value() * cross[first + at];
            }
            own[step.node as usize] = sum;
        }
        for (own, floats) in own.iter_mut().zip(self.floating()) {
            if floats {
                *own = f64::INFINITY;
            }
        }
        own
    }

    /// The inverse's entry of two nodes that were neighbours when the earlier of them was taken out.
    fn entry(&self, cross: &[f64], a: u32, b: u32) -> f64 {
        let (early, late) = if self.step_of[a as usize] < self.step_of[b as usize] { (a, b) } else { (b, a) };
        let step = &self.steps[self.step_of[early as usize] as usize];
        let at = self.shares(step).iter().position(|&(node, _)| node == late);
        at.map_or(0.0, |at| cross[step.shares.0 as usize + at])
    }
}
