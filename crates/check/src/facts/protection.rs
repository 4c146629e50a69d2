//! Batteries, fuses, and what lies before and behind them.

use super::{
    Facts,
    closing::Need,
    graph::{Flood, Step, is_continuity, is_wiring},
};
use keyon_circuit::{
    hash::{Map, Set},
    ids::*,
    model::{COMMON, Element, ElementKind, Law, Loc, Owner, Supply, When},
};
use smol_str::SmolStr;
use std::collections::{BTreeSet, VecDeque};

/// Ways that are followed from a fuse before all are taken for one.
const WAYS: usize = 5_000;

/// A stretch of wire with a gauge.
#[derive(Clone, Copy, Debug)]
pub struct Gauged {
    #[allow(missing_docs)]
    pub element: ElementId,
    /// mm².
    pub area: f64,
    /// Amps that it carries.
    pub carries: f64,
}

/// A device or a module that a battery feeds without a fuse.
#[derive(Clone, Debug)]
pub struct Unfused {
    #[allow(missing_docs)]
    pub loc: Loc,
    #[allow(missing_docs)]
    pub name: SmolStr,
    /// From the battery on.
    pub path: Vec<ElementId>,
}

impl Facts<'_> {
    /// Supplies that can burn a wire: those without a current limit of their own.
    pub fn batteries(&self) -> impl Iterator<Item = &Supply> {
        self.circuit.supplies.iter().filter(|supply| {
            let element = self.circuit.elements.get(supply.element.index());
            element.is_some_and(|e| matches!(e.law, Law::Source { limit: None, .. }))
        })
    }

    /// Everything that a supply's terminal reaches before the first fuse, load or driver stage, in any state.
    pub fn before_fuses(&self, supply: &Supply) -> Flood {
        self.graph().flood(&[supply.point], |e, step| {
            let diode = e.kind == ElementKind::Diode && !step.forward;
            is_continuity(e)
                && !diode
                && !matches!(e.kind, ElementKind::Fuse(_) | ElementKind::Stage)
                && !self.ground_net().has(step.to)
        })
    }

    /// What hangs on a supply with no fuse on the way, each device and module once. Starters are left out.
    pub fn unfused(&self, supply: &Supply) -> Vec<Unfused> {
        let circuit = self.circuit;
        let reach = self.before_fuses(supply);
        let mut bare: Vec<Unfused> = Vec::new();
        let mut add = |loc: Loc, name: &SmolStr, end: PointId| {
            if bare.iter().all(|known| known.loc != loc) {
                bare.push(Unfused { loc, name: name.clone(), path: reach.path(end) });
            }
        };
        for e in circuit.elements.iter().filter(|e| e.kind.is_load()) {
            let Owner::Device(id) = e.owner else { continue };
            let Some(device) = circuit.devices.get(id.index()) else { continue };
            let Some(end) = [e.from, e.to].into_iter().find(|&end| reach.has(end)) else { continue };
            // In a short circuit that is not fused everything is unfused: the short is the finding.
            let shorted = reach.has(e.from) && reach.has(e.to) && reach.has(COMMON);
            if !shorted && !self.is_starter(id) && !self.feeds_a_starter(id, &reach.path(end)) {
                add(device.loc, &device.name, end);
            }
        }
        for module in &circuit.modules {
            let feeds = module.feeds.iter().filter_map(|&at| super::modules::cavity(module, at));
            for feed in feeds.filter(|feed| reach.has(feed.inside)) {
                add(module.loc, &module.name, feed.outside);
            }
        }
        bare
    }

    /// Amps that a load draws at its rated or at this voltage, turning.
    pub fn rated_amps(&self, element: &Element, volts: f64) -> Option<f64> {
        Some(match &element.law {
            Law::Rated { watts, volts, .. } => watts.nominal / volts.nominal,
            Law::Winding { runs: Some(runs), .. } => runs.nominal,
            Law::Winding { ohms, .. } | Law::Coil { ohms, .. } | Law::Resistance(ohms) => {
                volts / ohms.nominal
            }
            _ => return None,
        })
    }

    /// Whether a device is a starter (or another load of that size), whose cable is laid without a fuse.
    pub fn is_starter(&self, device: DeviceId) -> bool {
        let volts = self.circuit.supplies.iter().map(|s| s.volts.nominal).fold(0.0, f64::max);
        let Some(device) = self.circuit.devices.get(device.index()) else { return false };
        device.elements.iter().filter_map(|e| self.circuit.elements.get(e.index())).any(|e| {
            let heavy = matches!(e.kind, ElementKind::Winding | ElementKind::Heater);
            heavy && self.rated_amps(e, volts).is_some_and(|amps| amps >= self.settings.starter)
        })
    }

    /// Whether a device hangs on a path only by a contact of its own that switches a starter: a pull-in winding that the closed
    /// contact bridges.
    fn feeds_a_starter(&self, device: DeviceId, path: &[ElementId]) -> bool {
        let element = |e: &ElementId| self.circuit.elements.get(e.index());
        let own = |e: &&Element| e.kind == ElementKind::Contact && e.owner == Owner::Device(device);
        let Some(contact) = path.iter().rev().filter_map(element).find(own) else { return false };
        let behind = self.graph().flood(&[contact.from, contact.to], |e, _| is_wiring(e.kind));
        let heavy = |d: &DeviceId| self.is_starter(*d) && *d != device;
        let starters = (0..self.circuit.devices.len()).map(DeviceId::from).filter(heavy);
        starters
            .filter_map(|d| self.circuit.devices.get(d.index()))
            .any(|starter| starter.pins.iter().any(|pin| behind.has(pin.outside)))
    }

    /// Whether a supply is a generator that charges a battery: higher, and within the battery's range.
    pub fn charges(&self, generator: &Supply, battery: &Supply) -> bool {
        let volts = generator.volts.nominal;
        // Without a range a battery takes what is usual for its kind: up to 1.25 times its volts (12.6 V: 15.75 V; common
        // practice, no source).
        let (low, high) = battery.range.unwrap_or((0.0, 1.25 * battery.volts.nominal));
        generator.element != battery.element && volts > battery.volts.nominal && low <= volts && volts <= high
    }

    /// The ends of a fuse from which current leaves it: those whose other end a supply reaches without it. As it is
    /// written, where no supply reaches either.
    pub fn far_ends(&self, fuse: ElementId) -> Vec<PointId> {
        let Some(e) = self.circuit.elements.get(fuse.index()) else { return Vec::new() };
        let ends = [(e.from, e.to), (e.to, e.from)];
        let far: Vec<PointId> =
            ends.iter().filter(|(near, _)| self.fed_without(*near, fuse)).map(|(_, far)| *far).collect();
        if far.is_empty() { vec![e.to] } else { far }
    }

    /// Everything that supplies reach without a load, in any state.
    fn fed_wiring(&self) -> &Flood {
        self.fed_wiring.get_or_init(|| {
            let starts: Vec<PointId> = self.circuit.supplies.iter().map(|s| s.point).collect();
            self.graph().flood(&starts, |e, step| self.feeds(e, step))
        })
    }

    /// Whether a supply's current may take this step.
    fn feeds(&self, e: &Element, step: Step) -> bool {
        let diode = e.kind == ElementKind::Diode && !step.forward;
        is_continuity(e) && !diode && !self.ground_net().has(step.to)
    }

    /// Whether a supply reaches a point also without this element. One walk over all the wiring tells of most points; only
    /// what that walk reached through the element is asked again, backwards and no further than up to what it reached
    /// otherwise.
    fn fed_without(&self, point: PointId, without: ElementId) -> bool {
        let all = self.fed_wiring();
        if !all.has(point) {
            return false;
        }
        let mut seen: BTreeSet<PointId> = BTreeSet::new();
        let mut open = vec![point];
        while let Some(at) = open.pop() {
            if !seen.insert(at) {
                continue;
            }
            if !all.path(at).contains(&without) {
                return true;
            }
            for &step in self.graph().steps(at).iter().filter(|step| step.element != without) {
                let Some(e) = self.circuit.elements.get(step.element.index()) else { continue };
                let back = Step { element: step.element, to: at, forward: !step.forward };
                if all.has(step.to) && step.to != COMMON && self.feeds(e, back) {
                    open.push(step.to);
                }
            }
        }
        false
    }

    /// What lies behind a fuse (decision 33): up to the next fuse, to loads, to supplies, and to driver stages, unless a
    /// stage's limit is above what the wire behind it carries.
    pub fn behind(&self, fuse: ElementId) -> Flood {
        let supply = |p: PointId| self.circuit.supplies.iter().any(|s| s.point == p);
        let mut starts = self.far_ends(fuse);
        starts.retain(|&p| !supply(p));
        let passes = |e: &Element, step: Step| {
            let diode = e.kind == ElementKind::Diode && !step.forward;
            let stage = e.kind == ElementKind::Stage && !self.lets_through(e);
            let ground = matches!(e.kind, ElementKind::Ground | ElementKind::Return);
            is_continuity(e)
                && !diode
                && !stage
                && !ground
                && !matches!(e.kind, ElementKind::Fuse(_))
                && !supply(step.to)
                && !self.ground_net().has(step.to)
        };
        let all = self.graph().flood(&starts, passes);
        let switched = all.order.iter().flat_map(|&p| self.graph().steps(p)).filter(|step| {
            let when = self.circuit.elements.get(step.element.index()).map(|e| e.when);
            matches!(when, Some(When::In { .. } | When::Energised { .. }))
        });
        // Each is walked from both its ends: one contact alone is no choice of ways.
        if switched.take(4).count() < 4 {
            return all;
        }
        match self.reached_at_once(&starts, passes) {
            Some(reached) => {
                self.graph().flood(&starts, |e, step| passes(e, step) && reached.contains(&step.to))
            }
            None => all,
        }
    }

    /// What a walk reaches by ways that some state closes: the two throws of a changeover are never one way. `None` where there are
    /// too many ways.
    fn reached_at_once(
        &self,
        starts: &[PointId],
        passes: impl Fn(&Element, Step) -> bool,
    ) -> Option<Set<PointId>> {
        let mut ways: Map<PointId, Vec<Need>> = Map::default();
        let mut open: VecDeque<(PointId, Need)> = VecDeque::new();
        for &start in starts {
            ways.insert(start, vec![Need::default()]);
            open.push_back((start, Need::default()));
        }
        let mut count = 0;
        while let Some((at, need)) = open.pop_front() {
            count += 1;
            if count > WAYS {
                return None;
            }
            for &step in self.graph().steps(at) {
                let Some(e) = self.circuit.elements.get(step.element.index()) else { continue };
                if !passes(e, step) {
                    continue;
                }
                let Some(need) = need.with(step.element, e.when) else { continue };
                let known = ways.entry(step.to).or_default();
                if known.iter().any(|way| way.within(&need)) {
                    continue;
                }
                known.push(need.clone());
                open.push_back((step.to, need));
            }
        }
        Some(ways.into_keys().collect())
    }

    /// Whether a stage gives more than some wire at its pin carries. A stage without a described limit is not known to.
    fn lets_through(&self, stage: &Element) -> bool {
        let Owner::Module(m, c, k) = stage.owner else { return false };
        let Some(cavity) = self.circuit.cavity(m, c, k) else { return false };
        let Some(limit) = cavity.limit else { return false };
        let thinnest = cavity.landings.iter().filter_map(|&wire| Some(self.gauged(wire)?.carries));
        thinnest.fold(f64::INFINITY, f64::min) < limit.nominal
    }

    /// A stretch of wire whose gauge is given.
    pub fn gauged(&self, element: ElementId) -> Option<Gauged> {
        let Owner::Wire(wire) = self.circuit.elements.get(element.index())?.owner else { return None };
        let wire = self.circuit.wires.get(wire.index())?;
        let area = wire.stretches.iter().find(|s| s.element == element)?.area?;
        Some(Gauged { element, area, carries: self.settings.ampacity(area)? })
    }

    /// Metres of a stretch of wire; 0 where none are given.
    pub fn metres(&self, element: ElementId) -> f64 {
        let Some(Owner::Wire(wire)) = self.circuit.elements.get(element.index()).map(|e| e.owner) else {
            return 0.0;
        };
        let stretches = self.circuit.wires.get(wire.index()).map_or(&[][..], |w| &w.stretches);
        let stretch = stretches.iter().find(|s| s.element == element);
        stretch.and_then(|s| s.length).map_or(0.0, |length| length.nominal)
    }
}
