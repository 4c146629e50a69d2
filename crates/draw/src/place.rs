//! Where the blocks stand across: few crossings (`order`), straight wires (`straighten`).
//!
//! Layer by layer, each block moves towards the middle of what it is linked to (the barycentre method of layered
//! drawing); then, with the order fixed, each layer is placed by least squares under its blocks' widths (pool adjacent
//! violators), which is exact for fixed neighbours.

mod order;
mod straighten;

use crate::{
    block::{Net, Thing},
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

struct Work<'a> {
    circuit: &'a Circuit,
    net: &'a Net,
    landings: Vec<Vec<Landing>>,
    placing: Placing,
    /// The pieces' ends at each node: channel, piece, which end.
    at: Vec<Vec<(usize, usize, usize)>>,
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

    /// Gives each landing the place of its far end as its wish, and makes the bodies anew where that changes them.
    fn turn_bodies(&mut self) {
        for block in 0..self.net.blocks.len() {
            let before: Vec<f64> = self.landings[block].iter().map(|l| l.wish).collect();
            for &(channel, piece, end) in &self.at[block] {
                let piece = &self.placing.pieces[channel][piece];
                let far = f64::from(self.end_x(&piece.ends[1 - end]));
                let slot = piece.ends[end].slot;
                if let Some(landing) = self.landings[block].get_mut(slot) {
                    landing.wish = far;
                }
            }
            let landings = &self.landings[block];
            // But for modules, which go by the mean of a connector's wishes, only their order counts.
            let is_module = matches!(self.net.blocks[block].thing, Thing::Module(_));
            if is_module || !same_order(&before, landings) {
                self.placing.bodies[block] = body::body(self.circuit, &self.net.blocks[block], landings);
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

/// Whether landings stand to each other as their wishes of before did.
fn same_order(before: &[f64], landings: &[Landing]) -> bool {
    landings.iter().enumerate().all(|(i, a)| {
        let rest = landings.iter().enumerate().skip(i + 1);
        rest.into_iter().all(|(j, b)| before[i].total_cmp(&before[j]) == a.wish.total_cmp(&b.wish))
    })
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
}
