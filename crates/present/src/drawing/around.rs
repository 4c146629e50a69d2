//! What belongs to the circuit of one device or module: all that lies on the ways to its feed and its return.

mod beside;

use keyon_circuit::{Entity, ids::*, model::*};
use keyon_draw::Thing;
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// The things on the ways from these to supplies, modules and grounds.
pub fn things_about(circuit: &Circuit, starts: &[Entity]) -> Vec<Thing> {
    let mut around = Around::new(circuit);
    for &start in starts {
        match (start, circuit.device_of(start)) {
            (Entity::Module(m), _) => around.module(m, |_| true),
            (Entity::Connector(m, c), _) => around.module(m, |connector| connector == c),
            (Entity::Inline(i), _) => {
                let cavities = circuit.inlines.get(i.index()).map_or(&[][..], |i| i.cavities.as_slice());
                for cavity in cavities.iter().filter(|c| !c.landings.is_empty()) {
                    around.with_devices(cavity.a);
                }
            }
            (_, Some(device)) => {
                around.device(device);
                around.consumers(device);
            }
            (Entity::Fuse(e), _) => {
                let ends = circuit.elements.get(e.index()).map(|e| [e.from, e.to]);
                ends.into_iter().flatten().for_each(|p| around.point(p));
            }
            (Entity::Wire(w), _) => {
                let stretches = circuit.wires.get(w.index()).map_or(&[][..], |w| w.stretches.as_slice());
                for element in stretches.iter().filter_map(|s| circuit.elements.get(s.element.index())) {
                    around.point(element.from);
                    around.point(element.to);
                }
            }
            _ => circuit.point_of(start).into_iter().for_each(|p| around.point(p)),
        }
    }
    around.finish()
}

/// How each point is reached: the element and the point before; `None` where it began.
type Reached = BTreeMap<PointId, Option<(ElementId, PointId)>>;

/// The elements of the way to a point.
fn way(by: &Reached, end: PointId) -> Vec<ElementId> {
    std::iter::successors(by.get(&end).copied().flatten(), |(_, before)| by.get(before).copied().flatten())
        .map(|(element, _)| element)
        .collect()
}

/// Which way diodes are walked.
#[derive(Clone, Copy)]
enum Along {
    Any,
    Current,
    Against,
}

struct Around<'a> {
    circuit: &'a Circuit,
    /// The elements without a load at each point; not the diodes across loads, which only a coil's own kick goes through.
    steps: BTreeMap<PointId, Vec<(ElementId, PointId)>>,
    points: BTreeSet<PointId>,
    elements: BTreeSet<ElementId>,
    devices: BTreeSet<DeviceId>,
    modules: BTreeSet<ModuleId>,
    /// Devices whose pins are still to be followed.
    open: VecDeque<DeviceId>,
}

/// What wires, fuses and connectors join to a point.
fn wired(
    circuit: &Circuit,
    steps: &BTreeMap<PointId, Vec<(ElementId, PointId)>>,
    start: PointId,
) -> BTreeSet<PointId> {
    use ElementKind::{Fuse, Inline, Terminal, Tie, Wire};
    let mut reached = BTreeSet::from([start]);
    let mut open = vec![start];
    while let Some(at) = open.pop() {
        for &(element, to) in steps.get(&at).map_or(&[][..], Vec::as_slice) {
            let kind = circuit.elements.get(element.index()).map(|e| e.kind);
            if matches!(kind, Some(Wire | Terminal | Inline | Tie | Fuse(_))) && reached.insert(to) {
                open.push(to);
            }
        }
    }
    reached
}

impl<'a> Around<'a> {
    fn new(circuit: &'a Circuit) -> Self {
        let mut steps: BTreeMap<PointId, Vec<(ElementId, PointId)>> = BTreeMap::new();
        for (i, e) in circuit.elements.iter().enumerate() {
            let inside = matches!(e.owner, Owner::Module(..)) && e.kind != ElementKind::Terminal;
            if e.kind.is_load() || e.kind.is_source() || inside || e.kind == ElementKind::Ground {
                continue;
            }
            steps.entry(e.from).or_default().push((i.into(), e.to));
            steps.entry(e.to).or_default().push((i.into(), e.from));
        }
        for (i, diode) in circuit.elements.iter().enumerate().filter(|(_, e)| e.kind == ElementKind::Diode) {
            let [a, b] = [diode.from, diode.to].map(|end| wired(circuit, &steps, end));
            let across = |e: &Element| {
                e.kind.is_load()
                    && (a.contains(&e.from) && b.contains(&e.to) || a.contains(&e.to) && b.contains(&e.from))
            };
            if circuit.elements.iter().any(across) {
                steps.values_mut().for_each(|ways| ways.retain(|(element, _)| element.index() != i));
            }
        }
        Self {
            circuit,
            steps,
            points: BTreeSet::new(),
            elements: BTreeSet::new(),
            devices: BTreeSet::new(),
            modules: BTreeSet::new(),
            open: VecDeque::new(),
        }
    }

    fn device(&mut self, device: DeviceId) {
        if self.devices.insert(device) {
            self.open.push_back(device);
        }
        while let Some(next) = self.open.pop_front() {
            let Some(device) = self.circuit.devices.get(next.index()) else { continue };
            for pin in &device.pins {
                self.point(pin.outside);
            }
        }
    }

    /// A module with its feeds and grounds, and what hangs on the other cavities of the connectors that `all` names.
    fn module(&mut self, module: ModuleId, all: impl Fn(usize) -> bool) {
        self.modules.insert(module);
        let Some(it) = self.circuit.modules.get(module.index()) else { return };
        for (c, connector) in it.connectors.iter().enumerate() {
            for (k, cavity) in connector.cavities.iter().enumerate() {
                let own = it.feeds.contains(&(c, k)) || it.grounds.contains(&(c, k));
                if own {
                    self.point(cavity.outside);
                } else if all(c) {
                    self.with_devices(cavity.outside);
                }
            }
        }
    }

    /// A point with the devices that it leads to.
    fn with_devices(&mut self, point: PointId) {
        for device in self.devices_at(point) {
            self.device(device);
        }
        self.point(point);
    }

    /// The devices that a point leads to without a load between.
    fn devices_at(&self, start: PointId) -> Vec<DeviceId> {
        let (by, _) = self.flood(start, Along::Any, |_| false);
        let pins = by.keys().filter_map(|p| match self.circuit.points.get(p.index())?.kind {
            PointKind::Pin(device, _) => Some(device),
            _ => None,
        });
        pins.collect::<BTreeSet<_>>().into_iter().collect()
    }

    /// How each point is reached, and the first one that `found` is content with. Not on through supplies, grounds and modules.
    fn flood(
        &self,
        start: PointId,
        along: Along,
        found: impl Fn(PointKind) -> bool,
    ) -> (Reached, Option<PointId>) {
        let mut by = BTreeMap::from([(start, None)]);
        let mut queue = VecDeque::from([start]);
        while let Some(at) = queue.pop_front() {
            let Some(kind) = self.circuit.points.get(at.index()).map(|p| p.kind) else { continue };
            if at != start && found(kind) {
                return (by, Some(at));
            }
            if self.is_end(at) && at != start {
                continue;
            }
            for &(element, to) in self.steps.get(&at).map_or(&[][..], Vec::as_slice) {
                let diode = self.circuit.elements.get(element.index());
                let passes = diode.filter(|e| e.kind == ElementKind::Diode).is_none_or(|e| match along {
                    Along::Any => true,
                    Along::Current => e.from == at,
                    Along::Against => e.to == at,
                });
                if !passes {
                    continue;
                }
                by.entry(to).or_insert_with(|| {
                    queue.push_back(to);
                    Some((element, at))
                });
            }
        }
        (by, None)
    }

    /// The ways from a point to a supply and to ground: a motor between two changeovers has both at each end. Where there is
    /// neither, the way to a module.
    fn point(&mut self, point: PointId) {
        if !self.points.insert(point) {
            return;
        }
        let supply = self.flood(point, Along::Against, |kind| matches!(kind, PointKind::Supply(_)));
        let grounds = |kind| matches!(kind, PointKind::Ground(_) | PointKind::Common);
        let ground = self.flood(point, Along::Current, grounds);
        let mut found = false;
        for (by, end) in [supply, ground] {
            if let Some(end) = end {
                self.take(&by, end);
                for (by, end) in self.other_ways(&by, end) {
                    self.take(&by, end);
                }
                self.beside(end);
                found = true;
            }
        }
        if !found
            && let (by, Some(end)) = self.flood(point, Along::Any, |k| matches!(k, PointKind::Cavity(..)))
        {
            self.take(&by, end);
        }
    }

    /// Where no way leads on: supplies, grounds, modules.
    fn is_end(&self, point: PointId) -> bool {
        matches!(
            self.circuit.points.get(point.index()).map(|p| p.kind),
            None | Some(
                PointKind::Supply(_) | PointKind::Ground(_) | PointKind::Common | PointKind::Cavity(..)
            )
        )
    }

    fn take(&mut self, by: &Reached, end: PointId) {
        let mut at = end;
        loop {
            self.points.insert(at);
            match self.circuit.points.get(at.index()).map(|p| p.kind) {
                Some(PointKind::Cavity(module, ..)) if !self.modules.contains(&module) => {
                    self.module(module, |_| false)
                }
                Some(PointKind::Pin(device, _) | PointKind::PinInside(device, _))
                    if self.devices.insert(device) && self.circuit.is_relay(device) =>
                {
                    self.open.push_back(device);
                }
                _ => {}
            }
            let Some(Some((element, before))) = by.get(&at).copied() else { break };
            self.elements.insert(element);
            at = before;
        }
        if let Some(next) = self.open.pop_front() {
            self.devices.remove(&next);
            self.device(next);
        }
    }

    fn finish(self) -> Vec<Thing> {
        let mut things: BTreeSet<Thing> = BTreeSet::new();
        things.extend(self.devices.iter().map(|d| Thing::Device(*d)));
        things.extend(self.modules.iter().map(|m| Thing::Module(*m)));
        for point in &self.points {
            things.extend(match self.circuit.points.get(point.index()).map(|p| p.kind) {
                Some(PointKind::Supply(i)) => Some(Thing::Supply(i)),
                Some(PointKind::Ground(i)) => Some(Thing::Ground(i)),
                Some(PointKind::Splice(i)) => Some(Thing::Splice(i)),
                Some(PointKind::InlineSide(i, k, _)) => Some(Thing::Inline(i, k)),
                _ => None,
            });
        }
        for (i, fuse) in self.circuit.fuses.iter().enumerate() {
            if self.elements.contains(&fuse.element) {
                things.insert(Thing::Fuse(i));
            }
        }
        if self.points.contains(&COMMON) {
            things.insert(Thing::Common);
        }
        things.into_iter().collect()
    }
}
