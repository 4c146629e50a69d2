//! Which pieces of a circuit can be looked at apart.
//!
//! In a large circuit most of the wiring hangs on the rest like a twig: all that feeds it comes through one point (the
//! far end of a fuse, a switched feed), and it returns to ground. Where such a point is dead, so is the whole twig; where
//! it is fed, what lies beyond it is separated from the twig (decision 29). So a twig can be judged with nothing but
//! itself and the way from its point to the supplies, and a circuit of many twigs in time that grows as it does.
//!
//! The points are the articulation points of the graph of all elements, whatever their state, rooted at everything
//! that may bring a potential of its own (Hopcroft and Tarjan, "Algorithm 447: efficient algorithms for graph
//! manipulation", Communications of the ACM 16(6), 1973). Ground points are left out of the graph: they hold
//! their potential. What belongs to one device or module, and a relay's coil and contacts, is tied together.

use crate::{ids::*, model::*};
use std::collections::BTreeSet;

/// A piece of a circuit that hangs on the rest at one point, or on nothing.
#[derive(Clone, Debug, Default)]
pub struct Region {
    /// The piece on which it hangs; always an earlier one. `None` for those that hold their supplies themselves.
    pub parent: Option<usize>,
    /// Its own points, in order.
    pub points: Vec<PointId>,
    /// Its own elements, in order. Every element but those of ground points is some region's own.
    pub elements: Vec<ElementId>,
}

/// Elements below which pieces are joined with their neighbours: fewer, larger pieces repeat less of the way to the supplies.
const SMALL: u32 = 6;

/// Cuts a circuit into regions of about `size` elements, where it can be cut.
pub fn regions(circuit: &Circuit, size: usize) -> Vec<Region> {
    let tree = Tree::new(circuit);
    tree.cut(circuit, &fed(circuit), size.max(1) as u32)
}

/// The points that a source may reach without a load. Only there a circuit is cut: what hangs behind a load is the way on
/// for that load's current.
fn fed(circuit: &Circuit) -> Vec<bool> {
    let passes = |e: &Element| !e.kind.is_load() && !e.kind.is_source() && e.when != When::Never;
    let edges: Vec<(u32, u32)> =
        circuit.elements.iter().map(|e| if passes(e) { (e.from.0, e.to.0) } else { (0, 0) }).collect();
    let ways = Ways::new(circuit.points.len(), &edges, &|_| false);
    let diode = |e: &&Element| e.kind == ElementKind::Diode;
    let blocks: BTreeSet<(u32, u32)> =
        circuit.elements.iter().filter(diode).map(|e| (e.to.0, e.from.0)).collect();
    let mut fed = vec![false; circuit.points.len()];
    let mut open: Vec<u32> = circuit.elements.iter().filter(|e| e.kind.is_source()).map(|e| e.to.0).collect();
    while let Some(point) = open.pop() {
        if point == COMMON.0 || std::mem::replace(&mut fed[point as usize], true) {
            continue;
        }
        open.extend(ways.of(point).iter().filter(|&&to| !blocks.contains(&(point, to))));
    }
    fed
}

/// The depth-first tree from the root over points, then a node for each device and each module, then the root.
struct Tree {
    /// Nodes as they were discovered: a subtree is a stretch of it.
    order: Vec<u32>,
    /// Place in `order`; `u32::MAX` where not reached.
    found: Vec<u32>,
    /// By place: the lowest place that the subtree reaches by one edge.
    low: Vec<u32>,
    /// By place: the end of the subtree's stretch.
    end: Vec<u32>,
    /// By place: the parent's place.
    parent: Vec<u32>,
    /// By place: elements that belong to nodes before it, so that a stretch's elements are a difference.
    before: Vec<u32>,
    /// The node to which each element belongs: the later of its ends.
    holder: Vec<u32>,
    /// Places where the root's own tree, or one that nothing feeds, begins.
    roots: Vec<u32>,
    points: usize,
}

/// The common ground and ground points without a resistance: they hold their potential, so nothing is told through them.
fn holds_still(circuit: &Circuit, point: &Point) -> bool {
    let law = |i: usize| circuit.elements.get(circuit.grounds.get(i)?.element.index()).map(|e| &e.law);
    match point.kind {
        PointKind::Common => true,
        PointKind::Ground(i) => matches!(law(i), Some(Law::Joint)),
        _ => false,
    }
}

/// The pairs of nodes that touch, elements first (with the same indices).
fn edges(circuit: &Circuit) -> Vec<(u32, u32)> {
    let points = circuit.points.len() as u32;
    let device = |d: DeviceId| points + d.0;
    let modules = points + circuit.devices.len() as u32;
    let module = |m: ModuleId| modules + m.0;
    let root = modules + circuit.modules.len() as u32;
    let mut edges: Vec<(u32, u32)> = circuit.elements.iter().map(|e| (e.from.0, e.to.0)).collect();
    let node = |owner: Owner| match owner {
        Owner::Device(d) => Some(device(d)),
        Owner::Module(m, ..) => Some(module(m)),
        _ => None,
    };
    for e in &circuit.elements {
        // What an element belongs to, what it needs alive, what moves it, what feeds it.
        if let Some(owner) = node(e.owner) {
            edges.extend([(owner, e.from.0), (owner, e.to.0)]);
        }
        if let Some(alive) = e.alive {
            edges.push((module(alive), e.to.0));
        }
        let moved_by = match e.when {
            When::Energised { coil, .. } => circuit.elements.get(coil.index()),
            _ => None,
        };
        if let Some(coil) = moved_by {
            edges.extend([(coil.from.0, e.from.0), (coil.to.0, e.from.0)]);
        }
        if let Law::Transducer { feed, .. } = e.law {
            edges.push((feed.0, e.to.0));
        }
        if e.kind == ElementKind::Supply {
            edges.extend([(root, e.to.0), (root, e.from.0)]);
        }
    }
    for (d, thing) in circuit.devices.iter().enumerate() {
        let pins = thing.pins.iter().flat_map(|p| [p.outside, p.inside]);
        edges.extend(pins.map(|p| (device(d.into()), p.0)));
    }
    for (m, thing) in circuit.modules.iter().enumerate() {
        let cavities = || thing.connectors.iter().flat_map(|c| &c.cavities);
        edges.extend(cavities().flat_map(|c| [c.outside, c.inside]).map(|p| (module(m.into()), p.0)));
        // What is not described is there: such a module is alive whatever happens.
        if thing.feeds.is_empty() {
            edges.push((root, module(m.into())));
        }
        for (sharers, _) in cavities().filter_map(|c| c.shared_by.as_ref()) {
            edges.extend(sharers.iter().map(|&s| (module(m.into()), sharer(s, &device, &module))));
        }
    }
    for splice in &circuit.splices {
        let sharers = splice.shared_by.iter().flatten();
        edges.extend(sharers.map(|&s| (splice.point.0, sharer(s, &device, &module))));
    }
    // A branch that leaves the page may bring anything.
    let away = circuit.branches.iter().filter(|b| b.element.is_none());
    edges.extend(away.map(|b| (root, b.point.0)));
    edges
}

fn sharer(s: DeviceOrModule, device: &dyn Fn(DeviceId) -> u32, module: &dyn Fn(ModuleId) -> u32) -> u32 {
    match s {
        DeviceOrModule::Device(d) => device(d),
        DeviceOrModule::Module(m) => module(m),
    }
}

/// The neighbours of each node, in one list.
struct Ways {
    start: Vec<u32>,
    to: Vec<u32>,
}

impl Ways {
    fn new(nodes: usize, edges: &[(u32, u32)], gone: &dyn Fn(u32) -> bool) -> Self {
        let live = || edges.iter().copied().filter(|&(a, b)| a != b && !gone(a) && !gone(b));
        let mut start = vec![0u32; nodes + 1];
        for (a, b) in live() {
            start[a as usize + 1] += 1;
            start[b as usize + 1] += 1;
        }
        for i in 0..nodes {
            start[i + 1] += start[i];
        }
        let mut next = start.clone();
        let mut to = vec![0u32; start[nodes] as usize];
        for (a, b) in live() {
            for (from, other) in [(a, b), (b, a)] {
                to[next[from as usize] as usize] = other;
                next[from as usize] += 1;
            }
        }
        Self { start, to }
    }

    fn of(&self, node: u32) -> &[u32] {
        &self.to[self.start[node as usize] as usize..self.start[node as usize + 1] as usize]
    }
}

impl Tree {
    fn new(circuit: &Circuit) -> Self {
        let points = circuit.points.len();
        let root = points + circuit.devices.len() + circuit.modules.len();
        let still: Vec<bool> = circuit.points.iter().map(|p| holds_still(circuit, p)).collect();
        let gone = |node: u32| still.get(node as usize).copied().unwrap_or(false);
        let edges = edges(circuit);
        let ways = Ways::new(root + 1, &edges, &gone);
        let mut tree = Self {
            order: Vec::with_capacity(root + 1),
            found: vec![u32::MAX; root + 1],
            low: Vec::new(),
            end: Vec::new(),
            parent: Vec::new(),
            before: Vec::new(),
            holder: Vec::new(),
            roots: Vec::new(),
            points,
        };
        tree.walk(root as u32, &ways);
        for node in 0..root as u32 {
            if tree.found[node as usize] == u32::MAX && !gone(node) {
                tree.walk(node, &ways);
            }
        }
        tree.hold(&edges[..circuit.elements.len()]);
        tree
    }

    /// Discovers all that hangs together with `start`.
    fn walk(&mut self, start: u32, ways: &Ways) {
        self.roots.push(self.order.len() as u32);
        let mut stack: Vec<(u32, usize)> = vec![(start, 0)];
        self.discover(start, u32::MAX);
        while let Some(top) = stack.last_mut() {
            let (node, next) = *top;
            top.1 += 1;
            let place = self.found[node as usize] as usize;
            match ways.of(node).get(next) {
                Some(&other) if self.found[other as usize] == u32::MAX => {
                    self.discover(other, place as u32);
                    stack.push((other, 0));
                }
                // Its own parent counts too: then `low` is the parent's place at the least, which is no way round it.
                Some(&other) => self.low[place] = self.low[place].min(self.found[other as usize]),
                None => {
                    self.end[place] = self.order.len() as u32;
                    stack.pop();
                    let up = self.parent[place] as usize;
                    if let Some(low) = self.low.get(up).copied() {
                        self.low[up] = low.min(self.low[place]);
                    }
                }
            }
        }
    }

    fn discover(&mut self, node: u32, parent: u32) {
        let place = self.order.len() as u32;
        self.found[node as usize] = place;
        self.order.push(node);
        self.low.push(place);
        self.end.push(place + 1);
        self.parent.push(parent);
    }

    /// Gives each element to the later of its ends, and counts.
    fn hold(&mut self, elements: &[(u32, u32)]) {
        let mut of_place = vec![0u32; self.order.len() + 1];
        for &(a, b) in elements {
            let place = |node: u32| Some(self.found[node as usize]).filter(|&p| p != u32::MAX);
            let holder = place(a).max(place(b));
            self.holder.push(holder.unwrap_or(u32::MAX));
            if let Some(holder) = holder {
                of_place[holder as usize + 1] += 1;
            }
        }
        for i in 1..of_place.len() {
            of_place[i] += of_place[i - 1];
        }
        self.before = of_place;
    }

    fn size(&self, place: u32) -> u32 {
        self.before[self.end[place as usize] as usize] - self.before[place as usize]
    }

    /// The children of a place, in order.
    fn children(&self, place: u32) -> impl Iterator<Item = u32> + '_ {
        let end = self.end[place as usize];
        let mut next = place + 1;
        std::iter::from_fn(move || {
            let child = (next < end).then_some(next)?;
            next = self.end[child as usize];
            Some(child)
        })
    }

    fn cut(&self, circuit: &Circuit, fed: &[bool], size: u32) -> Vec<Region> {
        let mut regions: Vec<Region> = Vec::new();
        // Elements of a region and of all on which it hangs.
        let mut whole: Vec<u32> = Vec::new();
        let mut region_of = vec![u32::MAX; self.order.len()];
        // Subtrees still to be looked at, with the region on which each hangs.
        let mut open: Vec<(Option<usize>, Vec<u32>)> = vec![(None, self.tops())];
        while let Some((parent, subtrees)) = open.pop() {
            let context = parent.map_or(0, |p| whole[p]);
            let most = size.max(context);
            let mut room = 0;
            let mut bundle = None;
            for top in subtrees {
                let large = self.size(top) > size;
                if large || bundle.is_none() || self.size(top) > room {
                    regions.push(Region { parent, ..Region::default() });
                    whole.push(context);
                    room = most;
                    bundle = Some(regions.len() - 1);
                }
                let Some(region) = bundle else { continue };
                let hanging = self.mark(top, region, large.then_some(fed), &mut region_of);
                let own = self.size(top) - hanging.iter().map(|&h| self.size(h)).sum::<u32>();
                whole[region] += own;
                room = room.saturating_sub(own);
                if large {
                    bundle = None;
                    if !hanging.is_empty() {
                        open.push((Some(region), hanging));
                    }
                }
            }
        }
        for (place, &node) in self.order.iter().enumerate() {
            if let Some(region) =
                regions.get_mut(region_of[place] as usize).filter(|_| (node as usize) < self.points)
            {
                region.points.push(PointId(node));
            }
        }
        for e in 0..circuit.elements.len() {
            let region = region_of.get(self.holder[e] as usize).copied().unwrap_or(u32::MAX);
            if let Some(region) = regions.get_mut(region as usize) {
                region.elements.push(e.into());
            }
        }
        for region in &mut regions {
            region.points.sort_unstable();
        }
        regions
    }

    /// What hangs on the root, and what hangs on nothing.
    fn tops(&self) -> Vec<u32> {
        let fed = self.roots.first().copied().into_iter().flat_map(|root| self.children(root));
        fed.chain(self.roots.iter().skip(1).copied()).collect()
    }

    /// Gives a subtree to a region, but for what is cut off from it: the subtrees that hang on one of its points, where
    /// several do that are worth it.
    fn mark(&self, top: u32, region: usize, cut_at: Option<&[bool]>, region_of: &mut [u32]) -> Vec<u32> {
        let mut hanging = Vec::new();
        let mut stack = vec![top];
        while let Some(place) = stack.pop() {
            region_of[place as usize] = region as u32;
            let at = self.order[place as usize] as usize;
            let can = cut_at.and_then(|fed| fed.get(at)).copied().unwrap_or(false);
            let hangs = |&child: &u32| self.low[child as usize] >= place && self.size(child) >= SMALL;
            let cut = can && self.children(place).filter(hangs).count() >= 2;
            for child in self.children(place) {
                if cut && hangs(&child) { hanging.push(child) } else { stack.push(child) }
            }
        }
        hanging.sort_unstable();
        hanging
    }
}
