//! How a circuit is cut, with all about the regions that edits of values leave as it is.

use super::lines::Lines;
use keyon_circuit::{Likeness, Region, ids::*, model::*, regions};
use std::{
    collections::{BTreeMap, BTreeSet},
    sync::Arc,
};
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
    /// Of each region what the pieces see of it that hang on it: all but its [`stubs`].
    pub(super) cores: Vec<Core>,
}

/// What a region has of its own.
#[derive(Clone, Debug)]
pub(super) struct Own {
    /// Of the names of its elements and points, and of which points hang on what could not be read.
    pub(super) names: u128,
    /// Its items in the circuit's own file, ascending.
    pub(super) items: Arc<[u32]>,
}

/// A region without what leads nowhere.
#[derive(Debug)]
pub(super) struct Core {
    pub(super) points: Vec<PointId>,
    pub(super) elements: Vec<ElementId>,
    pub(super) own: Own,
}

impl Cut {
    pub(super) fn new(circuit: &Circuit, shape: &Likeness, held: &[PointId], size: usize) -> Self {
        let regions = regions(circuit, size);
        let lines = Lines::new(circuit, &regions);
        let own = |region: &Region| Own::new(circuit, &region.points, &region.elements, held);
        let owns: Vec<Own> = regions.iter().map(own).collect();
        let hung_on: BTreeSet<usize> = regions.iter().filter_map(|region| region.parent).collect();
        let mut degrees = degrees(circuit);
        let core = |(index, region): (usize, &Region)| {
            let (points, elements) = if hung_on.contains(&index) {
                stubs(circuit, region, &mut degrees)
            } else {
                Default::default()
            };
            let mut core = Core {
                points: region.points.iter().copied().filter(|p| !points.contains(p)).collect(),
                elements: region.elements.iter().copied().filter(|e| !elements.contains(e)).collect(),
                own: owns[index].clone(),
            };
            if !elements.is_empty() {
                core.own = Own::new(circuit, &core.points, &core.elements, held);
            }
            core
        };
        let cores = regions.iter().enumerate().map(core).collect();
        Self { cores, shape: shape.clone(), size, held: held.to_vec(), regions, lines, owns }
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
    fn new(circuit: &Circuit, points: &[PointId], elements: &[ElementId], held: &[PointId]) -> Self {
        let mut hash = Xxh3::new();
        let mut items: Vec<u32> = Vec::new();
        let mut add = |loc: Loc| {
            // Neighbours are of one line more often than not.
            if loc.file == FileId(0) && items.last() != Some(&loc.item) {
                items.push(loc.item);
            }
        };
        for e in elements.iter().filter_map(|e| circuit.elements.get(e.index())) {
            super::memo::text(&mut hash, &e.name);
            let owner = match e.owner {
                Owner::Device(d) => circuit.devices.get(d.index()).map(|d| d.loc),
                Owner::Module(m, ..) => circuit.modules.get(m.index()).map(|m| m.loc),
                _ => None,
            };
            owner.into_iter().chain([e.loc]).for_each(&mut add);
        }
        hash.update(b"points");
        for id in points {
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

/// How many elements end at each point, and branches that leave the page.
fn degrees(circuit: &Circuit) -> Vec<u32> {
    let mut degrees = vec![0; circuit.points.len()];
    let ends = circuit.elements.iter().flat_map(|e| [e.from, e.to]);
    for point in ends.chain(circuit.branches.iter().map(|branch| branch.point)) {
        if let Some(degree) = degrees.get_mut(point.index()) {
            *degree += 1;
        }
    }
    degrees
}

/// The points and elements of a region that lead nowhere: wires and fuses with an open end, as one that is being written. No
/// current flows there, so what hangs on the region is none the wiser for them, and need not be judged anew for each letter.
/// `degrees` is of all points, and less by what is found here.
fn stubs(
    circuit: &Circuit,
    region: &Region,
    degrees: &mut [u32],
) -> (BTreeSet<PointId>, BTreeSet<ElementId>) {
    let open = |point: PointId| {
        let kind = circuit.points.get(point.index()).map(|point| point.kind);
        matches!(kind, Some(PointKind::Splice(_) | PointKind::Internal))
    };
    let mut at: BTreeMap<PointId, Vec<ElementId>> = BTreeMap::new();
    for &id in &region.elements {
        let Some(e) = circuit.elements.get(id.index()) else { continue };
        for end in [e.from, e.to].into_iter().filter(|&end| open(end)) {
            at.entry(end).or_default().push(id);
        }
    }
    let mut ends: Vec<PointId> = region.points.iter().copied().filter(|&point| open(point)).collect();
    let (mut points, mut elements) = (BTreeSet::new(), BTreeSet::new());
    while let Some(point) = ends.pop() {
        if degrees.get(point.index()) != Some(&1) {
            continue;
        }
        let mut left = at.get(&point).into_iter().flatten().filter(|e| !elements.contains(*e));
        let Some(&only) = left.next() else { continue };
        let Some(e) = circuit.elements.get(only.index()) else { continue };
        if !matches!(e.owner, Owner::Wire(_) | Owner::Fuse) {
            continue;
        }
        points.insert(point);
        elements.insert(only);
        for end in [e.from, e.to] {
            if let Some(degree) = degrees.get_mut(end.index()) {
                *degree -= 1;
            }
            if end != point && open(end) && region.points.binary_search(&end).is_ok() {
                ends.push(end);
            }
        }
    }
    (points, elements)
}
