//! Paths without a load from a source to ground or to another source, that some state closes.

use super::{Facts, graph::is_continuity};
use keyon_circuit::{
    ids::*,
    model::{COMMON, Change, ElementKind, Law, PointKind, When},
};
use keyon_solve::{Cancelled, Cases, Solution, State, solve};
use std::collections::VecDeque;

/// A path that joins two potentials with no load between.
#[derive(Clone, Debug)]
pub struct Short {
    /// The source that it begins at: supply, reference.
    pub source: ElementId,
    /// `None`: ground. Else the other source.
    pub other: Option<ElementId>,
    /// Where the path begins.
    pub start: PointId,
    /// From the source on.
    pub path: Vec<ElementId>,
    /// Controls away from rest that close it.
    pub away: Vec<(ControlId, usize)>,
    /// The element that closes it: without it most of the circuit works.
    pub blame: ElementId,
}

/// What has to hold for a path to be closed.
#[derive(Clone, Debug, Default, PartialEq)]
struct Need {
    controls: Vec<(ControlId, u64)>,
    /// Contacts that a relay moves.
    relays: Vec<(ElementId, bool, ElementId)>,
}

struct Label {
    point: PointId,
    need: Need,
    by: Option<(usize, ElementId)>,
}

/// Labels that one search may make before it gives up.
const LABELS: usize = 40_000;
/// Shorts that are told at most.
const MOST: usize = 16;
/// Pieces of a short's wiring that are opened to see whether the rest is closed.
const PIECES: usize = 24;

impl Need {
    fn with(&self, element: ElementId, when: When) -> Option<Self> {
        let mut need = self.clone();
        match when {
            When::Always => {}
            When::Never => return None,
            When::In { control, positions } => match need.controls.iter_mut().find(|(c, _)| *c == control) {
                Some((_, mask)) => {
                    *mask &= positions;
                    if *mask == 0 {
                        return None;
                    }
                }
                None => need.controls.push((control, positions)),
            },
            When::Energised { coil, open } => match need.relays.iter().find(|(c, ..)| *c == coil) {
                Some((_, other, _)) if *other != open => return None,
                Some(_) => {}
                None => need.relays.push((coil, open, element)),
            },
        }
        Some(need)
    }

    /// Whether it asks no more than the other.
    fn within(&self, other: &Self) -> bool {
        self.controls
            .iter()
            .all(|(c, mask)| other.controls.iter().any(|(o, narrower)| o == c && narrower & !mask == 0))
            && self.relays.iter().all(|(c, open, _)| other.relays.iter().any(|(o, p, _)| o == c && p == open))
    }
}

impl Facts<'_> {
    /// Every short, each found with those before it cut open.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn shorts(&self) -> Result<&[Short], Cancelled> {
        if let Some(known) = self.shorts.get() {
            return Ok(known);
        }
        let found = self.find_shorts()?;
        Ok(self.shorts.get_or_init(|| found))
    }

    fn find_shorts(&self) -> Result<Vec<Short>, Cancelled> {
        let mut shorts: Vec<Short> = Vec::new();
        for (i, source) in self.circuit.elements.iter().enumerate() {
            if !matches!(source.kind, ElementKind::Supply | ElementKind::Reference) {
                continue;
            }
            let id = ElementId::from(i);
            loop {
                if self.cancel.cancelled() {
                    return Err(Cancelled);
                }
                let cut: Vec<ElementId> = shorts.iter().map(|s| s.blame).collect();
                match self.find_short(id, &cut)? {
                    Some(short) if shorts.len() < MOST => shorts.push(short),
                    _ => break,
                }
            }
        }
        Ok(shorts)
    }

    fn find_short(&self, source: ElementId, cut: &[ElementId]) -> Result<Option<Short>, Cancelled> {
        let circuit = self.circuit;
        let Some(start) = circuit.elements.get(source.index()).map(|e| e.to) else { return Ok(None) };
        // Most circuits have none: a plain walk over all states at once says so.
        let reach = self.graph().downstream(&[start]);
        let targets: Vec<(PointId, Option<ElementId>)> =
            self.targets(source).into_iter().filter(|(p, _)| reach.has(*p)).collect();
        if targets.is_empty() {
            return Ok(None);
        }
        let mut labels = vec![Label { point: start, need: Need::default(), by: None }];
        let mut at_point: Vec<Vec<usize>> = vec![Vec::new(); circuit.points.len()];
        let mut queue = VecDeque::from([0]);
        while let Some(at) = queue.pop_front() {
            if labels.len() > LABELS {
                return Ok(None);
            }
            if at % 1024 == 0 && self.cancel.cancelled() {
                return Err(Cancelled);
            }
            let Some(label) = labels.get(at) else { break };
            let (point, need) = (label.point, label.need.clone());
            if let Some(&(_, other)) = targets.iter().find(|(p, _)| *p == point) {
                let path = path_of(&labels, at);
                if let Some(short) = self.proved(source, other, start, path, &need, cut)? {
                    return Ok(Some(short));
                }
            }
            if point == COMMON || self.is_source_point(point, start) {
                continue;
            }
            for step in self.graph().steps(point) {
                let Some(e) = circuit.elements.get(step.element.index()) else { continue };
                let backwards = e.kind == ElementKind::Diode && !step.forward;
                if !is_continuity(e) || backwards || cut.contains(&step.element) {
                    continue;
                }
                let Some(need) = need.with(step.element, e.when) else { continue };
                let Some(there) = at_point.get_mut(step.to.index()) else { continue };
                // Targets keep every way in, for one that is not closed by any state must not hide another.
                let target = targets.iter().any(|(p, _)| *p == step.to);
                let known = |&l: &usize| labels.get(l).is_some_and(|l| l.need.within(&need));
                if !target && there.iter().any(known) || step.to == start {
                    continue;
                }
                let label = labels.len();
                there.push(label);
                labels.push(Label { point: step.to, need, by: Some((at, step.element)) });
                queue.push_back(label);
            }
        }
        Ok(None)
    }

    /// Where a path from a source may not lead: ground, its other pole, sources of another potential.
    fn targets(&self, source: ElementId) -> Vec<(PointId, Option<ElementId>)> {
        let circuit = self.circuit;
        let mut targets = vec![(COMMON, None)];
        let own = circuit.supplies.iter().find(|s| s.element == source);
        for (i, other) in circuit.elements.iter().enumerate() {
            let id = ElementId::from(i);
            if id == source || !matches!(other.kind, ElementKind::Supply | ElementKind::Reference) {
                continue;
            }
            let theirs = circuit.supplies.iter().find(|s| s.element == id);
            let same = match (own, theirs) {
                // A generator that stands within a battery's range charges it.
                (Some(a), Some(b)) => a.negative == b.negative && alike(a, b),
                _ => self.volts_of(source) == self.volts_of(id),
            };
            if !same {
                targets.push((other.to, Some(id)));
            }
        }
        targets
    }

    fn volts_of(&self, source: ElementId) -> Option<f64> {
        match self.circuit.elements.get(source.index())?.law {
            Law::Source { volts, .. } => Some(volts.nominal),
            _ => None,
        }
    }

    fn is_source_point(&self, point: PointId, start: PointId) -> bool {
        point != start
            && self.circuit.points.get(point.index()).is_some_and(|p| matches!(p.kind, PointKind::Supply(_)))
    }

    /// Whether some state closes the path; with the fewest controls, and who is to blame.
    fn proved(
        &self,
        source: ElementId,
        other: Option<ElementId>,
        start: PointId,
        path: Vec<ElementId>,
        need: &Need,
        cut: &[ElementId],
    ) -> Result<Option<Short>, Cancelled> {
        let closed = |solution: &Solution| {
            path.iter()
                .chain([&source])
                .chain(&other)
                .all(|e| solution.conducts.get(e.index()).copied().unwrap_or(false))
        };
        let through: Vec<ElementId> = path.iter().chain([&source]).chain(&other).copied().collect();
        for mut state in self.states_of(need, &through)? {
            state.changes.extend(cut.iter().map(|&e| Change::Open(e)));
            let away = if closed(&solve(self.circuit, &state)) {
                self.fewest(&state, closed).0
            } else if let Some(away) = self.closed_but_for_one(&state, &through) {
                away
            } else {
                continue;
            };
            let blame = self.blame(source, other, &path);
            return Ok(blame.map(|blame| Short { source, other, start, path, away, blame }));
        }
        Ok(None)
    }

    /// A short may take away what holds its own contacts closed, so that no state with it settles. Then it is looked for
    /// with one piece of its wiring open: if all else is closed, putting that piece back shorts. With the controls
    /// that have to leave rest.
    fn closed_but_for_one(&self, state: &State, through: &[ElementId]) -> Option<Vec<(ControlId, usize)>> {
        use ElementKind::{Diode, Inline, Terminal, Tie, Wire};
        let kind = |e: &ElementId| self.circuit.elements.get(e.index()).map(|e| e.kind);
        if !through.iter().any(|e| {
            self.circuit.elements.get(e.index()).is_some_and(|e| matches!(e.when, When::Energised { .. }))
        }) {
            return None;
        }
        let pieces = through.iter().filter(|e| matches!(kind(e), Some(Wire | Tie | Terminal | Inline)));
        pieces.take(PIECES).find_map(|&piece| {
            let mut state = state.clone();
            state.changes.push(Change::Open(piece));
            // A diode with an open end blocks; it lies the right way round, or the path would not run through it.
            let closed = |solution: &Solution| {
                through
                    .iter()
                    .filter(|&&e| e != piece && kind(&e) != Some(Diode))
                    .all(|e| solution.conducts.get(e.index()).copied().unwrap_or(false))
            };
            closed(&solve(self.circuit, &state)).then(|| self.fewest(&state, closed).0)
        })
    }

    /// States in which the controls and relays stand as a path needs them, and the modules it runs through live.
    fn states_of(&self, need: &Need, through: &[ElementId]) -> Result<Vec<State>, Cancelled> {
        let mut masks = vec![u64::MAX; self.circuit.controls.len()];
        for &(control, mask) in &need.controls {
            if let Some(m) = masks.get_mut(control.index()) {
                *m &= mask;
            }
        }
        let mut all = vec![masks];
        for &(_, _, contact) in &need.relays {
            let closed = |s: &Solution| s.conducts.get(contact.index()).copied().unwrap_or(false);
            all = narrowed(&all, &self.cases_of(&[], &[contact])?, closed);
        }
        let mut modules: Vec<ModuleId> =
            through.iter().filter_map(|e| self.circuit.elements.get(e.index())?.alive).collect();
        modules.sort_unstable();
        modules.dedup();
        for module in modules {
            let points = self.life_points(module);
            if !points.is_empty() {
                let alive = |s: &Solution| s.alive.get(module.index()).copied().unwrap_or(true);
                all = narrowed(&all, &self.cases_of(&points, &[])?, alive);
            }
        }
        Ok(all
            .into_iter()
            .map(|masks| {
                let mut state = self.base();
                for (position, mask) in state.positions.iter_mut().zip(masks) {
                    *position = mask.trailing_zeros().min(63) as u8;
                }
                state
            })
            .collect())
    }
}

/// Sets of states, each cut down to those cases in which something holds.
fn narrowed(all: &[Vec<u64>], cases: &Cases, holds: impl Fn(&Solution) -> bool) -> Vec<Vec<u64>> {
    let mut next = Vec::new();
    for masks in all {
        for case in cases.cases.iter().filter(|case| holds(&case.solution)) {
            let mut masks = masks.clone();
            for (control, when) in cases.controls.iter().zip(&case.when) {
                if let Some(m) = masks.get_mut(control.index()) {
                    *m &= when;
                }
            }
            if masks.iter().all(|&m| m != 0) && next.len() < 64 {
                next.push(masks);
            }
        }
    }
    next
}

/// Whether one supply's volts lie within the other's range, so that joining them is no clash but charging.
fn alike(a: &keyon_circuit::model::Supply, b: &keyon_circuit::model::Supply) -> bool {
    let within = |volts: f64, range: Option<(f64, f64)>| {
        range.is_some_and(|(low, high)| low <= volts && volts <= high)
    };
    (a.volts.nominal - b.volts.nominal).abs() < 1e-9
        || within(a.volts.nominal, b.range)
        || within(b.volts.nominal, a.range)
}

fn path_of(labels: &[Label], mut at: usize) -> Vec<ElementId> {
    let mut path = Vec::new();
    while let Some((before, element)) = labels.get(at).and_then(|l| l.by) {
        path.push(element);
        at = before;
    }
    path.reverse();
    path
}
