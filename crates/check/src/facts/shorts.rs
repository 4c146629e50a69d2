//! Paths without a load from a source to ground or to another source, that some state closes.

use super::{
    Facts,
    closing::Need,
    graph::{Flood, is_continuity},
};
use keyon_circuit::{
    hash::Map,
    ids::*,
    model::{COMMON, Change, ElementKind, Law, PointKind},
};
use keyon_solve::{Cancelled, Solution};
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

struct Label {
    point: PointId,
    need: Need,
    by: Option<(usize, ElementId)>,
}

/// Labels that one search may make before it gives up.
const LABELS: usize = 40_000;
/// Paths through relays that no state closes and that are tried with a piece open, in one search.
const PATIENCE: u32 = 16;
/// Shorts that are told at most.
const MOST: usize = 16;

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
        let sources = self.sources_at();
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
                match self.find_short(id, &sources, &cut)? {
                    Some(short) if shorts.len() < MOST => shorts.push(short),
                    _ => break,
                }
            }
        }
        Ok(shorts)
    }

    fn find_short(
        &self,
        source: ElementId,
        sources: &Map<PointId, Vec<ElementId>>,
        cut: &[ElementId],
    ) -> Result<Option<Short>, Cancelled> {
        let circuit = self.circuit;
        let Some(element) = circuit.elements.get(source.index()) else { return Ok(None) };
        let start = element.to;
        // A generator gives nothing while it stands.
        let Some(begin) = Need::default().with(source, element.when) else { return Ok(None) };
        // Most circuits have none: a plain walk over all states at once says so.
        let reach = self.graph().downstream(&[start]);
        let targets = self.targets(source, sources, &reach);
        if targets.is_empty() {
            return Ok(None);
        }
        let mut patience = PATIENCE;
        let mut labels = vec![Label { point: start, need: begin, by: None }];
        // As large as the search, not as the circuit.
        let mut at_point: Map<PointId, Vec<usize>> = Map::default();
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
            let lives = |other: Option<ElementId>| match other
                .and_then(|o| Some((o, circuit.elements.get(o.index())?)))
            {
                Some((other, element)) => need.clone().with(other, element.when),
                None => Some(need.clone()),
            };
            if let Some(&other) = targets.get(&point)
                && let Some(need) = lives(other)
            {
                let path = path_of(&labels, at);
                if let Some(short) = self.proved(source, other, start, path, &need, cut, &mut patience)? {
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
                let there = at_point.entry(step.to).or_default();
                // Targets keep every way in, for one that is not closed by any state must not hide another.
                let target = targets.contains_key(&step.to);
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

    /// The sources whose upper end is at each point.
    fn sources_at(&self) -> Map<PointId, Vec<ElementId>> {
        let mut at: Map<PointId, Vec<ElementId>> = Map::default();
        for (i, element) in self.circuit.elements.iter().enumerate() {
            if matches!(element.kind, ElementKind::Supply | ElementKind::Reference) {
                at.entry(element.to).or_default().push(ElementId::from(i));
            }
        }
        at
    }

    /// Where a path from a source may not lead, of what it reaches: ground, its other pole, sources of another potential.
    fn targets(
        &self,
        source: ElementId,
        sources: &Map<PointId, Vec<ElementId>>,
        reach: &Flood,
    ) -> Map<PointId, Option<ElementId>> {
        let circuit = self.circuit;
        let mut targets = Map::default();
        let supply = |id: ElementId| circuit.supplies.iter().find(|s| s.element == id);
        let own = supply(source);
        for &point in &reach.order {
            if point == COMMON {
                targets.insert(COMMON, None);
                continue;
            }
            let same = |&id: &ElementId| match (own, supply(id)) {
                // A generator that stands within a battery's range charges it.
                (Some(a), Some(b)) => a.negative == b.negative && alike(a, b),
                _ => self.volts_of(source) == self.volts_of(id),
            };
            let there = sources.get(&point).map_or(&[][..], Vec::as_slice);
            if let Some(&other) = there.iter().find(|id| **id != source && !same(id)) {
                targets.insert(point, Some(other));
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
    #[allow(clippy::too_many_arguments)]
    fn proved(
        &self,
        source: ElementId,
        other: Option<ElementId>,
        start: PointId,
        path: Vec<ElementId>,
        need: &Need,
        cut: &[ElementId],
        patience: &mut u32,
    ) -> Result<Option<Short>, Cancelled> {
        let closed = |solution: &Solution| {
            path.iter()
                .chain([&source])
                .chain(&other)
                .all(|e| solution.conducts.get(e.index()).copied().unwrap_or(false))
        };
        let through: Vec<ElementId> = path.iter().chain([&source]).chain(&other).copied().collect();
        let Some(blame) = self.blame(source, other, &path) else { return Ok(None) };
        let cut: Vec<Change> = cut.iter().map(|&e| Change::Open(e)).collect();
        let mut away = self.closing(need, &through, &cut, closed)?;
        if away.is_none() && !need.relays.is_empty() && *patience > 0 {
            *patience -= 1;
            away = self.closing_but_for_one(need, &through, &path, blame, &cut)?;
        }
        Ok(away.map(|away| {
            let blame = self.blame_at_work((source, other, &path), need, &away, &cut).unwrap_or(blame);
            Short { source, other, start, path, away, blame }
        }))
    }
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
