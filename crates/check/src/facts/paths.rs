//! What each end of each load hangs on, over all states of its device.

use super::{
    Facts,
    graph::{Step, is_wiring},
};
use keyon_circuit::{
    ids::*,
    model::{COMMON, Change, Element, ElementKind, Law, Owner, Role, When},
};
use keyon_solve::{Cancelled, Cases, DEFAULT_LIMIT, ElementState, NodeState, Solution, Survey, solve};
use std::{collections::BTreeMap, sync::Arc};

/// Volts across a load from which on it is between two potentials, and not between two ends of one that a diode joins.
const MUCH: f64 = 1.0;

/// What one end of a load reaches, the load itself left out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct End {
    /// A supply or a reference, with no load between.
    pub fed: bool,
    /// A supply or a reference, through other loads.
    pub fed_via: bool,
    /// Ground, with no load between.
    pub grounded: bool,
    /// Ground, through other loads.
    pub grounded_via: bool,
}

impl End {
    fn feeds(self) -> bool {
        self.fed || self.fed_via
    }
    fn returns(self) -> bool {
        self.grounded || self.grounded_via
    }
    fn add(&mut self, other: Self) {
        self.fed |= other.fed;
        self.fed_via |= other.fed_via;
        self.grounded |= other.grounded;
        self.grounded_via |= other.grounded_via;
    }
}

/// One load over all states.
#[derive(Clone, Debug)]
pub struct LoadPaths {
    #[allow(missing_docs)]
    pub element: ElementId,
    #[allow(missing_docs)]
    pub from: End,
    #[allow(missing_docs)]
    pub to: End,
    /// In some state one end has a feed and the other a return.
    pub complete: bool,
    /// Both its ends are on one wire: no current can flow through it, whatever else hangs there.
    pub bridged: bool,
    /// In some state an end of it lies in a short circuit.
    clashes: bool,
    /// It is complete in a state in which none does.
    clear: bool,
    /// What it does cannot be told: it is complete only in short circuits, or hangs on a relay that cannot settle.
    pub beyond: bool,
    /// The most it ever does.
    pub best: ElementState,
    /// The least.
    pub least: ElementState,
}

/// What a load lacks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Missing {
    /// Nothing.
    Nothing,
    /// Any feed; the end that lacks it (`true`: its `from`), where one is clear.
    Feed(Option<bool>),
    /// Any return, likewise.
    Return(Option<bool>),
    /// It has both, but never in one state.
    Together,
}

impl LoadPaths {
    /// What it lacks over all states.
    pub fn missing(&self) -> Missing {
        let (a, b) = (self.from, self.to);
        if self.complete {
            return Missing::Nothing;
        }
        if self.bridged {
            return if a.feeds() { Missing::Return(None) } else { Missing::Feed(None) };
        }
        if (a.feeds() && b.returns()) || (b.feeds() && a.returns()) {
            return Missing::Together;
        }
        let dead = |end: End| end == End::default();
        match (dead(a), dead(b)) {
            (true, true) => Missing::Feed(None),
            (true, false) => one_sided(b, true),
            (false, true) => one_sided(a, false),
            // Both ends hang on the same kind.
            (false, false) if a.feeds() => Missing::Return(None),
            (false, false) => Missing::Feed(None),
        }
    }
}

/// What the dead end lacks, from what the living one has: the stronger of its two kinds is what it was meant for.
fn one_sided(living: End, dead_is_from: bool) -> Missing {
    let feed = living.fed || (!living.grounded && living.fed_via);
    if feed { Missing::Return(Some(dead_is_from)) } else { Missing::Feed(Some(dead_is_from)) }
}

/// A device's loads over all states.
#[derive(Clone, Debug)]
pub struct DevicePaths {
    #[allow(missing_docs)]
    pub loads: Vec<LoadPaths>,
}

/// Loads that do something for whoever stands at the machine; resistors and sensors do not.
pub fn works(kind: ElementKind) -> bool {
    matches!(kind, ElementKind::Lamp | ElementKind::Heater | ElementKind::Coil | ElementKind::Winding)
}

/// Parts of a sensor.
pub fn senses(kind: ElementKind) -> bool {
    use ElementKind::*;
    matches!(kind, Thermistor | Track(_) | Variable | Transducer)
}

impl Facts<'_> {
    /// What the loads of a device hang on over all states. `None` where nothing can be said: it has no loads, what it
    /// hangs on is damaged or leaves the page, a dead module is the cause, or there are too many states to look at all.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn device_paths(&self, device: DeviceId) -> Result<Option<Arc<DevicePaths>>, Cancelled> {
        if let Some(known) = self.paths.borrow().get(&device) {
            return Ok(known.clone());
        }
        let paths = self.find_paths(device)?.map(Arc::new);
        self.paths.borrow_mut().insert(device, paths.clone());
        Ok(paths)
    }

    fn find_paths(&self, device: DeviceId) -> Result<Option<DevicePaths>, Cancelled> {
        let Some(d) = self.circuit.devices.get(device.index()) else { return Ok(None) };
        let elements = d.elements.iter().filter_map(|&id| Some((id, self.circuit.elements.get(id.index())?)));
        let loads: Vec<(ElementId, &Element)> = elements.filter(|(_, e)| e.kind.is_load()).collect();
        let held = |e: &Element| {
            // A transducer has a third end.
            let feed = matches!(&e.law, Law::Transducer { feed, .. } if self.held(*feed));
            feed || self.held(e.from) || self.held(e.to)
        };
        if loads.is_empty() || loads.iter().any(|(_, e)| held(e)) {
            return Ok(None);
        }
        let cases = self.device_cases(device)?;
        let shorted = self.shorted_cases(device)?;
        if cases.cut.is_some() || shorted.as_ref().is_some_and(|cases| cases.cut.is_some()) {
            return Ok(None);
        }
        let mut paths: Vec<LoadPaths> = Vec::new();
        for &(element, e) in &loads {
            let mut path = LoadPaths {
                element,
                from: End::default(),
                to: End::default(),
                complete: false,
                bridged: self.is_bridged(e)?,
                clashes: false,
                clear: false,
                beyond: false,
                best: ElementState::Rests,
                least: ElementState::Chatters,
            };
            for case in shorted.iter().chain([&*cases]).flat_map(|cases| &cases.cases) {
                self.look(&mut path, &case.solution, device, e);
            }
            path.complete &= !path.bridged;
            // What it does in a clash nobody knows; what it does in other states says enough, where there is any.
            path.beyond |= path.clashes && path.complete && !path.clear;
            if works(e.kind) && path.complete && !path.best.operates() && !path.beyond {
                path.beyond = self.feeds_what_is_not_drawn(&path, e)?;
                let works = || {
                    self.pulls_in(device, element, &cases) || self.works_at_an_end(device, element, &cases)
                };
                if !path.beyond && works() {
                    path.best = ElementState::Operates;
                }
            }
            paths.push(path);
        }
        // What a relay does not switch that never pulls in is that relay's finding.
        if paths.iter().any(|path| path.missing() != Missing::Nothing)
            && self.works_with_dead_relays_on(device, &loads, &paths)?
        {
            return Ok(None);
        }
        // What a dead module does not drive is that module's finding.
        for path in paths.iter().filter(|path| path.missing() != Missing::Nothing) {
            if let Some(e) = self.circuit.elements.get(path.element.index())
                && self.hangs_on_dead_module(e)?
            {
                return Ok(None);
            }
        }
        Ok(Some(DevicePaths { loads: paths }))
    }

    /// What one state adds to what is known of a load.
    /// Whether wiring joins both ends of a load; a fuse that bridges it is another matter.
    fn is_bridged(&self, load: &Element) -> Result<bool, Cancelled> {
        let wire = |kind| is_wiring(kind) && !matches!(kind, ElementKind::Fuse(_) | ElementKind::Ground);
        if !self.graph().flood(&[load.from], |along, _| wire(along.kind)).has(load.to) {
            return Ok(false);
        }
        // A wire that shorts the supply across it is told as that.
        let blamed: Vec<ElementId> = self.shorts()?.iter().map(|short| short.blame).collect();
        let sound = |along: &Element, step: Step| wire(along.kind) && !blamed.contains(&step.element);
        Ok(self.graph().flood(&[load.from], sound).has(load.to))
    }

    fn look(&self, path: &mut LoadPaths, solution: &Solution, device: DeviceId, e: &Element) {
        let element = path.element;
        let (from, to) = self.ends(solution, element, e);
        let state = state_of(solution, device, element);
        let is = |state| node(solution, e.from) == state || node(solution, e.to) == state;
        let complete = (from.feeds() && to.returns()) || (to.feeds() && from.returns());
        path.complete |= complete;
        path.clashes |= is(NodeState::Clash);
        path.clear |= complete && !is(NodeState::Clash);
        path.beyond |= is(NodeState::Chatters);
        // A reference at its limit gives everything on it too little: that is its finding.
        let referenced = |p: PointId| node(solution, p) == NodeState::Referenced;
        path.beyond |= (referenced(e.from) || referenced(e.to)) && self.folded(solution);
        path.complete |= path.beyond;
        // Between two supplies of a stack both ends are fed, and yet it works; two grounds differ by millivolts.
        let volts = |p: PointId| solution.unloaded.get(p.index()).copied().flatten();
        path.complete |= volts(e.from).zip(volts(e.to)).is_some_and(|(a, b)| (a - b).abs() > MUCH);
        // A sender at 0 ohm has no volts across it.
        let amps = solution.amps.get(element.index()).and_then(|a| a.known());
        path.complete |= senses(e.kind) && amps.is_some_and(|amps| amps.abs() > 1e-6);
        path.complete |= works(e.kind) && state >= ElementState::Weak;
        path.from.add(from);
        path.to.add(to);
        path.best = path.best.max(state);
        path.least = path.least.min(state);
    }

    /// Whether all that a device lacks is there once the relays that never pull in are held.
    fn works_with_dead_relays_on(
        &self,
        device: DeviceId,
        loads: &[(ElementId, &Element)],
        paths: &[LoadPaths],
    ) -> Result<bool, Cancelled> {
        let held = self.hold_dead_relays()?;
        if held.is_empty() {
            return Ok(false);
        }
        let mut base = self.mend(self.base())?;
        base.changes.extend(held.iter().cloned());
        let cases = Survey::new(self.circuit, &base).cases_of_device(device, DEFAULT_LIMIT, self.cancel)?;
        for (path, &(_, e)) in paths.iter().zip(loads) {
            let mut path = path.clone();
            for case in &cases.cases {
                self.look(&mut path, &case.solution, device, e);
            }
            if path.missing() != Missing::Nothing {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// The contacts of all relays that pull in in no state, as they would stand if they did.
    pub(super) fn hold_dead_relays(&self) -> Result<&[Change], Cancelled> {
        if let Some(known) = self.dead_relays.get() {
            return Ok(known);
        }
        let mut held = Vec::new();
        for (i, e) in self.circuit.elements.iter().enumerate() {
            let When::Energised { coil, open } = e.when else { continue };
            let Some(Owner::Device(device)) = self.circuit.elements.get(coil.index()).map(|e| e.owner) else {
                continue;
            };
            let cases = self.device_cases(device)?;
            let on = |s: &Solution| state_of(s, device, coil).operates() || s.chatters.contains(&coil);
            if cases.cut.is_none() && !cases.cases.iter().any(|case| on(&case.solution)) {
                held.push(Change::Stuck(i.into(), !open));
            }
        }
        Ok(self.dead_relays.get_or_init(|| held))
    }

    /// Whether a load lies in the feed or in the ground of a module that is dead for it, or that does not say what it
    /// draws: what flows there is not known.
    fn feeds_what_is_not_drawn(&self, path: &LoadPaths, e: &Element) -> Result<bool, Cancelled> {
        let draws = |id: ModuleId| {
            let elements = self.circuit.elements.iter();
            elements
                .filter(|e| e.kind == ElementKind::Draw)
                .any(|e| matches!(e.owner, Owner::Module(module, ..) if module == id))
        };
        for (point, end) in [(e.from, path.from), (e.to, path.to)] {
            let reach = self
                .graph()
                .flood(&[point], |e, _| super::graph::is_continuity(e) && e.kind != ElementKind::Stage);
            for (module, _, cavity) in self.cavities_within(&reach) {
                let through = match cavity.role {
                    Role::Feed => !end.fed,
                    Role::Ground => !end.grounded,
                    _ => false,
                };
                if through && (!draws(module) || self.never_alive(module)?) {
                    return Ok(true);
                }
            }
        }
        Ok(false)
    }

    /// Whether a load works for the moment until its own device's contacts have moved: the pull-in winding of a starter.
    fn pulls_in(&self, device: DeviceId, load: ElementId, cases: &Cases) -> bool {
        let mut relays: BTreeMap<ElementId, Vec<Change>> = BTreeMap::new();
        for (i, e) in self.circuit.elements.iter().enumerate() {
            if let When::Energised { coil, open } = e.when
                && e.owner == Owner::Device(device)
            {
                relays.entry(coil).or_default().push(Change::Stuck(i.into(), open));
            }
        }
        cases.cases.iter().take(64).any(|case| {
            relays.values().any(|contacts| {
                let mut state = case.solution.state.clone();
                state.changes.extend(contacts.iter().cloned());
                state_of(&solve(self.circuit, &state), device, load).operates()
            })
        })
    }

    /// The pull of a module's input is the feed or the return of a sensor, and never that of a load that is to work.
    fn ends(&self, solution: &Solution, element: ElementId, e: &Element) -> (End, End) {
        if let Law::Transducer { feed, .. } = e.law {
            // Fed at one pin, returned at another, whatever its output hangs on.
            return (self.end(solution, e.from, element), self.end(solution, feed, element));
        }
        let end = |point| self.end_past(solution, point, element, works(e.kind));
        (end(e.from), end(e.to))
    }

    /// What a point reaches in one state without going through one element.
    pub fn end(&self, solution: &Solution, point: PointId, without: ElementId) -> End {
        self.end_past(solution, point, without, false)
    }

    /// The same, perhaps with the pulls of inputs passed over.
    fn end_past(&self, solution: &Solution, point: PointId, without: ElementId, pulls: bool) -> End {
        let mut end = End::default();
        match node(solution, point) {
            NodeState::Fed | NodeState::Referenced => end.fed = true,
            NodeState::Grounded => end.grounded = true,
            NodeState::Clash | NodeState::Chatters => (end.fed, end.grounded) = (true, true),
            _ => {
                let mut seen = vec![point];
                let mut next = 0;
                while let Some(&at) = seen.get(next) {
                    next += 1;
                    for step in self.graph().steps(at) {
                        let conducts = solution.conducts.get(step.element.index()).copied().unwrap_or(false);
                        let Some(e) = self.circuit.elements.get(step.element.index()) else { continue };
                        let pull = matches!(e.kind, ElementKind::PullUp | ElementKind::PullDown);
                        if step.element == without
                            || (pulls && pull)
                            || !conducts
                            || e.kind.is_source()
                            || seen.contains(&step.to)
                        {
                            continue;
                        }
                        match node(solution, step.to) {
                            NodeState::Fed | NodeState::Referenced => end.fed_via = true,
                            NodeState::Grounded => end.grounded_via = true,
                            NodeState::Clash | NodeState::Chatters => {
                                (end.fed_via, end.grounded_via) = (true, true);
                            }
                            _ if step.to == COMMON => end.grounded_via = true,
                            _ => seen.push(step.to),
                        }
                    }
                }
            }
        }
        end
    }

    /// Whether an end of a load is joined, with no load between, to what a module that never lives would do.
    fn hangs_on_dead_module(&self, e: &Element) -> Result<bool, Cancelled> {
        let circuit = self.circuit;
        let mut ends = vec![e.from, e.to];
        if let Law::Transducer { feed, .. } = e.law {
            ends.push(feed);
        }
        let reach = self.graph().flood(&ends, |e, _| super::graph::is_continuity(e));
        for (m, module) in circuit.modules.iter().enumerate() {
            let acts =
                |role: &Role| !matches!(role, Role::Feed | Role::Ground | Role::Return { .. } | Role::Unused);
            let touches = module
                .connectors
                .iter()
                .flat_map(|c| &c.cavities)
                .any(|cavity| acts(&cavity.role) && reach.has(cavity.inside));
            if touches && self.never_alive(m.into())? {
                return Ok(true);
            }
        }
        Ok(false)
    }
}

/// A point's state.
pub fn node(solution: &Solution, point: PointId) -> NodeState {
    solution.node_states.get(point.index()).copied().unwrap_or(NodeState::Open)
}

/// What an element of a device does.
pub fn state_of(solution: &Solution, device: DeviceId, element: ElementId) -> ElementState {
    let states = solution.devices.get(device.index()).map_or(&[][..], |d| &d.elements);
    states.iter().find(|(e, _)| *e == element).map_or(ElementState::Rests, |(_, state)| *state)
}
