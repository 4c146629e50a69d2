//! The circuit as blocks with pins, and links between them: what the layout works on.

use keyon_circuit::{ids::*, model::*};
use std::collections::BTreeMap;

/// What a block stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Thing {
    /// Index into `supplies`.
    Supply(usize),
    /// Index into `fuses`.
    Fuse(usize),
    /// Index into `splices`.
    Splice(usize),
    #[allow(missing_docs)]
    Device(DeviceId),
    /// One way of an in-line connector.
    Inline(InlineId, usize),
    /// Index into `branches`.
    Elsewhere(usize),
    #[allow(missing_docs)]
    Module(ModuleId),
    /// Index into `grounds`.
    Ground(usize),
    /// The common ground itself, where something is tied to it directly.
    Common,
}

/// A pin of a block.
#[derive(Clone, Debug)]
pub(crate) struct Pin {
    pub(crate) point: PointId,
    /// Of a module: connector and cavity.
    pub(crate) cavity: Option<(usize, usize)>,
}

/// Something that is drawn as a whole.
#[derive(Clone, Debug)]
pub(crate) struct Block {
    pub(crate) thing: Thing,
    pub(crate) pins: Vec<Pin>,
}

/// A line from a pin to a pin.
#[derive(Clone, Copy, Debug)]
pub struct Link {
    /// Block and pin.
    pub(crate) ends: [(usize, usize); 2],
    /// The wire's stretch; `None`: joined without a wire.
    pub wire: Option<(WireId, usize)>,
    /// The points at its ends.
    pub points: [PointId; 2],
}

/// Blocks and links.
#[derive(Clone, Debug, Default)]
pub(crate) struct Net {
    pub(crate) blocks: Vec<Block>,
    pub(crate) links: Vec<Link>,
}

impl Net {
    /// Everything that is wired, in source order. `wanted` says which things are drawn.
    pub(crate) fn of(circuit: &Circuit, wanted: &dyn Fn(Thing) -> bool) -> Self {
        let mut net = Self::default();
        let mut at: BTreeMap<PointId, (usize, usize)> = BTreeMap::new();
        let pin = |point: PointId| Pin { point, cavity: None };
        for (i, supply) in circuit.supplies.iter().enumerate() {
            let mut pins = vec![pin(supply.point)];
            if supply.negative != COMMON {
                pins.push(pin(supply.negative));
            }
            // The negative pole may be another block's point: that one is linked below.
            net.block(&mut at, Thing::Supply(i), pins, wanted);
        }
        for (i, splice) in circuit.splices.iter().enumerate() {
            net.block(&mut at, Thing::Splice(i), vec![pin(splice.point)], wanted);
        }
        for (i, device) in circuit.devices.iter().enumerate() {
            let pins = device.pins.iter().map(|p| pin(p.outside)).collect();
            net.block(&mut at, Thing::Device(i.into()), pins, wanted);
        }
        for (i, inline) in circuit.inlines.iter().enumerate() {
            for (k, cavity) in inline.cavities.iter().enumerate() {
                if !cavity.landings.is_empty() {
                    let pins = vec![pin(cavity.a), pin(cavity.b)];
                    net.block(&mut at, Thing::Inline(i.into(), k), pins, wanted);
                }
            }
        }
        for (i, module) in circuit.modules.iter().enumerate() {
            let mut pins = Vec::new();
            for (c, connector) in module.connectors.iter().enumerate() {
                for (k, cavity) in connector.cavities.iter().enumerate() {
                    if !cavity.landings.is_empty() {
                        let cavity_of = Some((c, k));
                        pins.push(Pin { point: cavity.outside, cavity: cavity_of });
                    }
                }
            }
            net.block(&mut at, Thing::Module(i.into()), pins, wanted);
        }
        for (i, ground) in circuit.grounds.iter().enumerate() {
            net.block(&mut at, Thing::Ground(i), vec![pin(ground.point)], wanted);
        }
        for (i, branch) in circuit.branches.iter().enumerate() {
            let thing = Thing::Elsewhere(i);
            if wanted(thing) {
                let own = Pin { point: branch.point, cavity: None };
                net.blocks.push(Block { thing, pins: vec![own] });
                let to = (net.blocks.len() - 1, 0);
                net.join(&mut at, branch.point, Some(to), branch.point, None);
            }
        }
        for (w, wire) in circuit.wires.iter().enumerate() {
            for (s, stretch) in wire.stretches.iter().enumerate() {
                let Some(e) = circuit.elements.get(stretch.element.index()) else { continue };
                net.join(&mut at, e.from, None, e.to, Some((w.into(), s)));
            }
        }
        for (i, fuse) in circuit.fuses.iter().enumerate() {
            let thing = Thing::Fuse(i);
            let Some(e) = circuit.elements.get(fuse.element.index()).filter(|_| wanted(thing)) else {
                continue;
            };
            let pins = vec![pin(e.from), pin(e.to)];
            net.blocks.push(Block { thing, pins });
            let own = net.blocks.len() - 1;
            net.join(&mut at, e.from, Some((own, 0)), e.from, None);
            net.join(&mut at, e.to, Some((own, 1)), e.to, None);
        }
        for element in circuit.elements.iter().filter(|e| e.kind == ElementKind::Tie) {
            net.join(&mut at, element.from, None, element.to, None);
        }
        net.drop_bare(circuit);
        net
    }

    fn block(
        &mut self,
        at: &mut BTreeMap<PointId, (usize, usize)>,
        thing: Thing,
        pins: Vec<Pin>,
        wanted: &dyn Fn(Thing) -> bool,
    ) {
        if !wanted(thing) {
            return;
        }
        for (i, pin) in pins.iter().enumerate() {
            at.entry(pin.point).or_insert((self.blocks.len(), i));
        }
        self.blocks.push(Block { thing, pins });
    }

    /// Links two points, or an end that is known and a point.
    fn join(
        &mut self,
        at: &mut BTreeMap<PointId, (usize, usize)>,
        from: PointId,
        known: Option<(usize, usize)>,
        to: PointId,
        wire: Option<(WireId, usize)>,
    ) {
        for point in [from, to] {
            if point == COMMON && !at.contains_key(&COMMON) {
                let pins = vec![Pin { point, cavity: None }];
                at.insert(COMMON, (self.blocks.len(), 0));
                self.blocks.push(Block { thing: Thing::Common, pins });
            }
        }
        let ends = match known {
            Some(own) => at.get(&to).map(|&there| [there, own]),
            None => at.get(&from).copied().zip(at.get(&to).copied()).map(|(a, b)| [a, b]),
        };
        if let Some(ends) = ends {
            self.links.push(Link { ends, wire, points: [from, to] });
        }
    }

    /// Leaves out what nothing is joined to, and supplies' negative poles that are other blocks' points.
    fn drop_bare(&mut self, circuit: &Circuit) {
        let mut used = vec![0_usize; self.blocks.len()];
        for link in &self.links {
            for (block, _) in link.ends {
                if let Some(count) = used.get_mut(block) {
                    *count += 1;
                }
            }
        }
        let keep: Vec<bool> = self
            .blocks
            .iter()
            .zip(&used)
            .map(|(block, count)| match block.thing {
                // A supply or a device stays also while nothing is wired to it yet.
                Thing::Supply(_) => true,
                Thing::Device(d) => {
                    *count > 0 || circuit.devices.get(d.index()).is_some_and(|d| !d.elements.is_empty())
                }
                _ => *count > 0,
            })
            .collect();
        let mut new = vec![usize::MAX; keep.len()];
        let mut next = 0;
        for (slot, keep) in new.iter_mut().zip(&keep) {
            if *keep {
                *slot = next;
                next += 1;
            }
        }
        let mut index = 0;
        self.blocks.retain(|_| {
            index += 1;
            keep.get(index - 1).copied().unwrap_or(false)
        });
        for link in &mut self.links {
            for end in &mut link.ends {
                end.0 = new.get(end.0).copied().unwrap_or(usize::MAX);
            }
        }
        self.links.retain(|link| link.ends.iter().all(|(block, _)| *block != usize::MAX));
    }
}
