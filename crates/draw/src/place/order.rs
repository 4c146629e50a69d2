//! The order of the blocks in each layer: barycentre sweeps from several beginnings, neighbours swapped in between, the order that
//! crosses least kept.

use super::{Node, Work};
use crate::{
    block::Thing,
    body::{Body, Landing},
};
use std::mem::discriminant;

/// Rounds of ordering without gain before it stops, and at the most.
const PATIENCE: usize = 6;
const ROUNDS: usize = 30;
/// Passes of swaps, at the most.
const SWAPS: usize = 12;

/// What a pair against the order of the file costs; a crossing costs 40, a step of length 1.
const AGAINST: u64 = 4;

/// An order to begin with.
#[derive(Clone, Copy)]
enum Beginning {
    /// Along the links from the supplies down.
    Ways,
    /// The same from the right.
    WaysTurned,
    /// As the file names them.
    File,
}

/// The best order so far.
struct Kept {
    cost: u64,
    layers: Vec<Vec<usize>>,
    x: Vec<i32>,
    landings: Vec<Vec<Landing>>,
    bodies: Vec<Body>,
}

impl Work<'_> {
    /// The first order: along the links from the supplies down, so that what belongs together stands together, or as in
    /// the file.
    fn first_order(&mut self, beginning: Beginning) {
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
                if matches!(self.net.blocks[b].thing, Thing::Module(_)));
            if !is_module {
                stack.extend(ends);
            }
        }
        for layer in &mut self.placing.layers {
            match beginning {
                Beginning::Ways => layer.sort_by_key(|&n| rank[n]),
                Beginning::WaysTurned => layer.sort_by_key(|&n| std::cmp::Reverse(rank[n])),
                Beginning::File => layer.sort_unstable(),
            }
        }
        for layer in 0..self.placing.layers.len() {
            self.pack(layer);
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

    pub(super) fn order(&mut self) {
        let mut best: Option<Kept> = None;
        // From several beginnings: a sweep ends in the nearest good order, not in the best.
        for beginning in [Beginning::Ways, Beginning::WaysTurned, Beginning::File] {
            self.first_order(beginning);
            self.sweep(&mut best);
        }
        if let Some(kept) = best {
            self.restore(kept);
        }
        // Seen from behind it is as good a drawing. The one that reads as the file does is taken: so a small edit does
        // not turn the whole sheet.
        let (with, against) = self.with_and_against_the_file();
        if with < against {
            self.mirror();
            let mut best = None;
            self.keep(&mut best);
            self.sweep(&mut best);
            if let Some(kept) = best {
                self.restore(kept);
            }
        }
    }

    fn restore(&mut self, kept: Kept) {
        self.placing.layers = kept.layers;
        self.placing.x = kept.x;
        self.landings = kept.landings;
        self.placing.bodies = kept.bodies;
    }

    /// How many pairs of a kind stand in a layer as the file names them, and how many the other way round.
    fn with_and_against_the_file(&self) -> (u64, u64) {
        let thing = |&node: &usize| match self.placing.nodes[node] {
            Node::Block(b) => Some(self.net.blocks[b].thing),
            Node::Pass(_) => None,
        };
        let (mut with, mut against) = (0, 0);
        for layer in &self.placing.layers {
            let things: Vec<Thing> = layer.iter().filter_map(thing).collect();
            for (i, a) in things.iter().enumerate() {
                for b in things[i + 1..].iter().filter(|b| discriminant(a) == discriminant(b)) {
                    if a < b { with += 1 } else { against += 1 }
                }
            }
        }
        (with, against)
    }

    /// Turns the order of every layer round.
    fn mirror(&mut self) {
        for node in 0..self.placing.nodes.len() {
            self.placing.x[node] = -self.placing.x[node] - self.width(node);
        }
        for layer in &mut self.placing.layers {
            layer.reverse();
        }
        self.turn_bodies();
        for layer in 0..self.placing.layers.len() {
            self.relax(layer);
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

    /// Crossings between the pieces of each channel, weighed over their lengths and the order of the file.
    fn cost(&self) -> u64 {
        let (_, against) = self.with_and_against_the_file();
        (0..self.placing.pieces.len()).map(|channel| self.channel_cost(channel)).sum::<u64>()
            + AGAINST * against
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
        let mut costs: Vec<u64> = (0..self.placing.pieces.len()).map(|c| self.channel_cost(c)).collect();
        for _ in 0..SWAPS {
            let mut gained = false;
            for layer in 0..self.placing.layers.len() {
                for i in 1..self.placing.layers[layer].len() {
                    let (left, right) = (self.placing.layers[layer][i - 1], self.placing.layers[layer][i]);
                    let (x, y) = (self.placing.x[left], self.placing.x[right]);
                    let end = y + self.width(right);
                    self.placing.x[right] = x;
                    self.placing.x[left] = end - self.width(left);
                    let after = [self.channel_cost(layer), self.channel_cost(layer + 1)];
                    if after[0] + after[1] < costs[layer] + costs[layer + 1] {
                        (costs[layer], costs[layer + 1]) = (after[0], after[1]);
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

#[cfg(test)]
mod tests {
    use super::crosses;

    #[test]
    fn pieces_that_swap_sides_cross() {
        assert!(crosses(&[(0, true), (5, false)], &[(3, true), (2, false)]));
        assert!(!crosses(&[(0, true), (5, false)], &[(3, true), (7, false)]));
        assert!(crosses(&[(0, true), (5, true)], &[(3, true), (7, false)]));
        assert!(!crosses(&[(0, true), (5, true)], &[(3, false), (4, false)]));
    }
}
