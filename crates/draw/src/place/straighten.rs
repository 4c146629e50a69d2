//! The last placing: long links in one line, ends under each other, as far as the neighbours leave room.

use super::{GAP, Node, Work};

impl Work<'_> {
    /// The last placing: rounds over all layers, then everything moved to the left edge.
    pub(super) fn settle(&mut self) {
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
