//! What was meant to move a digital input: a switch, a relay's contact, a driver, a sensor on its net.

use super::{
    Facts,
    graph::{Flood, is_continuity, is_wiring},
    modules::cavity,
    sensors::Sensor,
    signals::Input,
};
use keyon_circuit::{
    ids::*,
    model::{COMMON, Change, Element, ElementKind, Owner, PointKind, Role, When},
};
use keyon_solve::Cancelled;

/// What can move an input, and what stands in its way.
#[derive(Debug, Default)]
pub struct Movers {
    /// Switches and relays by one of their contacts, stages.
    pub contacts: Vec<ElementId>,
    #[allow(missing_docs)]
    pub sensors: Vec<Sensor>,
    /// A contact whose two ends wires join.
    pub bridged: Option<ElementId>,
    /// A contact of which the other side reaches neither a supply nor ground, and the lowest point there.
    pub nowhere: Option<(ElementId, PointId)>,
    /// There is a driver among them.
    pub driven: bool,
}

/// What the other side of a contact comes to.
enum Side {
    /// A supply, ground, a module.
    Somewhere,
    /// Splices and pins, all drawn, and no end of any kind.
    Nowhere(PointId),
    /// It leaves the page, or lacks a wire, which is told as such.
    Untold,
}

impl Facts<'_> {
    /// What was meant to move an input; `None` where nothing can be said: nothing is on its net, the module hangs on the same
    /// net, a part of it leaves the page, or another finding tells the cause.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn movers(&self, input: &Input<'_>) -> Result<Option<Movers>, Cancelled> {
        let own = self.wired(input.cavity.outside);
        let cavities = self.cavities_on(&own);
        let feeds = |role: &Role| matches!(role, Role::Feed);
        if cavities.iter().any(|(m, _, c)| *m == input.module && feeds(&c.role)) {
            return Ok(None);
        }
        let mut movers = Movers::default();
        let firm = |role: &Role| matches!(role, Role::Return { .. } | Role::Reference { .. } | Role::Ground);
        let held = own.has(COMMON)
            || self.circuit.supplies.iter().any(|s| own.has(s.point))
            || cavities.iter().any(|(.., c)| firm(&c.role));
        let near = if held { own.clone() } else { self.through_resistors(input) };
        for (i, e) in self.circuit.elements.iter().enumerate() {
            let moved = matches!(e.when, When::In { .. } | When::Energised { .. });
            let ends = (near.has(e.from), near.has(e.to));
            if !moved || ends == (false, false) {
                continue;
            }
            let id = ElementId::from(i);
            match e.kind {
                ElementKind::Contact if ends == (true, true) => {
                    // A resistor beside a switch, by which a broken wire is known, is no bridge.
                    if own.has(e.from) && own.has(e.to) {
                        movers.bridged.get_or_insert(id);
                    }
                    movers.contacts.push(id);
                }
                ElementKind::Contact if !held => match self.side(id, if ends.0 { e.to } else { e.from }) {
                    Side::Somewhere => movers.contacts.push(id),
                    Side::Nowhere(at) => {
                        movers.nowhere.get_or_insert((id, at));
                        movers.contacts.push(id);
                    }
                    Side::Untold => return Ok(None),
                },
                ElementKind::Stage if !held => {
                    if let Owner::Module(module, ..) = e.owner
                        && self.never_alive(module)?
                    {
                        return Ok(None);
                    }
                    movers.driven = true;
                    movers.contacts.push(id);
                }
                _ => {}
            }
        }
        // A relay that never pulls in is a finding of its own.
        let dead = self.hold_dead_relays()?;
        let is_dead = |id: &ElementId| dead.iter().any(|c| matches!(c, Change::Stuck(e, _) if e == id));
        if movers.contacts.iter().any(is_dead) {
            return Ok(None);
        }
        if !held {
            let sensors = self.devices_on(&near).into_iter().flat_map(|device| self.sensors_of(device));
            movers.sensors =
                sensors.filter(|s| self.sensor_pins(s).iter().any(|&pin| near.has(pin))).collect();
        }
        let any = !movers.contacts.is_empty() || !movers.sensors.is_empty();
        Ok(any.then_some(movers))
    }

    /// What wires join to an input, also through resistors and diodes in line, up to what a supply or ground holds and to what
    /// feeds its module.
    fn through_resistors(&self, input: &Input<'_>) -> Flood {
        let module = self.circuit.modules.get(input.module.index());
        let feeds = module.into_iter().flat_map(|m| m.feeds.iter().filter_map(|&at| cavity(m, at)));
        let feeds: Vec<PointId> = feeds.map(|c| c.outside).collect();
        let fed = self.graph().flood(&feeds, |e, _| is_wiring(e.kind));
        let firm = |p: PointId| {
            self.ground_net().has(p)
                || fed.has(p)
                || matches!(self.circuit.points.get(p.index()).map(|p| p.kind), Some(PointKind::Supply(_)))
        };
        self.graph().flood(&[input.cavity.outside], |e, step| {
            let outside = !matches!(e.owner, Owner::Module(..));
            let line = matches!(e.kind, ElementKind::Resistor | ElementKind::Diode) && outside;
            (is_wiring(e.kind) || line) && !firm(step.to)
        })
    }

    fn side(&self, contact: ElementId, far: PointId) -> Side {
        let circuit = self.circuit;
        let reach = self.graph().flood(&[far], |e, step| is_continuity(e) && step.element != contact);
        let kind = |p: &PointId| circuit.points.get(p.index()).map(|p| p.kind);
        let source = |e: &&Element| e.kind.is_source() && reach.has(e.to);
        // Another input, and its pull, is no end: its own switch may lead there.
        let acts = |role: &Role| !matches!(role, Role::Senses { .. });
        let loaded = |&p: &PointId| self.graph().steps(p).iter().any(|s| self.is_load(s.element));
        if reach.has(COMMON)
            || self.cavities_on(&reach).iter().any(|(.., c)| acts(&c.role))
            || circuit.elements.iter().any(|e| source(&e))
            || reach.order.iter().any(loaded)
        {
            return Side::Somewhere;
        }
        let leaves = circuit.branches.iter().any(|b| reach.has(b.point));
        let open = |p: &PointId| match kind(p) {
            Some(PointKind::Pin(d, _)) => circuit
                .devices
                .get(d.index())
                .is_some_and(|d| d.pins.iter().any(|pin| pin.outside == *p && pin.landings.is_empty())),
            Some(PointKind::Splice(_)) => self.wire_ends(*p) < 3,
            // One side is all that is drawn.
            Some(PointKind::InlineSide(..)) => self.wire_ends(*p) == 0,
            _ => false,
        };
        if leaves || reach.order.iter().any(open) {
            return Side::Untold;
        }
        self.wired(far).order.iter().min().map_or(Side::Untold, |&lowest| Side::Nowhere(lowest))
    }

    fn is_load(&self, element: ElementId) -> bool {
        let pull = |kind| matches!(kind, ElementKind::PullUp | ElementKind::PullDown);
        self.circuit.elements.get(element.index()).is_some_and(|e| e.kind.is_load() && !pull(e.kind))
    }

    fn wire_ends(&self, point: PointId) -> usize {
        let wire = |e: ElementId| {
            self.circuit.elements.get(e.index()).is_some_and(|e| {
                matches!(e.kind, ElementKind::Wire | ElementKind::Fuse(_) | ElementKind::Tie)
            })
        };
        self.graph().steps(point).iter().filter(|step| wire(step.element)).count()
    }
}
