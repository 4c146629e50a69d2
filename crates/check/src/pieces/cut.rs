//! How a circuit is cut, with all about the regions that edits of values leave as it is.

use super::lines::Lines;
use keyon_circuit::{Likeness, Region, ids::*, model::*, regions};
use std::sync::Arc;
use xxhash_rust::xxh3::Xxh3;

/// A circuit, cut.
#[derive(Debug)]
pub(super) struct Cut {
    shape: Likeness,
    size: usize,
    held: Vec<PointId>,
    pub(super) regions: Vec<Region>,
    pub(super) lines: Lines,
    /// One a region.
    pub(super) owns: Vec<Own>,
}

/// What a region has of its own.
#[derive(Debug)]
pub(super) struct Own {
    /// Of the names of its elements and points, and of which points hang on what could not be read.
    pub(super) names: u128,
    /// Its items in the circuit's own file, ascending.
    pub(super) items: Arc<[u32]>,
}

impl Cut {
    pub(super) fn new(circuit: &Circuit, shape: &Likeness, held: &[PointId], size: usize) -> Self {
        let regions = regions(circuit, size);
        let lines = Lines::new(circuit, &regions);
        let owns = regions.iter().map(|region| Own::new(circuit, region, held)).collect();
        Self { shape: shape.clone(), size, held: held.to_vec(), regions, lines, owns }
    }

    /// Whether a circuit of this shape is cut the same way.
    pub(super) fn fits(&self, shape: &Likeness, held: &[PointId], size: usize) -> bool {
        self.shape == *shape && self.size == size && self.held == held
    }

    /// A region and those on which it hangs.
    pub(super) fn way(&self, index: usize) -> impl Iterator<Item = usize> + '_ {
        std::iter::successors(Some(index), |&at| self.regions.get(at).and_then(|region| region.parent))
    }
}

impl Own {
    fn new(circuit: &Circuit, region: &Region, held: &[PointId]) -> Self {
        let mut hash = Xxh3::new();
        let mut items: Vec<u32> = Vec::new();
        let mut add = |loc: Loc| {
            // Neighbours are of one line more often than not.
            if loc.file == FileId(0) && items.last() != Some(&loc.item) {
                items.push(loc.item);
            }
        };
        for e in region.elements.iter().filter_map(|e| circuit.elements.get(e.index())) {
            super::memo::text(&mut hash, &e.name);
            let owner = match e.owner {
                Owner::Device(d) => circuit.devices.get(d.index()).map(|d| d.loc),
                Owner::Module(m, ..) => circuit.modules.get(m.index()).map(|m| m.loc),
                _ => None,
            };
            owner.into_iter().chain([e.loc]).for_each(&mut add);
        }
        hash.update(b"points");
        for id in &region.points {
            let Some(point) = circuit.points.get(id.index()) else { continue };
            super::memo::text(&mut hash, &point.name);
            hash.update(&[u8::from(held.binary_search(id).is_ok())]);
            point.loc.into_iter().for_each(&mut add);
        }
        items.sort_unstable();
        items.dedup();
        Self { names: hash.digest128(), items: items.into() }
    }
}
