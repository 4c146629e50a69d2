//! Diodes that stand in a path the wrong way round.

use super::{
    Facts,
    graph::{Flood, is_continuity, is_wiring},
    modules::Life,
    paths::{Missing, node, works},
};
use keyon_circuit::{
    ids::*,
    model::{COMMON, Cavity, Change, Element, ElementKind, Owner, PointKind, Role},
};
use keyon_solve::{Cancelled, NodeState, Solution, State, Survey, solve};

/// Amps from which a diode carries something: what changes the reading of an input counts, and pulls are of some kilohms up.
const TRACE: f64 = 1e-6;
/// Amps from which a load gets something.
const SOME: f64 = 1e-3;
/// Amps from which a mere resistor is a load that somebody drew for a device: less is a pull, a divider, a bleeder. Our own limit.
const DEVICE: f64 = 10e-3;
/// Cases that are looked at of each way to open a fuse.
const CASES: usize = 64;

/// A diode that carries nothing, whatever is done, and would feed something if it were turned round.
#[derive(Clone, Debug)]
pub struct Blocked {
    #[allow(missing_docs)]
    pub diode: ElementId,
    /// What would then get current.
    pub load: ElementId,
    /// In a state with this fuse blown; in one with all of them whole, where there is none.
    pub fuse: Option<ElementId>,
    /// It carries something, but the wrong way: this one, by which alone it is fed, has nothing to block.
    pub beside: Option<ElementId>,
}

impl Facts<'_> {
    /// Diodes in series in a path that carry nothing in any state, also with any one fuse open or any one supply off, and that
    /// would, turned round, feed a load without joining two potentials. Not looked at: diodes across a load or across what
    /// switches it, those from a driver's output to a supply, and those of which an end lies on ground, all of which wait for a
    /// spike; and those by which two potentials are joined. Where the load has no other path, that is what is told.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn blocked_diodes(&self) -> Result<&[Blocked], Cancelled> {
        if let Some(known) = self.blocked.get() {
            return Ok(known);
        }
        let mut blocked = Vec::new();
        for (i, e) in self.circuit.elements.iter().enumerate() {
            let clamp = |p: PointId| p == COMMON || self.ground_net().has(p);
            if e.kind == ElementKind::Diode
                && !clamp(e.from)
                && !clamp(e.to)
                && !self.doubtful(e.from)
                && !self.doubtful(e.to)
                && !self.is_shunt(e)
                && !self.waits_for_a_spike(e)
            {
                if self.may_be_turned(i.into(), e) {
                    blocked.extend(self.blocked(i.into(), e)?);
                }
                if blocked.last().is_none_or(|b: &Blocked| b.diode != i.into()) {
                    blocked.extend(self.passed_on(i.into(), e)?);
                }
            }
        }
        Ok(self.blocked.get_or_init(|| blocked))
    }

    /// Whether a diode lies across a load by wires alone.
    pub(super) fn is_shunt(&self, diode: &Element) -> bool {
        let joined = self.joined_by_wires();
        self.circuit.elements.iter().filter(|e| e.kind.is_load()).any(|e| {
            (joined.joins(e.from, diode.from) && joined.joins(e.to, diode.to))
                || (joined.joins(e.from, diode.to) && joined.joins(e.to, diode.from))
        })
    }

    /// Whether a diode lies across contacts and stages, or leads from a driver's output to a supply: it conducts for the moment
    /// in which what is switched off drives on.
    fn waits_for_a_spike(&self, diode: &Element) -> bool {
        let switched = self.graph().flood(&[diode.from], |e, step| {
            let switches = matches!(e.kind, ElementKind::Contact | ElementKind::Stage);
            (is_wiring(e.kind) || switches) && is_continuity(e) && step.to != COMMON
        });
        let supply = |p: &PointId| {
            matches!(self.circuit.points.get(p.index()).map(|p| p.kind), Some(PointKind::Supply(_)))
        };
        let drives = |(_, _, cavity): &(ModuleId, (usize, usize), &Cavity)| {
            matches!(cavity.role, Role::Drives(_) | Role::Switches)
        };
        switched.has(diode.to)
            || (self.wired(diode.to).order.iter().any(supply)
                && self.cavities_on(&self.wired(diode.from)).iter().any(drives))
    }

    /// Whether a supply reaches a diode's bar, or its other end reaches ground, without the diode: what stands the right way round in
    /// the only path of something has neither.
    fn may_be_turned(&self, diode: ElementId, e: &Element) -> bool {
        self.reached_without(diode, &self.source_points(), true).has(e.to)
            || self.reached_without(diode, &[COMMON], false).has(e.from)
    }

    /// What current reaches in some state without a diode: `down` with it, else against it.
    pub(super) fn reached_without(&self, diode: ElementId, starts: &[PointId], down: bool) -> Flood {
        self.graph().flood(starts, |e, step| {
            let against = e.kind == ElementKind::Diode && step.forward != down;
            is_continuity(e) && !against && step.element != diode
        })
    }

    fn blocked(&self, diode: ElementId, e: &Element) -> Result<Option<Blocked>, Cancelled> {
        let base = self.mend(self.base())?;
        let carries = |s: &Solution| {
            s.amps.get(diode.index()).is_some_and(|a| a.known().is_none_or(|amps| amps.abs() > TRACE))
        };
        // Two potentials that meet in it are told as that.
        if self.shorts()?.iter().any(|short| short.blame == diode || short.path.contains(&diode)) {
            return Ok(None);
        }
        let opened = |element: ElementId| {
            let mut state = base.clone();
            state.changes.push(Change::Open(element));
            state
        };
        let ever = |base: &State| -> Result<bool, Cancelled> {
            let cases = Survey::new(self.circuit, base).cases_of_element(diode, CASES, self.cancel)?;
            Ok(cases.cut.is_some() || cases.cases.iter().any(|case| carries(&case.solution)))
        };
        // Most that conduct carry something, and that is soon seen.
        let conducts = self.cases_of(&[], &[diode])?;
        if conducts.cut.is_some()
            || conducts.cases.iter().any(|case| carries(&case.solution))
            || self.is_told_of(e)?
            || ever(&base)?
        {
            return Ok(None);
        }
        let fuses = self.circuit.fuses.iter().map(|f| f.element);
        let supplies = self.circuit.supplies.iter().map(|s| s.element);
        for element in fuses.clone().chain(supplies) {
            if ever(&opened(element))? {
                return Ok(None);
            }
        }
        // As stated first, then with each fuse blown: one of two feeds may hide the other.
        let ways = std::iter::once(None).chain(fuses.map(Some));
        let mut found = None;
        for fuse in ways {
            let state = fuse.map_or_else(|| base.clone(), opened);
            match self.turned(diode, e, &state)? {
                Turned::Clash => return Ok(None),
                Turned::Feeds(load) if found.is_none() => {
                    found = Some(Blocked { diode, load, fuse, beside: None })
                }
                _ => {}
            }
        }
        Ok(found)
    }

    /// What a diode would do if it lay the other way round.
    pub(super) fn turned(&self, diode: ElementId, e: &Element, base: &State) -> Result<Turned, Cancelled> {
        let circuit = self.circuit;
        let mut turned = base.clone();
        turned.changes.push(Change::Open(diode));
        turned.changes.push(Change::Add { from: e.to, to: e.from, law: e.law.clone() });
        let cases = Survey::new(circuit, &turned).cases_of_point(e.from, CASES, self.cancel)?;
        if cases.cut.is_some() {
            return Ok(Turned::Clash);
        }
        let mut feeds = Turned::Nothing;
        for case in &cases.cases {
            let with = &case.solution;
            let clash = |p| matches!(node(with, p), NodeState::Clash | NodeState::Chatters);
            if clash(e.from) || clash(e.to) {
                return Ok(Turned::Clash);
            }
            let drawn = solve(circuit, &State { changes: base.changes.clone(), ..with.state.clone() });
            let amps = |s: &Solution, i: usize| s.amps.get(i).and_then(|a| a.known()).unwrap_or(0.0).abs();
            let mut elements = circuit.elements.iter().enumerate();
            let more = elements.find(|(i, load)| {
                let enough = match load.kind {
                    ElementKind::Resistor if self.is_a_device(load) => DEVICE,
                    kind if works(kind) || kind == ElementKind::Draw => SOME,
                    _ => return false,
                };
                amps(with, *i) > enough && amps(with, *i) > 2.0 * amps(&drawn, *i)
            });
            if let (Some((i, _)), Turned::Nothing) = (more, &feeds) {
                feeds = Turned::Feeds(i.into());
            }
        }
        Ok(feeds)
    }

    /// Whether a resistor stands for a device: it is wired to ground and no input reads what it carries.
    fn is_a_device(&self, resistor: &Element) -> bool {
        let ends = [resistor.from, resistor.to].map(|p| self.wired(p));
        let senses =
            |(_, _, cavity): &(ModuleId, (usize, usize), &Cavity)| matches!(cavity.role, Role::Senses { .. });
        ends.iter().any(|end| end.has(COMMON))
            && !ends.iter().any(|end| self.cavities_on(end).iter().any(senses))
    }

    /// Whether something that a diode leads to lacks its feed or its return, or cannot be judged: then that is the finding.
    fn is_told_of(&self, diode: &Element) -> Result<bool, Cancelled> {
        let circuit = self.circuit;
        let reach = self.graph().flood(&[diode.from, diode.to], |e, _| is_continuity(e));
        for (d, device) in circuit.devices.iter().enumerate() {
            let mut loads = device.elements.iter().filter_map(|e| circuit.elements.get(e.index()));
            if !loads.any(|e| e.kind.is_load() && (reach.has(e.from) || reach.has(e.to))) {
                continue;
            }
            match self.device_paths(d.into())? {
                Some(paths) if paths.loads.iter().all(|l| l.missing() == Missing::Nothing) => {}
                _ => return Ok(true),
            }
        }
        for m in 0..circuit.modules.len() {
            let id = ModuleId::from(m);
            if self.life_points(id).iter().any(|&p| reach.has(p)) && self.life(id)? != Life::Lives {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// The diode that stands against the current on the way from a supply (or, for a return, to ground) to a point that no
    /// current reaches, if one does.
    pub fn diode_against(&self, point: PointId, feed: bool) -> Option<ElementId> {
        let circuit = self.circuit;
        let starts: Vec<PointId> =
            if feed { circuit.supplies.iter().map(|s| s.point).collect() } else { vec![COMMON] };
        let supply = |p: PointId| {
            circuit.points.get(p.index()).is_some_and(|p| matches!(p.kind, PointKind::Supply(_)))
        };
        let reach = self.graph().flood(&starts, |e, step| {
            let own = !matches!(e.owner, Owner::Module(..)) || e.kind != ElementKind::Diode;
            let past = if feed { self.ground_net().has(step.to) } else { supply(step.to) };
            let shunt = e.kind == ElementKind::Diode && self.is_shunt(e);
            is_continuity(e) && own && !past && !shunt
        });
        let mut at = point;
        let mut against = None;
        for &id in reach.path(point).iter().rev() {
            let e = circuit.elements.get(id.index())?;
            // The walk went from `before` to `at`; current was to go that way for a feed, the other way for a return.
            let forward = e.to == at;
            if e.kind == ElementKind::Diode && forward != feed {
                against = Some(id);
            }
            at = if forward { e.from } else { e.to };
        }
        against
    }
}

pub(super) enum Turned {
    /// It would join two potentials, or that cannot be told.
    Clash,
    Feeds(ElementId),
    Nothing,
}
