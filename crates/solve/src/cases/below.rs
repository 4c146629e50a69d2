//! Which nets draw their current through a given piece of wiring.
//!
//! A fuse's current is the sum over the loads *below* it, however stiff the net is that it feeds. Take all wiring that
//! may conduct, join the terminals of every supply and reference and the common ground into one root: a net is below
//! an element if some path without repetition leads from the root through the element to the net. Those are the
//! descendants of the element's biconnected component in a depth-first tree (Hopcroft and Tarjan, "Algorithm 447:
//! efficient algorithms for graph manipulation", Communications of the ACM 16(6), 1973).

use super::{
    explore::{Place, Survey},
    facts::{Decided, Facts, Tri},
    frame::{Class, Frame, Net},
};
use keyon_circuit::{ids::ElementId, model::COMMON};

/// The root stands behind the last net.
struct Tree {
    /// Order of discovery, from 1; 0 where not reached.
    found: Vec<u32>,
    low: Vec<u32>,
    parent: Vec<u32>,
    order: Vec<u32>,
}

/// Which tree is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Side {
    /// All wiring, from sources and ground together.
    Both,
    /// What sources feed: nets that only ground ever reaches are left out.
    Fed,
    /// What ground returns: nets that only sources ever reach are left out.
    Grounded,
}

/// Marks the nets below the edge. What a source feeds that stands on such a net itself (a module's reference on the
/// module's ground) draws its current there.
pub(crate) fn below(frame: &Frame<'_>, facts: &Facts, edge: u32) -> Vec<bool> {
    let hanging = Hanging::new(frame, facts, Side::Both);
    let mut below = vec![false; frame.at.len()];
    let mut more = vec![edge];
    while let Some(edge) = more.pop() {
        for (net, _) in hanging.below(frame, edge).iter().flatten().enumerate().filter(|(_, b)| **b) {
            below[net] = true;
        }
        let stands = |e: &u32| {
            let edge = &frame.edges[*e as usize];
            edge.class.is_source()
                && facts.edges[*e as usize] != Tri::No
                && !frame.anchored[edge.a as usize]
                && below[edge.a as usize]
                && !below[edge.b as usize]
        };
        more.extend((0..frame.edges.len() as u32).find(stands));
    }
    below
}

impl Survey<'_> {
    /// Marks the nets that may draw their current through an element, whatever the controls do within these masks.
    pub(crate) fn below(&self, element: ElementId, open: &[u64]) -> Vec<bool> {
        let facts = self.facts(&Place { masks: open.to_vec(), decided: Decided::new() });
        match self.frame.edge_of.get(element.index()).copied().flatten() {
            Some(edge) => below(&self.frame, &facts, edge),
            None => vec![false; self.frame.at.len()],
        }
    }
}

/// What hangs below what on one side. In a state without a clash no net is both fed and grounded, so a piece of wiring
/// is part of one of these trees, or floats.
pub(crate) struct Hanging {
    tree: Tree,
    root: u32,
    /// Nets that are part of this side.
    kept: Vec<bool>,
}

impl Hanging {
    pub(crate) fn new(frame: &Frame<'_>, facts: &Facts, side: Side) -> Self {
        let nets = frame.at.len();
        let keeps = |net: Net| match side {
            Side::Both => true,
            Side::Fed => !facts.only_ground(net),
            Side::Grounded => !facts.only_sources(net),
        };
        let kept: Vec<bool> = (0..nets as Net).map(keeps).collect();
        let root = nets as u32;
        // (edge, other end) at each net and at the root. A source joins its far end to the root.
        let mut ways: Vec<Vec<(u32, u32)>> = vec![Vec::new(); nets + 1];
        let common = frame.edges.len() as u32;
        let mut join = |e: u32, a: Net, b: Net| {
            ways[a as usize].push((e, b));
            ways[b as usize].push((e, a));
        };
        if side != Side::Fed {
            join(common, root, frame.net(COMMON));
        }
        for (i, e) in frame.edges.iter().enumerate() {
            if facts.edges[i] == Tri::No || e.a == e.b {
                continue;
            }
            match e.class {
                Class::Source { .. } if side == Side::Grounded => {}
                Class::Wiring | Class::Diode { .. } if !kept[e.a as usize] || !kept[e.b as usize] => {}
                Class::Wiring | Class::Diode { .. } => join(i as u32, e.a, e.b),
                Class::Source { .. } => join(i as u32, root, e.b),
                Class::Load { .. } => {}
            }
        }
        Self { tree: Tree::new(&ways, root), root, kept }
    }

    /// The highest net below an edge: all that is below it is below that net. `None` where this side does not reach the edge.
    fn top(&self, frame: &Frame<'_>, edge: u32) -> Option<u32> {
        let (tree, root) = (&self.tree, self.root);
        let e = frame.edges.get(edge as usize)?;
        if !self.kept[e.b as usize] || (!e.class.is_source() && !self.kept[e.a as usize]) {
            return None;
        }
        let ends = if e.class.is_source() { [root, e.b] } else { [e.a, e.b] };
        // The end further from the root; where nothing leads there, no current ever flows and nothing is below.
        let mut top = ends.into_iter().max_by_key(|&n| tree.found[n as usize])?;
        if tree.found[top as usize] == 0 || top == root {
            return None;
        }
        // Up to where the component hangs on the rest.
        while tree.parent[top as usize] != root
            && tree.low[top as usize] < tree.found[tree.parent[top as usize] as usize]
        {
            top = tree.parent[top as usize];
        }
        Some(top)
    }

    /// Marks the nets below an edge.
    fn below(&self, frame: &Frame<'_>, edge: u32) -> Option<Vec<bool>> {
        let (tree, root) = (&self.tree, self.root);
        let top = self.top(frame, edge)?;
        let nets = frame.at.len();
        let mut below = vec![false; nets];
        let mut inside = vec![false; nets + 1];
        inside[top as usize] = true;
        for &net in &tree.order {
            let up = tree.parent[net as usize];
            if up != u32::MAX && inside[up as usize] {
                inside[net as usize] = true;
            }
            if inside[net as usize] && net != root {
                below[net as usize] = true;
            }
        }
        Some(below)
    }

    /// The edges that lie on a loop of wiring with this one (its biconnected component): they share what flows. Without a
    /// loop none; the same where this side does not reach the edge.
    pub(crate) fn ring(&self, frame: &Frame<'_>, facts: &Facts, edge: u32) -> Vec<u32> {
        let tree = &self.tree;
        // The component of the tree's edge to each net, by the net below which it begins.
        let mut component: Vec<u32> = (0..tree.parent.len() as u32).collect();
        for &net in &tree.order {
            let up = tree.parent[net as usize];
            if up != u32::MAX && up != self.root && tree.low[net as usize] < tree.found[up as usize] {
                component[net as usize] = component[up as usize];
            }
        }
        // An edge belongs to the component of its later end.
        let of = |e: u32| {
            let e = frame.edges.get(e as usize)?;
            let a = if e.class.is_source() { self.root } else { e.a };
            let kept = |net: u32| net == self.root || self.kept[net as usize];
            let later = [a, e.b].into_iter().max_by_key(|&n| tree.found[n as usize])?;
            (a != e.b && kept(a) && kept(e.b) && later != self.root && tree.found[later as usize] != 0)
                .then(|| component[later as usize])
        };
        let Some(own) = of(edge) else { return Vec::new() };
        let joins = |e: &u32| {
            let class = frame.edges[*e as usize].class;
            facts.edges[*e as usize] != Tri::No && !matches!(class, Class::Load { .. })
        };
        let all: Vec<u32> =
            (0..frame.edges.len() as u32).filter(joins).filter(|&e| of(e) == Some(own)).collect();
        if all.len() > 1 { all } else { Vec::new() }
    }

    /// For each edge the sum over all nets below it of what stands at them; `None` where this side does not reach the edge.
    pub(crate) fn sums(&self, frame: &Frame<'_>, at: &[f64]) -> Vec<Option<f64>> {
        let tree = &self.tree;
        let mut sums: Vec<f64> = at.to_vec();
        sums.push(0.0);
        for &net in tree.order.iter().rev() {
            let up = tree.parent[net as usize];
            if up != u32::MAX {
                sums[up as usize] += sums[net as usize];
            }
        }
        (0..frame.edges.len() as u32)
            .map(|edge| self.top(frame, edge).map(|top| sums[top as usize]))
            .collect()
    }
}

impl Tree {
    fn new(ways: &[Vec<(u32, u32)>], root: u32) -> Self {
        let mut tree = Self {
            found: vec![0; ways.len()],
            low: vec![0; ways.len()],
            parent: vec![u32::MAX; ways.len()],
            order: Vec::new(),
        };
        // Net, edge by which it was reached, next way to look at.
        let mut stack: Vec<(u32, u32, usize)> = vec![(root, u32::MAX, 0)];
        tree.discover(root);
        while let Some(top) = stack.last_mut() {
            let (net, by, next) = *top;
            top.2 += 1;
            match ways[net as usize].get(next) {
                Some(&(e, _)) if e == by => {}
                Some(&(e, other)) if tree.found[other as usize] == 0 => {
                    tree.parent[other as usize] = net;
                    tree.discover(other);
                    stack.push((other, e, 0));
                }
                Some(&(_, other)) => {
                    tree.low[net as usize] = tree.low[net as usize].min(tree.found[other as usize]);
                }
                None => {
                    stack.pop();
                    if let Some(&(up, ..)) = stack.last() {
                        tree.low[up as usize] = tree.low[up as usize].min(tree.low[net as usize]);
                    }
                }
            }
        }
        tree
    }

    fn discover(&mut self, net: u32) {
        self.order.push(net);
        self.found[net as usize] = self.order.len() as u32;
        self.low[net as usize] = self.found[net as usize];
    }
}
