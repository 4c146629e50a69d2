//! The state in which an element carries most.
//!
//! A fuse's current is a sum over what hangs below it. Once the tree has decided what all of it shares (the key, a
//! relay), the rest falls into parts that do not influence one another; each part is brought to its most and its
//! least current by itself, and the two sums are the extremes. So sixty drivers behind one fuse cost some hundred
//! solutions and the answer is exact, as far as tracing separates them (decision 29). Where the element lies on a loop of
//! wiring, whatever opens or closes the loop is decided first: it changes the element's share of every part.

use super::{
    below::{Hanging, Side},
    explore::{Place, Survey, first},
    facts::{Decided, Facts, Masks, Tri},
    frame::{Class, Gate, Sets},
    query::Query,
};
use crate::{Cancel, Cancelled, Solution, State};
use keyon_circuit::{
    ids::*,
    model::{Circuit, Law, Rated},
};
use std::{
    collections::{BTreeMap, BTreeSet},
    sync::Arc,
};

/// The most that an element carries.
#[derive(Clone, Debug)]
pub struct Worst {
    /// Amps, positive from the element's `from` to its `to`.
    pub amps: f64,
    /// The state in which it carries them, with the fewest departures from the base.
    pub solution: Arc<Solution>,
    /// Every state that matters was looked at; else the search was cut short and a worse state may exist.
    pub exact: bool,
    /// A state in which it is part of a clash, so that nothing limits its current. Not counted as the worst.
    pub unlimited: Option<Arc<Solution>>,
}

/// Sources that are reckoned to stand on one another.
const STACKED: usize = 8;

/// States solved for one element before the search becomes a climb from the best state so far.
const BUDGET: usize = 2048;

/// The base for a worst-state question: fuses stay whole (what would flow is asked, not what a blown fuse leaves) and,
/// if wanted, supplies stand at the top of their range (decision 34).
pub fn worst_base(circuit: &Circuit, base: &State, supply_at_top: bool) -> State {
    let mut base = base.clone();
    base.options.keep_fuses = true;
    if supply_at_top {
        for (volts, supply) in base.supplies.iter_mut().zip(&circuit.supplies) {
            if let Some((_, high)) = supply.range {
                *volts = high;
            }
        }
    }
    base
}

/// The state of the controls with the largest current through an element. For many elements of one circuit make one
/// [`Survey`] over [`worst_base`].
///
/// # Errors
/// When `cancel` asks for it.
pub fn worst_current(
    circuit: &Circuit,
    base: &State,
    element: ElementId,
    supply_at_top: bool,
    cancel: &dyn Cancel,
) -> Result<Worst, Cancelled> {
    Survey::new(circuit, &worst_base(circuit, base, supply_at_top)).worst_current(element, cancel)
}

impl Survey<'_> {
    /// See [`worst_current`]; base and options are the survey's.
    ///
    /// # Errors
    /// When `cancel` asks for it.
    pub fn worst_current(&self, element: ElementId, cancel: &dyn Cancel) -> Result<Worst, Cancelled> {
        self.worst_within(element, self.open(&[]), cancel)
    }

    /// The same with the controls in these positions only.
    pub(crate) fn worst_within(
        &self,
        element: ElementId,
        open: Masks,
        cancel: &dyn Cancel,
    ) -> Result<Worst, Cancelled> {
        let survey = self.unmerged();
        let mut search = Search::new(survey, element, open.clone(), cancel);
        let query = Query { currents: vec![element], ..Query::default() };
        let mut stack = vec![Place { masks: open, decided: Decided::new() }];
        let mut controls = Vec::new();
        while let Some(mut place) = stack.pop() {
            let undecided = survey.undecided(&query, &mut place);
            controls.extend(undecided.keys().copied());
            let Some((control, edges)) = first(&undecided) else {
                search.look(&survey.positions(&place.masks))?;
                continue;
            };
            if search.looked > BUDGET {
                search.exact = false;
                continue;
            }
            let open: Vec<ControlId> = undecided.keys().copied().collect();
            let parts = parts(survey, &survey.facts(&place), &open, element);
            // What changes a loop of wiring in which the element lies changes its share of all else: no sum before
            // that is decided.
            let sharing = |c: &ControlId| parts.iter().any(|part| part.sharing && part.controls.contains(c));
            let sharer =
                undecided.iter().filter(|(c, _)| sharing(c)).min_by_key(|(c, (rank, _))| (*rank, **c));
            let (control, edges) = match sharer {
                Some((control, (_, edges))) if parts.len() > 1 => (*control, edges.as_slice()),
                None if parts.len() > 1 => {
                    let parts: Vec<Vec<ControlId>> = parts.into_iter().map(|part| part.controls).collect();
                    search.sum(&query, &place, &open, &parts)?;
                    continue;
                }
                _ => (control, edges),
            };
            for part in survey.split(&place.masks, control, edges).into_iter().rev() {
                let mut child = place.clone();
                child.masks[control.index()] = part;
                stack.push(child);
            }
        }
        if !search.exact {
            controls.sort_unstable();
            controls.dedup();
            search.climb(&controls)?;
        }
        Ok(search.finish())
    }
}

impl Survey<'_> {
    /// Amps that a piece of wiring never carries more of, without solving anything: each load below it (see `below`)
    /// takes at most the highest potential over its least resistance. Infinite where that says nothing. Clashes
    /// are not counted, as in [`Worst::amps`].
    pub fn current_bound(&self, element: ElementId) -> f64 {
        let survey = self.unmerged();
        let frame = &survey.frame;
        let Some(edge) = frame.edge_of.get(element.index()).copied().flatten() else { return 0.0 };
        if matches!(frame.edges[edge as usize].class, Class::Load { .. } | Class::Diode { .. }) {
            return f64::INFINITY;
        }
        survey
            .side()
            .bounds
            .get_or_init(|| survey.current_bounds())
            .get(edge as usize)
            .copied()
            .unwrap_or(f64::INFINITY)
    }

    /// The same of every edge at once.
    fn current_bounds(&self) -> Vec<f64> {
        let frame = &self.frame;
        let facts = self.facts(&Place { masks: self.open(&[]), decided: Decided::new() });
        // What the loads at each net take at most. One with both ends below is counted twice: still a bound.
        let mut takes = vec![0.0; frame.at.len()];
        let mut any = false;
        for e in frame.edges.iter().filter(|e| matches!(e.class, Class::Load { .. })) {
            any = true;
            let amps = frame.highest / self.least_ohms(e.element);
            takes[e.a as usize] += amps;
            takes[e.b as usize] += amps;
        }
        let sides = [Side::Fed, Side::Grounded].map(|side| Hanging::new(frame, &facts, side));
        // What a source feeds that does not stand on ground flows at its other pole too; one may stand on another.
        let standing: Vec<usize> = (0..frame.edges.len())
            .filter(|&e| frame.edges[e].class.is_source() && !frame.anchored[frame.edges[e].a as usize])
            .collect();
        let mut passes = vec![0.0; frame.edges.len()];
        for round in 0..=standing.len() {
            let fed = if standing.is_empty() { Vec::new() } else { sides[0].sums(frame, &takes) };
            let mut news = false;
            for &e in &standing {
                let amps = fed[e].unwrap_or(f64::INFINITY);
                if amps > passes[e] {
                    let a = frame.edges[e].a as usize;
                    takes[a] += if round < STACKED { amps - passes[e] } else { f64::INFINITY };
                    (passes[e], news) = (amps, true);
                }
            }
            if !news {
                break;
            }
        }
        let [fed, grounded] = sides.map(|side| side.sums(frame, &takes));
        // What neither side reaches carries only what loads at both its ends let through: not worth a bound.
        let neither = if any { f64::INFINITY } else { 0.0 };
        let most = |(a, b): (Option<f64>, Option<f64>)| match (a, b) {
            (None, None) => neither,
            (a, b) => a.unwrap_or(0.0).max(b.unwrap_or(0.0)),
        };
        fed.into_iter().zip(grounded).map(most).collect()
    }

    /// The least resistance that a load shows in this base; zero where it is not known.
    fn least_ohms(&self, element: Option<ElementId>) -> f64 {
        let Some(e) = element.and_then(|e| self.circuit.elements.get(e.index())) else { return 0.0 };
        match &e.law {
            Law::Resistance(ohms) | Law::Coil { ohms, .. } => ohms.nominal,
            Law::Rated { watts, volts, .. } => volts.nominal * volts.nominal / watts.nominal,
            // Turning it draws `runs` at its rated voltage, which a supply may exceed: more ohms than stalled, or else
            // that resistance.
            Law::Winding { ohms, runs: None, .. } => ohms.nominal,
            Law::Thermistor { .. } | Law::Track { .. } | Law::Variable { .. } => {
                crate::sensor::sensed_ohms(&e.law, e.kind, &self.base).unwrap_or(0.0)
            }
            Law::Winding { ohms, runs: Some(runs), rated, .. } => match rated {
                Some(Rated::Volts(volts)) => ohms.nominal.min(volts.nominal / runs.nominal),
                // Its rated voltage is that of the supply that feeds it: the lowest there is.
                _ => {
                    let lowest = self.base.supplies.iter().fold(f64::INFINITY, |least, v| least.min(v.abs()));
                    ohms.nominal.min(lowest / runs.nominal)
                }
            },
            _ => 0.0,
        }
    }
}

struct Search<'s, 'c> {
    survey: &'s Survey<'c>,
    element: ElementId,
    masks: Masks,
    cancel: &'s dyn Cancel,
    best: Option<(f64, Vec<u8>)>,
    unlimited: Option<Arc<Solution>>,
    looked: usize,
    exact: bool,
}

impl<'s, 'c> Search<'s, 'c> {
    fn new(survey: &'s Survey<'c>, element: ElementId, masks: Masks, cancel: &'s dyn Cancel) -> Self {
        Self { survey, element, masks, cancel, best: None, unlimited: None, looked: 0, exact: true }
    }

    /// Amps in one state; the best is kept.
    fn look(&mut self, positions: &[u8]) -> Result<f64, Cancelled> {
        if self.cancel.cancelled() {
            return Err(Cancelled);
        }
        self.looked += 1;
        let solution = self.survey.solve(positions);
        let Some(amps) = solution.amps.get(self.element.index()).and_then(|a| a.known()) else {
            self.unlimited.get_or_insert(solution);
            return Ok(0.0);
        };
        // Differences in the last digits are no reason to name more controls.
        let departs = self.survey.departs(positions);
        let better = self.best.as_ref().is_none_or(|(best, at)| {
            let step = 1e-9 * best.abs().max(1e-9);
            amps.abs() > best.abs() + step
                || (amps.abs() > best.abs() - step && departs < self.survey.departs(at))
        });
        if better {
            self.best = Some((amps, positions.to_vec()));
        }
        Ok(amps)
    }

    /// Each part to its most and its least, the others as the base has them; then all together.
    fn sum(
        &mut self,
        query: &Query,
        place: &Place,
        open: &[ControlId],
        parts: &[Vec<ControlId>],
    ) -> Result<(), Cancelled> {
        let start = self.survey.positions(&place.masks);
        let (mut most, mut least) = (start.clone(), start.clone());
        self.look(&start)?;
        for part in parts {
            let mut masks = place.masks.clone();
            for c in open.iter().filter(|c| !part.contains(c)) {
                masks[c.index()] = 1 << start[c.index()];
            }
            let (mut high, mut low) = (f64::NEG_INFINITY, f64::INFINITY);
            let mut stack = vec![Place { masks, decided: place.decided.clone() }];
            while let Some(mut inner) = stack.pop() {
                if self.looked > BUDGET {
                    self.exact = false;
                    break;
                }
                let undecided = self.survey.undecided(query, &mut inner);
                if let Some((control, edges)) = first(&undecided) {
                    for group in self.survey.split(&inner.masks, control, edges).into_iter().rev() {
                        let mut child = inner.clone();
                        child.masks[control.index()] = group;
                        stack.push(child);
                    }
                    continue;
                }
                let positions = self.survey.positions(&inner.masks);
                let amps = self.look(&positions)?;
                for (better, bound, into) in
                    [(amps > high + 1e-12, &mut high, &mut most), (amps < low - 1e-12, &mut low, &mut least)]
                {
                    if better {
                        *bound = amps;
                        part.iter().for_each(|c| into[c.index()] = positions[c.index()]);
                    }
                }
            }
        }
        self.look(&most)?;
        self.look(&least)?;
        Ok(())
    }

    /// Coordinate ascent: one control after the other to its best position, until none helps.
    fn climb(&mut self, controls: &[ControlId]) -> Result<(), Cancelled> {
        for _ in 0..8 {
            let before = self.best.clone();
            for c in controls {
                let Some((_, at)) = self.best.clone() else { return Ok(()) };
                let mask = self.masks[c.index()];
                for position in (0..64).filter(|&p| mask >> p & 1 == 1 && p != at[c.index()]) {
                    let mut next = at.clone();
                    next[c.index()] = position;
                    self.look(&next)?;
                }
            }
            if self.best == before {
                break;
            }
        }
        Ok(())
    }

    fn finish(self) -> Worst {
        let (amps, positions) = self.best.unwrap_or_else(|| (0.0, self.survey.positions(&self.masks)));
        Worst { amps, solution: self.survey.solve(&positions), exact: self.exact, unlimited: self.unlimited }
    }
}

/// Controls that do not influence any others.
struct Part {
    controls: Vec<ControlId>,
    /// They decide whether something on a loop with the element conducts.
    sharing: bool,
}

/// Open controls in groups that do not influence one another: joined by nets that are no barriers, by relays, by the
/// modules they keep alive.
fn parts(survey: &Survey<'_>, facts: &Facts, open: &[ControlId], element: ElementId) -> Vec<Part> {
    let frame = &survey.frame;
    let (nets, edges, modules) = (frame.at.len() as u32, frame.edges.len() as u32, facts.alive.len() as u32);
    let of_edge = |e: usize| nets + e as u32;
    let of_module = |m: ModuleId| nets + edges + m.0;
    let of_control = |c: ControlId| nets + edges + modules + c.0;
    let mut sets = Sets::new((nets + edges + modules) as usize + survey.circuit.controls.len());
    let mut join = |x: u32, net: u32| {
        if !facts.barrier(net) {
            sets.join(x, net);
        }
    };
    let net = |p: PointId| frame.net(p);
    for (i, edge) in frame.edges.iter().enumerate().filter(|(i, _)| facts.edges[*i] != Tri::No) {
        join(of_edge(i), edge.a);
        join(of_edge(i), edge.b);
        if let Class::Load { feed: Some(feed) } = edge.class {
            join(of_edge(i), feed);
        }
        if let (Gate::Energised { coil, .. }, Tri::Maybe) = (edge.gate, facts.gates[i])
            && let Some(coil) = survey.circuit.elements.get(coil.index())
        {
            join(of_edge(i), net(coil.from));
            join(of_edge(i), net(coil.to));
        }
    }
    for (m, module) in survey.circuit.modules.iter().enumerate() {
        if facts.alive.get(m) != Some(&Tri::Maybe) {
            continue;
        }
        for &(c, k) in module.feeds.iter().chain(&module.grounds) {
            if let Some(cavity) = module.connectors.get(c).and_then(|c| c.cavities.get(k)) {
                join(of_module(m.into()), net(cavity.inside));
            }
        }
    }
    for (i, edge) in frame.edges.iter().enumerate().filter(|(i, _)| facts.edges[*i] == Tri::Maybe) {
        if let Some(module) = edge.module.filter(|m| facts.alive[m.index()] == Tri::Maybe) {
            sets.join(of_edge(i), of_module(module));
        }
        if let (Gate::Energised { coil, .. }, Tri::Maybe) = (edge.gate, facts.gates[i])
            && let Some(coil) = frame.edge_of.get(coil.index()).copied().flatten()
        {
            sets.join(of_edge(i), of_edge(coil as usize));
        }
        if let (Gate::In { control, .. }, Tri::Maybe) = (edge.gate, facts.gates[i]) {
            sets.join(of_edge(i), of_control(control));
        }
    }
    let mut groups: BTreeMap<u32, Vec<ControlId>> = BTreeMap::new();
    for &control in open {
        groups.entry(sets.root(of_control(control))).or_default().push(control);
    }
    if groups.len() < 2 {
        return groups.into_values().map(|controls| Part { controls, sharing: false }).collect();
    }
    let edge = frame.edge_of.get(element.index()).copied().flatten();
    let ring = [Side::Fed, Side::Grounded]
        .into_iter()
        .zip(edge.into_iter().cycle())
        .flat_map(|(side, edge)| Hanging::new(frame, facts, side).ring(frame, facts, edge));
    let changing: BTreeSet<u32> = ring
        .filter(|&e| facts.edges[e as usize] == Tri::Maybe)
        .map(|e| sets.root(of_edge(e as usize)))
        .collect();
    groups.into_iter().map(|(root, controls)| Part { controls, sharing: changing.contains(&root) }).collect()
}
