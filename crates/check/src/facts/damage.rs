//! What hangs on something that could not be read or resolved: one cause gives one finding (decision 31).

use super::{Facts, Flood, graph::is_continuity, graph::is_wiring};
use keyon_circuit::{
    Entity,
    hash::Set,
    ids::*,
    model::{COMMON, ElementKind, Law, Loc, PointKind, Role, When},
};
use keyon_syntax::tree::ItemKind;

impl Facts<'_> {
    /// Whether a point hangs on something that could not be read or resolved, so that what is missing there is no
    /// finding of its own (decision 31).
    pub fn held(&self, point: PointId) -> bool {
        self.held.get_or_init(|| self.flood_of_damage()).has(point)
    }

    /// All such points, if anything could not be read: for who looks at pieces of the circuit.
    pub(crate) fn held_by_damage(&self) -> Vec<PointId> {
        if self.damaged().is_empty() {
            return Vec::new();
        }
        let mut held = self.held.get_or_init(|| self.flood_of_damage()).order.clone();
        held.sort_unstable();
        held
    }

    /// Whether what a point reads may be otherwise because of something that could not be read or resolved. That goes
    /// through loads, through a module that loses its feed or ground, and through a relay that loses its coil, up to
    /// what a supply or ground holds by wiring alone.
    pub fn doubtful(&self, point: PointId) -> bool {
        self.doubtful.get_or_init(|| self.flood_of_doubt()).has(point)
    }

    /// Whether a line that was not read to its end names a point: what is missing there may be that line's.
    pub fn named_by_damage(&self, point: PointId) -> bool {
        self.circuit.beside.contains(&point)
    }

    /// Whether a diode or a resistor of which an end was not read names what wires join to a point.
    pub fn small_part_may_lead_to(&self, point: PointId) -> bool {
        // Asked of every coil, and mostly nothing was left unread: the items are looked through where it matters.
        let beside = &self.circuit.beside;
        if beside.is_empty() || !beside.iter().any(|&named| self.joined_by_wires().joins(named, point)) {
            return false;
        }
        let items = self.elaboration.files.first().map_or(&[][..], |file| &file.parse.file.items);
        items.iter().filter(|placed| placed.item.damaged).any(|placed| match &placed.item.kind {
            ItemKind::Element(e) => e.path.is_none() && matches!(&*e.keyword.text, "diode" | "resistor"),
            _ => false,
        })
    }

    /// Whether damage may feed or ground a point in some state, also where something else does in another.
    pub fn hangs_on_damage(&self, point: PointId) -> bool {
        let flood = self.near_damage.get_or_init(|| {
            let starts: Vec<PointId> = self.damaged().iter().copied().filter(|&p| !self.fixed(p)).collect();
            self.graph().flood(&starts, |element, step| is_continuity(element) && !self.fixed(step.to))
        });
        flood.has(point)
    }

    /// Whether there is any such point.
    pub fn anything_doubtful(&self) -> bool {
        !self.doubtful.get_or_init(|| self.flood_of_doubt()).order.is_empty()
    }

    /// The points at the damage itself.
    pub(crate) fn damaged(&self) -> &[PointId] {
        self.damaged.get_or_init(|| self.find_damage())
    }

    fn find_damage(&self) -> Vec<PointId> {
        let mut starts = self.circuit.tainted.clone();
        // The point that was meant, where a name has one near it, misses what was to land there.
        for problem in self.elaboration.problems.iter().filter(|p| p.rule == "unknown-name") {
            for (_, text) in problem.fix.iter().flat_map(|fix| &fix.edits) {
                let meant = self.circuit.lookup(text).into_iter().find_map(|e| self.circuit.point_of(e));
                starts.extend(meant);
            }
            starts.extend(self.pins_left_out(problem.loc));
        }
        starts.extend(self.waiting());
        starts.extend(self.missed_by_lost_ends());
        starts
    }

    /// Where a device is named and one of its pins is meant, as while `lamp.1` is being typed: those that nothing reaches.
    fn pins_left_out(&self, loc: Loc) -> Vec<PointId> {
        let file = self.elaboration.files.get(loc.file.index());
        let text = file.and_then(|file| file.text.get(self.elaboration.span(loc).range()));
        let found = text.map(|text| self.circuit.lookup(text)).unwrap_or_default();
        let device = found.into_iter().find_map(|entity| match entity {
            Entity::Device(device) => self.circuit.devices.get(device.index()),
            _ => None,
        });
        let pins = device.into_iter().flat_map(|device| &device.pins);
        pins.filter(|pin| pin.landings.is_empty() && pin.unused.is_none()).map(|pin| pin.outside).collect()
    }

    /// Points beside what is not known: but only what neither supply nor ground reaches in any state. One more wire to what has its
    /// potential already changes nothing there. (What no wire reaches at all is damaged anyway.)
    fn waiting(&self) -> Vec<PointId> {
        let circuit = self.circuit;
        if circuit.beside.is_empty() {
            return Vec::new();
        }
        let powered = self.powered(&Set::default(), false);
        circuit.beside.iter().copied().filter(|p| !powered.contains(p)).collect()
    }

    /// What supplies and grounds hold in some state without passing these points. `drivers`: also through the stages of modules; a
    /// driver's wire is there for what it leads to, so that what it holds is no less in doubt.
    pub(super) fn powered(&self, without: &Set<PointId>, drivers: bool) -> Set<PointId> {
        let supplies: Vec<PointId> = self.circuit.supplies.iter().map(|s| s.point).collect();
        let held = |starts: &[PointId], down: bool| {
            self.graph().flood(starts, |e, step| {
                let blocks = e.kind == ElementKind::Diode && step.forward != down;
                // Two throws of one contact lead from ground to a supply, and never at once.
                let kind = self.circuit.points.get(step.to.index()).map(|p| p.kind);
                let past = match kind {
                    Some(PointKind::Supply(_)) => !down,
                    Some(PointKind::Common | PointKind::Ground(_)) => down,
                    // Nor do those of a stage.
                    Some(PointKind::CavityInside(m, c, k)) => match self.circuit.cavity(m, c, k) {
                        Some(cavity) if step.element != cavity.terminal => {
                            cavity.role == if down { Role::Ground } else { Role::Feed }
                        }
                        _ => false,
                    },
                    _ => false,
                };
                let stage = e.kind == ElementKind::Stage && !drivers;
                is_continuity(e) && !blocks && !stage && !past && !without.contains(&step.to)
            })
        };
        let (down, up) = (held(&supplies, true), held(&[COMMON], false));
        down.order.into_iter().chain(up.order).collect()
    }

    /// Whether a wire of which an end was not read may be the one that is missing somewhere: then what no wire holds back by itself
    /// is no finding anywhere.
    pub(crate) fn may_miss_a_wire(&self) -> bool {
        self.circuit.lost_end && !self.damaged().is_empty()
    }

    /// Supplies, grounds and the common ground: a name that was misspelt elsewhere leaves them in order.
    fn fixed(&self, point: PointId) -> bool {
        let kind = self.circuit.points.get(point.index()).map(|p| p.kind);
        matches!(kind, Some(PointKind::Common | PointKind::Ground(_) | PointKind::Supply(_)))
    }

    fn flood_of_damage(&self) -> Flood {
        let mut starts = self.damaged().to_vec();
        // A branch that leaves the page without a load may bring or take anything, unless it is clear which.
        let branches = self.circuit.branches.iter().filter(|b| b.element.is_none());
        starts.extend(
            branches
                .map(|b| b.point)
                .filter(|&p| !self.fed_somehow().has(p) && !self.grounded_somehow().has(p)),
        );
        // What a bus carries is its own affair.
        for module in &self.circuit.modules {
            for cavity in module.connectors.iter().flat_map(|c| &c.cavities) {
                if matches!(cavity.role, Role::Bus { .. }) {
                    starts.extend([cavity.outside, cavity.inside]);
                }
            }
        }
        starts.retain(|&p| !self.fixed(p));
        // What has its feed or its ground without passing the damage stays as it is.
        let damage: Set<PointId> = self.damaged().iter().copied().collect();
        let powered = self.powered(&damage, false);
        self.graph().flood(&starts, |element, step| {
            is_continuity(element)
                && element.kind != ElementKind::Ground
                && !self.fixed(step.to)
                && !powered.contains(&step.to)
        })
    }

    fn flood_of_doubt(&self) -> Flood {
        let circuit = self.circuit;
        let mut starts = self.damaged().to_vec();
        starts.retain(|&p| !self.fixed(p));
        let supplies: Vec<PointId> =
            circuit.elements.iter().filter(|e| e.kind == ElementKind::Supply).map(|e| e.to).collect();
        let wired = self.graph().flood(&supplies, |e, _| is_wiring(e.kind) && e.kind != ElementKind::Ground);
        let firm = |p: PointId| (wired.has(p) || self.ground_net().has(p)) && !self.held(p);
        loop {
            let flood = self.graph().flood(&starts, |element, step| {
                element.when != When::Never
                    && !element.kind.is_source()
                    && !self.fixed(step.to)
                    && !firm(step.to)
            });
            let known = starts.len();
            for module in &circuit.modules {
                let cavities = || module.connectors.iter().flat_map(|c| &c.cavities);
                let power = module.feeds.iter().chain(&module.grounds);
                let power = power.filter_map(|&(c, k)| module.connectors.get(c)?.cavities.get(k));
                if power.into_iter().any(|cavity| flood.has(cavity.inside)) {
                    starts.extend(cavities().map(|c| c.inside).filter(|&p| !flood.has(p)));
                }
            }
            for element in &circuit.elements {
                if let Law::Transducer { feed, .. } = element.law
                    && flood.has(feed)
                    && !flood.has(element.to)
                    && !firm(element.to)
                {
                    starts.push(element.to);
                }
                let When::Energised { coil, .. } = element.when else { continue };
                let coil = circuit.elements.get(coil.index());
                if coil.is_some_and(|coil| flood.has(coil.from) || flood.has(coil.to)) {
                    starts.extend(
                        [element.from, element.to].into_iter().filter(|&p| !flood.has(p) && !firm(p)),
                    );
                }
            }
            if starts.len() == known {
                return flood;
            }
        }
    }
}
