//! Which regions a line of the circuit's own file has something in.

use keyon_circuit::{Region, ids::*, model::*};

/// Pairs of an item and a region, in order.
#[derive(Debug)]
pub(super) struct Lines(Vec<(u32, u32)>);

impl Lines {
    pub(super) fn new(circuit: &Circuit, regions: &[Region]) -> Self {
        let owner = |owner: Owner| match owner {
            Owner::Device(d) => circuit.devices.get(d.index()).map(|d| d.loc),
            Owner::Module(m, ..) => circuit.modules.get(m.index()).map(|m| m.loc),
            _ => None,
        };
        let mut pairs = Vec::with_capacity(circuit.points.len() + circuit.elements.len());
        for (index, region) in regions.iter().enumerate() {
            // A line of a library belongs to whoever uses it.
            let mut add = |loc: Loc| {
                let pair = (loc.item, index as u32);
                // Neighbours are of one line more often than not.
                if loc.file == FileId(0) && pairs.last() != Some(&pair) {
                    pairs.push(pair);
                }
            };
            for e in region.elements.iter().filter_map(|e| circuit.elements.get(e.index())) {
                owner(e.owner).into_iter().chain([e.loc]).for_each(&mut add);
            }
            region.points.iter().filter_map(|p| circuit.points.get(p.index())?.loc).for_each(&mut add);
        }
        pairs.sort_unstable();
        pairs.dedup();
        Self(pairs)
    }

    /// The regions of a place's item, each beside the item; none for a line that no region has anything of.
    pub(super) fn of(&self, loc: Loc) -> &[(u32, u32)] {
        if loc.file != FileId(0) {
            return &[];
        }
        let first = self.0.partition_point(|&(item, _)| item < loc.item);
        let rest = &self.0[first..];
        &rest[..rest.partition_point(|&(item, _)| item == loc.item)]
    }

    /// The items of which some region has something, ascending.
    pub(super) fn items(&self) -> impl Iterator<Item = u32> + '_ {
        self.0.chunk_by(|a, b| a.0 == b.0).filter_map(|pairs| pairs.first()).map(|&(item, _)| item)
    }
}
