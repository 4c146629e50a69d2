//! A plain linear network: nodes, resistors, sources, shorts.

use super::{
    eliminate::{Conductances, Eliminated},
    ideal::{Forest, Tie},
    wide::Wide,
};

/// A branch of a network, between two nodes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Branch {
    /// Ohms. Zero, less or not a number counts as a short, infinite as nothing.
    Resistor(f64),
    /// `to` stands `volts` above `from` when no current flows, behind `ohms` (zero allowed).
    Source {
        #[allow(missing_docs)]
        volts: f64,
        #[allow(missing_docs)]
        ohms: f64,
    },
    /// Drives `amps` from `from` through itself to `to`.
    Current {
        #[allow(missing_docs)]
        amps: f64,
    },
    /// An ideal joint.
    Short,
}

impl Branch {
    /// Its volts or amps; zero for what drives nothing.
    pub fn drive(self) -> f64 {
        match self {
            Self::Source { volts, .. } => volts,
            Self::Current { amps } => amps,
            Self::Resistor(_) | Self::Short => 0.0,
        }
    }

    /// Ohms between its ends; zero where it is ideal, infinite where it passes nothing of itself.
    fn ohms(self) -> f64 {
        match self {
            Self::Resistor(ohms) | Self::Source { ohms, .. } if ohms > SHORT => ohms,
            Self::Resistor(_) | Self::Source { .. } | Self::Short => 0.0,
            Self::Current { .. } => f64::INFINITY,
        }
    }
}

/// Ohms below which a resistance is a short: far below any joint, and squares stay within a number's range.
const SHORT: f64 = 1e-30;
/// Ohms above which a resistance is nothing.
const NOTHING: f64 = 1e30;

/// What is left of a difference that is really zero, in proportion to what was subtracted.
const NOISE: f64 = 1e-26;

/// Nodes and branches. Node 0 is the reference, at 0 V.
#[derive(Clone, Debug)]
pub struct Network {
    nodes: usize,
    branches: Vec<(usize, usize, Branch)>,
}

/// Why a network has no solution.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Inconsistent {
    /// Ideal sources and shorts in a loop whose volts do not add up to zero: the current is unlimited. Its branches.
    Loop(Vec<usize>),
    /// Current sources that feed a part of the network from which there is no way back. Its nodes.
    NoReturn(Vec<usize>),
}

/// Potentials and currents.
#[derive(Clone, Debug)]
pub struct Answer {
    /// Volts of each node against node 0. In a part of the network without a connection to node 0 they are against
    /// that part's lowest node.
    pub volts: Vec<f64>,
    /// Whether a node has no connection to node 0.
    pub floating: Vec<bool>,
    /// Amps of each branch, positive from its `from` to its `to`. A loop of shorts shares its current as if each had the
    /// same small resistance, and so does a loop of ideal sources; beside a short a source carries nothing.
    pub amps: Vec<f64>,
}

/// A network that is ready to be solved for any volts and amps of its sources.
#[derive(Clone, Debug)]
pub struct Factored {
    branches: Vec<(usize, usize, Branch)>,
    /// Siemens of each branch; zero where it has none: a division each, so made once.
    siemens: Vec<Wide>,
    forest: Forest,
    eliminated: Eliminated,
    /// Trees of ideal branches that float.
    floating: Vec<bool>,
}

impl Network {
    /// A network of `nodes` nodes (at least the reference) without a branch.
    pub fn new(nodes: usize) -> Self {
        Self { nodes: nodes.max(1), branches: Vec::new() }
    }

    /// Adds a node and gives its index.
    pub fn node(&mut self) -> usize {
        self.nodes += 1;
        self.nodes - 1
    }

    /// How many nodes it has.
    pub fn nodes(&self) -> usize {
        self.nodes
    }

    /// Its branches in the order they were added: from, to, what.
    pub fn branches(&self) -> &[(usize, usize, Branch)] {
        &self.branches
    }

    /// Adds a branch and gives its index. Nodes that do not exist yet are made.
    pub fn branch(&mut self, from: usize, to: usize, branch: Branch) -> usize {
        self.nodes = self.nodes.max(from.max(to) + 1);
        self.branches.push((from, to, branch));
        self.branches.len() - 1
    }

    /// Adds a resistor.
    pub fn resistor(&mut self, from: usize, to: usize, ohms: f64) -> usize {
        self.branch(from, to, Branch::Resistor(ohms))
    }

    /// Adds a voltage source whose `to` is the positive pole, behind `ohms` (zero: ideal).
    pub fn source(&mut self, from: usize, to: usize, volts: f64, ohms: f64) -> usize {
        self.branch(from, to, Branch::Source { volts, ohms })
    }

    /// Adds a current source that drives its amps through itself from `from` to `to`.
    pub fn current(&mut self, from: usize, to: usize, amps: f64) -> usize {
        self.branch(from, to, Branch::Current { amps })
    }

    /// Joins two nodes.
    pub fn short(&mut self, from: usize, to: usize) -> usize {
        self.branch(from, to, Branch::Short)
    }

    /// Solves it.
    ///
    /// # Errors
    /// Where ideal sources contradict each other, or currents have no way back.
    pub fn solve(self) -> Result<Answer, Inconsistent> {
        self.factor().solve()
    }

    /// Prepares it for solving with several sets of volts and amps, and for measuring its resistances.
    pub fn factor(self) -> Factored {
        let ties = self.branches.iter().enumerate().filter(|(_, (.., branch))| branch.ohms() == 0.0);
        let joint = |branch| matches!(branch, Branch::Short | Branch::Resistor(_));
        let ties =
            ties.map(|(index, &(from, to, branch))| Tie { branch: index, from, to, joint: joint(branch) });
        let ties = ties.collect();
        let forest = Forest::new(self.nodes, ties);
        let mut conductances = Conductances::new(forest.trees - 1);
        let siemens: Vec<Wide> = self.branches.iter().map(|&(.., branch)| conductance(branch)).collect();
        for (&(from, to, _), &siemens) in self.branches.iter().zip(&siemens) {
            if !siemens.is_zero() {
                conductances.add(unknown(&forest, from), unknown(&forest, to), siemens);
            }
        }
        let eliminated = conductances.eliminate();
        let mut floating = vec![false];
        floating.extend(eliminated.floating());
        Factored { branches: self.branches, siemens, forest, eliminated, floating }
    }
}

/// The unknown that a node's potential is known by; `None` for the reference's tree.
fn unknown(forest: &Forest, node: usize) -> Option<usize> {
    (forest.tree[node] as usize).checked_sub(1)
}

impl Factored {
    /// The branches' own volts and amps.
    pub fn drives(&self) -> Vec<f64> {
        self.branches.iter().map(|(.., branch)| branch.drive()).collect()
    }

    /// Solves it with the branches' own volts and amps.
    ///
    /// # Errors
    /// As [`Network::solve`].
    pub fn solve(&self) -> Result<Answer, Inconsistent> {
        self.solve_with(&self.drives())
    }

    /// Solves it with these volts and amps of the branches; those of resistors and shorts are taken as a source's in
    /// series with them.
    ///
    /// # Errors
    /// As [`Network::solve`].
    pub fn solve_with(&self, drive: &[f64]) -> Result<Answer, Inconsistent> {
        let offsets = self.forest.offsets(drive).map_err(|miss| Inconsistent::Loop(miss.branches))?;
        let nodes = self.forest.tree.len();
        let mut injected = vec![Wide::ZERO; self.forest.trees - 1];
        let mut largest = 0.0f64;
        for ((&(from, to, branch), &siemens), &drive) in self.branches.iter().zip(&self.siemens).zip(drive) {
            let flow = match branch {
                Branch::Current { .. } => Wide::from(drive),
                _ if siemens.is_zero() => continue,
                _ => {
                    // What would flow if all roots stood at 0 V.
                    let across = offsets[from] - offsets[to] + Wide::from(drive);
                    if across.is_zero() {
                        continue;
                    }
                    siemens * across
                }
            };
            largest = largest.max(flow.value().abs());
            if let Some(at) = unknown(&self.forest, from) {
                injected[at] -= flow;
            }
            if let Some(at) = unknown(&self.forest, to) {
                injected[at] += flow;
            }
        }
        let left_over = self.eliminated.substitute(&mut injected);
        if let Some((at, _)) = left_over.iter().find(|(_, amps)| amps.value().abs() > 1e-20 * largest) {
            return Err(Inconsistent::NoReturn(self.island(*at)));
        }
        let mut volts: Vec<Wide> = (0..nodes)
            .map(|node| offsets[node] + unknown(&self.forest, node).map_or(Wide::ZERO, |at| injected[at]))
            .collect();
        // What is zero is told as zero, where sums of equal volts leave a last digit.
        let highest = volts.iter().fold(0.0, |most: f64, volts| most.max(volts.value().abs()));
        for volts in volts.iter_mut().filter(|volts| volts.value().abs() <= NOISE * highest) {
            *volts = Wide::ZERO;
        }
        Ok(Answer { amps: self.amps(drive, &volts), floating: self.floating(), volts: self.settle(&volts) })
    }

    /// Branch currents from potentials; those of ideal branches from Kirchhoff's first law.
    fn amps(&self, drive: &[f64], volts: &[Wide]) -> Vec<f64> {
        let mut surplus = vec![Wide::ZERO; volts.len()];
        let mut amps = vec![0.0; self.branches.len()];
        let mut largest = 0.0f64;
        for (at, &(from, to, branch)) in self.branches.iter().enumerate() {
            let flow = match branch {
                Branch::Current { .. } => Wide::from(drive[at]),
                _ if self.siemens[at].is_zero() => continue,
                _ => {
                    let across = volts[from] - volts[to] + Wide::from(drive[at]);
                    let size = volts[from].value().abs() + volts[to].value().abs() + drive[at].abs();
                    self.siemens[at] * if across.value().abs() > NOISE * size { across } else { Wide::ZERO }
                }
            };
            largest = largest.max(flow.value().abs());
            surplus[from] -= flow;
            surplus[to] += flow;
            amps[at] = flow.value();
        }
        let ideal = self.forest.currents(&mut surplus);
        for (tie, flow) in self.forest.ties.iter().zip(ideal) {
            let flow = flow.value();
            amps[tie.branch] = if flow.abs() > NOISE * largest { flow } else { 0.0 };
        }
        amps
    }

    /// Whether each node floats.
    pub fn floating(&self) -> Vec<bool> {
        self.forest.tree.iter().map(|&tree| self.floating[tree as usize]).collect()
    }

    /// Potentials with those of floating parts set against the part's lowest node.
    fn settle(&self, volts: &[Wide]) -> Vec<f64> {
        if !self.floating.contains(&true) {
            return volts.iter().map(|volts| volts.value()).collect();
        }
        let islands = self.islands();
        let mut lowest: Vec<Option<Wide>> = vec![None; self.forest.trees];
        let mut settled = Vec::with_capacity(volts.len());
        for (node, &volts) in volts.iter().enumerate() {
            let tree = self.forest.tree[node] as usize;
            settled.push(if self.floating[tree] {
                (volts - *lowest[islands[tree]].get_or_insert(volts)).value()
            } else {
                volts.value()
            });
        }
        settled
    }

    /// The island of each tree, by its lowest tree.
    fn islands(&self) -> Vec<usize> {
        let mut parent: Vec<usize> = (0..self.forest.trees).collect();
        for (&(from, to, _), siemens) in self.branches.iter().zip(&self.siemens) {
            if !siemens.is_zero() {
                let a = root(&mut parent, self.forest.tree[from] as usize);
                let b = root(&mut parent, self.forest.tree[to] as usize);
                parent[a.max(b)] = a.min(b);
            }
        }
        (0..parent.len()).map(|tree| root(&mut parent, tree)).collect()
    }

    /// The nodes of the island of an unknown.
    fn island(&self, unknown: usize) -> Vec<usize> {
        let islands = self.islands();
        let mine = islands[unknown + 1];
        let nodes = self.forest.tree.iter().enumerate();
        nodes.filter(|&(_, &tree)| islands[tree as usize] == mine).map(|(node, _)| node).collect()
    }

    /// Ohms between each node and the reference, all sources at rest (Thevenin); infinite where it floats.
    pub fn resistances(&self) -> Vec<f64> {
        let of_trees = self.eliminated.resistances();
        let of = |&tree: &u32| (tree as usize).checked_sub(1).map_or(0.0, |at| of_trees[at]);
        self.forest.tree.iter().map(of).collect()
    }

    /// Ohms between two nodes, all sources at rest; infinite where nothing joins them. One substitution.
    pub fn resistance(&self, a: usize, b: usize) -> f64 {
        let islands = self.islands();
        let (tree_a, tree_b) = (self.forest.tree[a] as usize, self.forest.tree[b] as usize);
        if tree_a == tree_b {
            return 0.0;
        }
        let tied = |tree: usize| if self.floating[tree] { Some(islands[tree]) } else { None };
        if tied(tree_a) != tied(tree_b) {
            return f64::INFINITY;
        }
        let mut injected = vec![Wide::ZERO; self.forest.trees - 1];
        for (tree, amps) in [(tree_a, Wide::ONE), (tree_b, -Wide::ONE)] {
            if let Some(at) = tree.checked_sub(1) {
                injected[at] = amps;
            }
        }
        self.eliminated.substitute(&mut injected);
        let volts = |tree: usize| tree.checked_sub(1).map_or(Wide::ZERO, |at| injected[at]);
        (volts(tree_a) - volts(tree_b)).value()
    }
}

/// Siemens of a branch; zero where it is ideal or passes nothing of itself.
fn conductance(branch: Branch) -> Wide {
    let ohms = branch.ohms();
    if ohms > 0.0 && ohms < NOTHING { Wide::reciprocal(ohms) } else { Wide::ZERO }
}

/// The representative of a set, with path halving.
fn root(parent: &mut [usize], mut at: usize) -> usize {
    while parent[at] != at {
        parent[at] = parent[parent[at]];
        at = parent[at];
    }
    at
}
