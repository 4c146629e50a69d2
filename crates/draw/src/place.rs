//! The order of the blocks in each layer, and where they stand across: few crossings, straight wires.
//!
//! Layer by layer, each block moves towards the middle of what it is linked to (the barycentre method of layered
//! drawing); then, with the order fixed, each layer is placed by least squares under its blocks' widths (pool adjacent
//! violators), which is exact for fixed neighbours.

use crate::{
    block::Net,
    body::{self, Body, Landing},
    layer::{Layers, Side},
};
use keyon_circuit::model::Circuit;

/// A block, or a link on its way through a layer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Node {
    Block(usize),
    /// Index into `links`.
    Pass(usize),
}

/// An end of a stretch of a link between two layers: the node, its slot there (of a pass 0).
#[derive(Clone, Copy, Debug)]
pub(crate) struct End {
    pub(crate) node: usize,
    pub(crate) slot: usize,
    /// It comes from the layer above the channel.
    pub(crate) upper: bool,
}

/// A stretch of a link in a channel.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Piece {
    pub(crate) link: usize,
    pub(crate) ends: [End; 2],
}

/// Everything in its place across.
#[derive(Clone, Debug)]
pub(crate) struct Placing {
    pub(crate) nodes: Vec<Node>,
    /// Left edge in steps.
    pub(crate) x: Vec<i32>,
    pub(crate) bodies: Vec<Body>,
    /// The nodes of each layer, from the left.
    pub(crate) layers: Vec<Vec<usize>>,
    /// Of the channel above each layer, and of the one below the last.
    pub(crate) pieces: Vec<Vec<Piece>>,
}

/// Steps between neighbours.
const GAP: i32 = 1;
/// Rounds of ordering without gain before it stops, and at the most.
const PATIENCE: usize = 6;
const ROUNDS: usize = 30;
/// Passes of swaps, at the most.
const SWAPS: usize = 12;

struct Work<'a> {
    circuit: &'a Circuit,
    net: &'a Net,
    landings: Vec<Vec<Landing>>,
    placing: Placing,
    /// The pieces' ends at each node: channel, piece, which end.
    at: Vec<Vec<(usize, usize, usize)>>,
}

/// The best order so far.
struct Kept {
    cost: u64,
    layers: Vec<Vec<usize>>,
    x: Vec<i32>,
    landings: Vec<Vec<Landing>>,
    bodies: Vec<Body>,
}

pub(crate) fn place(circuit: &Circuit, net: &Net, layers: &Layers) -> Placing {
    let mut work = Work::new(circuit, net, layers);
    work.order();
    work.settle();
    work.placing
}

impl<'a> Work<'a> {
    fn new(circuit: &'a Circuit, net: &'a Net, layers: &Layers) -> Self {
        let landings = body::landings(net, layers);
        let mut nodes: Vec<Node> = (0..net.blocks.len()).map(Node::Block).collect();
        let mut rows: Vec<Vec<usize>> = vec![Vec::new(); layers.count];
        for (block, &layer) in layers.of.iter().enumerate() {
            rows[layer].push(block);
        }
        let mut pieces: Vec<Vec<Piece>> = vec![Vec::new(); layers.count + 1];
        let slot = |block: usize, link: usize, end: usize| {
            landings[block].iter().position(|l| l.link == link && l.end == end).unwrap_or(0)
        };
        for (index, link) in net.links.iter().enumerate() {
            let ends = [0, 1].map(|end| {
                let block = link.ends[end].0;
                let side = layers.sides[index][end];
                let channel = layers.of[block] + usize::from(side == Side::Bottom);
                (channel, End { node: block, slot: slot(block, index, end), upper: side == Side::Bottom })
            });
            let [mut from, to] = if ends[0].0 <= ends[1].0 { ends } else { [ends[1], ends[0]] };
            while from.0 < to.0 {
                let pass = nodes.len();
                nodes.push(Node::Pass(index));
                rows[from.0].push(pass);
                let here = End { node: pass, slot: 0, upper: false };
                pieces[from.0].push(Piece { link: index, ends: [from.1, here] });
                from = (from.0 + 1, End { node: pass, slot: 0, upper: true });
            }
            pieces[from.0].push(Piece { link: index, ends: [from.1, to.1] });
        }
        let mut at = vec![Vec::new(); nodes.len()];
        for (channel, those) in pieces.iter().enumerate() {
            for (i, piece) in those.iter().enumerate() {
                for (e, end) in piece.ends.iter().enumerate() {
                    at[end.node].push((channel, i, e));
                }
            }
        }
        let bodies = net.blocks.iter().zip(&landings).map(|(b, l)| body::body(circuit, b, l)).collect();
        let x = vec![0; nodes.len()];
        let placing = Placing { nodes, x, bodies, layers: rows, pieces };
        Work { circuit, net, landings, placing, at }
    }

    fn width(&self, node: usize) -> i32 {
        match self.placing.nodes[node] {
            Node::Block(b) => self.placing.bodies[b].width,
            Node::Pass(_) => 0,
        }
    }

    fn end_x(&self, end: &End) -> i32 {
        self.placing.end_x(end)
    }

    /// Puts the nodes of a layer side by side, as far left as they go.
    fn pack(&mut self, layer: usize) {
        let mut x = 0;
        for i in 0..self.placing.layers[layer].len() {
            let node = self.placing.layers[layer][i];
            self.placing.x[node] = x;
            x += self.width(node) + GAP;
        }
    }

    /// Where the links of a node lead: the mean of the far ends, less its own slots; over channels that `wanted` names.
    fn pull(&self, node: usize, wanted: impl Fn(usize) -> bool) -> Option<f64> {
        let (mut sum, mut weight) = (0.0, 0.0);
        for &(channel, piece, end) in self.at[node].iter().filter(|(c, ..)| wanted(*c)) {
            let piece = &self.placing.pieces[channel][piece];
            let (own, other) = (&piece.ends[end], &piece.ends[1 - end]);
            if other.node == node {
                continue;
            }
            let offset = self.end_x(own) - self.placing.x[node];
            // A line that passes both shall be straight.
            let pass = |n: usize| matches!(self.placing.nodes[n], Node::Pass(_));
            let w = match (pass(own.node), pass(other.node)) {
                (true, true) => 4.0,
                (true, false) | (false, true) => 2.0,
                _ => 1.0,
            };
            sum += w * f64::from(self.end_x(other) - offset);
            weight += w;
        }
        (weight > 0.0).then(|| sum / weight)
    }

    /// Gives each landing the place of its far end as its wish, and makes the bodies anew.
    fn turn_bodies(&mut self) {
        for block in 0..self.net.blocks.len() {
            for &(channel, piece, end) in &self.at[block] {
                let piece = &self.placing.pieces[channel][piece];
                let far = f64::from(self.end_x(&piece.ends[1 - end]));
                let slot = piece.ends[end].slot;
                if let Some(landing) = self.landings[block].get_mut(slot) {
                    landing.wish = far;
                }
            }
            let body = body::body(self.circuit, &self.net.blocks[block], &self.landings[block]);
            self.placing.bodies[block] = body;
        }
    }

    fn sort_layer(&mut self, layer: usize, down: bool) {
        let channel = if down { layer } else { layer + 1 };
        let mut keyed: Vec<(f64, usize, usize)> = self.placing.layers[layer]
            .iter()
            .enumerate()
            .map(|(i, &node)| {
                let middle = f64::from(self.width(node)) / 2.0;
                let own = f64::from(self.placing.x[node]);
                let pull = self.pull(node, |c| c == channel).or_else(|| self.pull(node, |_| true));
                (pull.unwrap_or(own) + middle, i, node)
            })
            .collect();
        keyed.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        self.placing.layers[layer] = keyed.into_iter().map(|k| k.2).collect();
        self.pack(layer);
        self.relax(layer);
    }

    /// The first order: along the links from the supplies down, so that what belongs together stands together.
    fn first_order(&mut self, mirrored: bool) {
        let count = self.placing.nodes.len();
        let mut rank = vec![usize::MAX; count];
        let mut next = 0;
        let mut stack: Vec<usize> = (0..count).rev().collect();
        while let Some(node) = stack.pop() {
            if rank[node] != usize::MAX {
                continue;
            }
            rank[node] = next;
            next += 1;
            let mut ends: Vec<usize> = self.at[node]
                .iter()
                .map(|&(channel, piece, end)| self.placing.pieces[channel][piece].ends[1 - end].node)
                .collect();
            ends.reverse();
            // Not on through a module: what hangs on it stands where its feed is.
            let is_module = matches!(self.placing.nodes[node], Node::Block(b)
                if matches!(self.net.blocks[b].thing, crate::block::Thing::Module(_)));
            if !is_module {
                stack.extend(ends);
            }
        }
        for layer in &mut self.placing.layers {
            layer.sort_by_key(|&n| rank[n]);
            if mirrored {
                layer.reverse();
            }
        }
        for layer in 0..self.placing.layers.len() {
            self.pack(layer);
        }
    }

    fn order(&mut self) {
        let mut best: Option<Kept> = None;
        // From two beginnings: a sweep ends in the nearest good order, not in the best.
        for mirrored in [false, true] {
            self.first_order(mirrored);
            self.sweep(&mut best);
        }
        if let Some(kept) = best {
            self.placing.layers = kept.layers;
            self.placing.x = kept.x;
            self.landings = kept.landings;
            self.placing.bodies = kept.bodies;
        }
    }

    fn keep(&self, best: &mut Option<Kept>) -> bool {
        let cost = self.cost();
        let better = best.as_ref().is_none_or(|b| cost < b.cost);
        if better {
            let p = &self.placing;
            *best = Some(Kept {
                cost,
                layers: p.layers.clone(),
                x: p.x.clone(),
                landings: self.landings.clone(),
                bodies: p.bodies.clone(),
            });
        }
        better
    }

    fn sweep(&mut self, best: &mut Option<Kept>) {
        let count = self.placing.layers.len();
        let mut idle = 0;
        for round in 0..ROUNDS {
            let down = round % 2 == 0;
            for step in 0..count {
                self.sort_layer(if down { step } else { count - 1 - step }, down);
            }
            self.turn_bodies();
            for layer in 0..count {
                self.pack(layer);
            }
            for layer in (0..count).chain((0..count).rev()) {
                self.relax(layer);
            }
            let gained = self.keep(best);
            // The swaps start from what the sweep found, and the next sweep from what they found.
            self.swap_neighbours();
            for layer in (0..count).chain((0..count).rev()) {
                self.relax(layer);
            }
            if self.keep(best) || gained {
                idle = 0;
            } else {
                idle += 1;
                if idle >= PATIENCE {
                    break;
                }
            }
        }
    }

    /// Crossings between the pieces of each channel, weighed over their lengths.
    fn cost(&self) -> u64 {
        (0..self.placing.pieces.len()).map(|channel| self.channel_cost(channel)).sum()
    }

    fn channel_cost(&self, channel: usize) -> u64 {
        let pieces = &self.placing.pieces[channel];
        let (mut crossings, mut length) = (0_u64, 0_u64);
        let spans: Vec<[(i32, bool); 2]> =
            pieces.iter().map(|p| [0, 1].map(|e| (self.end_x(&p.ends[e]), p.ends[e].upper))).collect();
        for (i, a) in spans.iter().enumerate() {
            length += u64::from(a[0].0.abs_diff(a[1].0));
            // Many pieces: their lengths stand for the crossings.
            if spans.len() > 400 {
                continue;
            }
            for b in spans.iter().skip(i + 1) {
                crossings += u64::from(crosses(a, b));
            }
        }
        crossings * 40 + length
    }

    /// Neighbours change places where that costs less, until nothing is gained.
    fn swap_neighbours(&mut self) {
        let busy = self.placing.pieces.iter().map(Vec::len).max().unwrap_or(0);
        if busy > 200 {
            return;
        }
        for _ in 0..SWAPS {
            let mut gained = false;
            for layer in 0..self.placing.layers.len() {
                for i in 1..self.placing.layers[layer].len() {
                    let (left, right) = (self.placing.layers[layer][i - 1], self.placing.layers[layer][i]);
                    let (x, y) = (self.placing.x[left], self.placing.x[right]);
                    let end = y + self.width(right);
                    let before = self.channel_cost(layer) + self.channel_cost(layer + 1);
                    self.placing.x[right] = x;
                    self.placing.x[left] = end - self.width(left);
                    let after = self.channel_cost(layer) + self.channel_cost(layer + 1);
                    if after < before {
                        self.placing.layers[layer].swap(i - 1, i);
                        gained = true;
                    } else {
                        (self.placing.x[left], self.placing.x[right]) = (x, y);
                    }
                }
            }
            if !gained {
                break;
            }
        }
    }

    /// Places a layer for the ends of its links, its order fixed.
    fn relax(&mut self, layer: usize) {
        let nodes = self.placing.layers[layer].clone();
        let mut places: Vec<(f64, f64)> = Vec::with_capacity(nodes.len());
        let mut left = 0.0;
        for &node in &nodes {
            let pull = self.pull(node, |_| true).unwrap_or(f64::from(self.placing.x[node]));
            let weight = (self.at[node].len() as f64).max(0.2);
            places.push((pull - left, weight));
            left += f64::from(self.width(node) + GAP);
        }
        let fitted = pool(&places);
        let mut left = 0;
        let mut floor = i32::MIN;
        for (&node, fit) in nodes.iter().zip(fitted) {
            let x = (fit.round() as i32 + left).max(floor);
            self.placing.x[node] = x;
            floor = x + self.width(node) + GAP;
            left += self.width(node) + GAP;
        }
    }

    /// The last placing: rounds over all layers, then everything moved to the left edge.
    fn settle(&mut self) {
        let count = self.placing.layers.len();
        for _ in 0..8 {
            for layer in (0..count).chain((0..count).rev()) {
                self.relax(layer);
            }
        }
        for _ in 0..4 {
            for layer in (0..count).chain((0..count).rev()) {
                self.straighten(layer);
            }
            self.straighten_chains();
        }
        let least = self.placing.x.iter().copied().min().unwrap_or(0);
        for x in &mut self.placing.x {
            *x -= least;
        }
    }

    /// The free room of a node between its neighbours: lowest and highest x.
    fn room(&self, layer: usize, index: usize) -> (i32, i32) {
        let nodes = &self.placing.layers[layer];
        let node = nodes[index];
        let low = index.checked_sub(1).map_or(i32::MIN / 2, |before| {
            let before = nodes[before];
            self.placing.x[before] + self.width(before) + GAP
        });
        let after = nodes.get(index + 1);
        let high = after.map_or(i32::MAX / 2, |&after| self.placing.x[after] - GAP - self.width(node));
        (low, high)
    }

    /// A link that passes several layers does so in one line, as far as the others leave room.
    fn straighten_chains(&mut self) {
        let mut place = vec![(0, 0); self.placing.nodes.len()];
        for (layer, nodes) in self.placing.layers.iter().enumerate() {
            for (index, &node) in nodes.iter().enumerate() {
                place[node] = (layer, index);
            }
        }
        // The passes of a link follow each other, from the top.
        let passes: Vec<usize> = (0..self.placing.nodes.len())
            .filter(|&n| matches!(self.placing.nodes[n], Node::Pass(_)))
            .collect();
        for chain in passes.chunk_by(|&a, &b| self.placing.nodes[a] == self.placing.nodes[b]) {
            let mut from = 0;
            while from < chain.len() {
                let room = |n: usize| self.room(place[n].0, place[n].1);
                let (mut low, mut high) = room(chain[from]);
                let mut to = from + 1;
                while let Some(&next) = chain.get(to) {
                    let (l, h) = room(next);
                    if l.max(low) > h.min(high) {
                        break;
                    }
                    (low, high) = (l.max(low), h.min(high));
                    to += 1;
                }
                // Where its ends are, if that is free; else where it stands in the middle.
                let ends: Vec<i32> = [(chain[from], true), (chain[to - 1], false)]
                    .into_iter()
                    .flat_map(|(node, first)| self.far_ends(node, first))
                    .collect();
                let now: i32 =
                    chain[from..to].iter().map(|&n| self.placing.x[n]).sum::<i32>() / (to - from) as i32;
                let best =
                    ends.iter().copied().filter(|x| (low..=high).contains(x)).min_by_key(|x| x.abs_diff(now));
                let nearest = ends.iter().copied().min_by_key(|x| x.abs_diff(now)).unwrap_or(now);
                let x = best.unwrap_or_else(|| nearest.clamp(low, high));
                for &node in &chain[from..to] {
                    self.placing.x[node] = x;
                }
                from = to;
            }
        }
    }

    /// Where the far end of a pass is: up or down.
    fn far_ends(&self, node: usize, up: bool) -> Option<i32> {
        self.at[node].iter().find_map(|&(channel, piece, end)| {
            let piece = &self.placing.pieces[channel][piece];
            (piece.ends[end].upper != up).then(|| self.end_x(&piece.ends[1 - end]))
        })
    }

    /// Moves each node within its free room to where most of its links are straight.
    fn straighten(&mut self, layer: usize) {
        let nodes = self.placing.layers[layer].clone();
        for (i, &node) in nodes.iter().enumerate() {
            let (low, high) = self.room(layer, i);
            let now = self.placing.x[node];
            let mut wanted: Vec<i32> = self.at[node]
                .iter()
                .filter_map(|&(channel, piece, end)| {
                    let piece = &self.placing.pieces[channel][piece];
                    let (own, other) = (&piece.ends[end], &piece.ends[1 - end]);
                    (other.node != node && own.upper != other.upper)
                        .then(|| now + self.end_x(other) - self.end_x(own))
                })
                .filter(|x| (low..=high).contains(x))
                .collect();
            wanted.sort_unstable();
            let count = |x: i32| wanted.iter().filter(|&&w| w == x).count();
            let best = wanted
                .iter()
                .copied()
                .max_by_key(|&x| (count(x), -i64::from(x.abs_diff(now)), -i64::from(x)));
            if let Some(best) = best
                && count(best) > count(now)
            {
                self.placing.x[node] = best;
            }
        }
    }
}

impl Placing {
    /// Where an end of a piece stands, in steps.
    pub(crate) fn end_x(&self, end: &End) -> i32 {
        let left = self.x[end.node];
        match self.nodes[end.node] {
            Node::Block(b) => left + self.bodies[b].slots.get(end.slot).map_or(1, |s| s.x),
            Node::Pass(_) => left,
        }
    }
}

/// Whether two pieces must cross, by the ends alone.
fn crosses(a: &[(i32, bool); 2], b: &[(i32, bool); 2]) -> bool {
    let through = |p: &[(i32, bool); 2]| p[0].1 != p[1].1;
    let upper_lower = |p: &[(i32, bool); 2]| if p[0].1 { (p[0].0, p[1].0) } else { (p[1].0, p[0].0) };
    let within = |x: i32, p: &[(i32, bool); 2]| x > p[0].0.min(p[1].0) && x < p[0].0.max(p[1].0);
    match (through(a), through(b)) {
        (true, true) => {
            let ((u, l), (v, m)) = (upper_lower(a), upper_lower(b));
            (u < v) != (l < m)
        }
        (false, true) => within(if a[0].1 { upper_lower(b).0 } else { upper_lower(b).1 }, a),
        (true, false) => crosses(b, a),
        (false, false) => a[0].1 == b[0].1 && within(b[0].0, a) != within(b[1].0, a),
    }
}

/// The nearest values that do not decrease, by least squares with weights.
fn pool(wanted: &[(f64, f64)]) -> Vec<f64> {
    let mut blocks: Vec<(f64, f64, usize)> = Vec::new();
    for &(value, weight) in wanted {
        let mut block = (value, weight, 1);
        while let Some(last) = blocks.last().copied().filter(|last| last.0 > block.0) {
            blocks.pop();
            let total = last.1 + block.1;
            block = ((last.0 * last.1 + block.0 * block.1) / total, total, last.2 + block.2);
        }
        blocks.push(block);
    }
    blocks.into_iter().flat_map(|(value, _, count)| std::iter::repeat_n(value, count)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pooled_values_do_not_decrease_and_keep_what_already_rises() {
        assert_eq!(pool(&[(1.0, 1.0), (2.0, 1.0), (5.0, 1.0)]), vec![1.0, 2.0, 5.0]);
        assert_eq!(pool(&[(4.0, 1.0), (2.0, 1.0), (5.0, 1.0)]), vec![3.0, 3.0, 5.0]);
        assert_eq!(pool(&[(4.0, 3.0), (0.0, 1.0)]), vec![3.0, 3.0]);
    }

    #[test]
    fn pieces_that_swap_sides_cross() {
        assert!(crosses(&[(0, true), (5, false)], &[(3, true), (2, false)]));
        assert!(!crosses(&[(0, true), (5, false)], &[(3, true), (7, false)]));
        assert!(crosses(&[(0, true), (5, true)], &[(3, true), (7, false)]));
        assert!(!crosses(&[(0, true), (5, true)], &[(3, false), (4, false)]));
    }
}
