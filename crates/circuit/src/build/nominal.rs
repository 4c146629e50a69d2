//! Which supply's volts count where only amps are said: `draws 0.2 A`, `elsewhere … 3 A`, a pull-up to a feed.
//!
//! Those of the supply that feeds the place, with the ones it is stacked on: of several the one behind the fewest switches
//! and diodes; and of those of its system that reach the place too (a battery, its generator, a second battery) the first
//! declared. What no supply reaches has the first one's volts. With one supply on the common ground there is
//! nothing to find.

use super::Builder;
use crate::{ids::*, model::*, value::Num};
use std::{cmp::Reverse, collections::BinaryHeap};

/// Volts that differ by less than this share are of one system: 12.6 V and 14.2 V, but not 12 V and 24 V (common practice, no
/// source).
const ONE_SYSTEM: f64 = 0.25;

/// How a point hangs on something: behind so many switches and diodes, on which one.
type Reached = Option<(u32, usize)>;

/// An input that is pulled up to a feed and says no range of its own.
pub(super) struct FedRange {
    pub(super) input: (ModuleId, usize, usize),
    /// The inside of the feed.
    pub(super) feed: PointId,
    /// It says a threshold itself.
    pub(super) own_threshold: bool,
}

/// A conductor, seen from one of its ends.
#[derive(Clone)]
struct Way {
    other: usize,
    /// A switch, a relay's contact, a stage, a diode.
    switched: bool,
    /// Current may go there, and come from there.
    goes: bool,
    comes: bool,
}

/// Conductors of a circuit, whatever its switches do.
struct Ways {
    near: Vec<Vec<Way>>,
}

impl Builder<'_> {
    /// Gives what was rated at the first supply's volts those of the supply that feeds it.
    pub(super) fn rate_by_feed(&mut self) {
        let fed_ranges = std::mem::take(&mut self.fed_ranges);
        let alone = self.c.supplies.len() < 2 && self.c.supplies.iter().all(|s| s.negative == COMMON);
        let rated = |e: &Element| matches!(e.kind, ElementKind::Draw | ElementKind::Elsewhere);
        if alone || (fed_ranges.is_empty() && !self.c.elements.iter().any(rated)) {
            return;
        }
        let first = self.nominal_volts();
        let levels = Levels::new(&self.c);
        for element in self.c.elements.iter_mut().filter(|e| rated(e)) {
            let Some(high) = levels.at(element.from, true) else { continue };
            let low = levels.at(element.to, false).unwrap_or(0.0);
            let share = (high - low).abs() / first.abs();
            if let Law::Resistance(ohms) = &mut element.law
                && share.is_finite()
                && share > 0.0
            {
                let times = |ohms: f64| ohms * share;
                *ohms = Num { nominal: times(ohms.nominal), low: times(ohms.low), high: times(ohms.high) };
            }
        }
        for FedRange { input: (module, c, k), feed, own_threshold } in fed_ranges {
            let Some(volts) = levels.at(feed, true) else { continue };
            let Some(cavity) = self.cavity_mut(module, c, k) else { continue };
            match cavity.role {
                Role::Senses { digital: false } => cavity.range = Some((volts.min(0.0), volts.max(0.0))),
                Role::Senses { digital: true } if !own_threshold => cavity.threshold = Some(volts / 2.0),
                _ => {}
            }
        }
    }
}

/// Stated volts over the common ground.
struct Levels {
    /// Of each supply's terminal, stacked supplies added up.
    tops: Vec<Option<f64>>,
    /// The supply that feeds each point, and how it hangs on ground.
    fed: Vec<Reached>,
    grounded: Vec<Reached>,
    /// What each supply reaches that has a later one of its system.
    reach: Vec<Vec<Reached>>,
}

impl Levels {
    fn new(circuit: &Circuit) -> Self {
        let ways = Ways::new(circuit);
        let grounded = ways.from(&[(COMMON, 0)], false);
        let mut levels =
            Self { tops: vec![None; circuit.supplies.len()], fed: Vec::new(), grounded, reach: Vec::new() };
        // Each round knows one more storey of what is stacked.
        loop {
            let known = circuit.supplies.iter().enumerate().filter(|&(i, _)| levels.tops[i].is_some());
            let starts: Vec<(PointId, usize)> = known.map(|(i, s)| (s.point, i)).collect();
            levels.fed = ways.from(&starts, true);
            let top = |(supply, top): (&Supply, &Option<f64>)| {
                top.or_else(|| Some(levels.at(supply.negative, false)? + supply.volts.nominal))
            };
            let next: Vec<Option<f64>> = circuit.supplies.iter().zip(&levels.tops).map(top).collect();
            if next == levels.tops {
                levels.reach = circuit
                    .supplies
                    .iter()
                    .enumerate()
                    .map(|(at, supply)| match levels.has_later(at) {
                        true => ways.from(&[(supply.point, at)], true),
                        false => Vec::new(),
                    })
                    .collect();
                return levels;
            }
            levels.tops = next;
        }
    }

    /// Whether two supplies are of one system.
    fn alike(&self, a: usize, b: usize) -> bool {
        let top = |at: usize| self.tops.get(at).copied().flatten();
        top(a).zip(top(b)).is_some_and(|(a, b)| (a - b).abs() < ONE_SYSTEM * a.abs().max(b.abs()))
    }

    fn has_later(&self, supply: usize) -> bool {
        (supply + 1..self.tops.len()).any(|later| self.alike(supply, later))
    }

    /// Those that reach a point. Of a feed, being switched to ground is not what is meant.
    fn at(&self, point: PointId, is_feed: bool) -> Option<f64> {
        let by_supply = self.fed.get(point.index()).copied().flatten();
        let by_ground = self.grounded.get(point.index()).copied().flatten().filter(|_| !is_feed);
        match (by_supply, by_ground) {
            (Some((switches, supply)), ground) if ground.is_none_or(|(g, _)| switches < g) => {
                let reaches = |at: usize| {
                    let reached = self.reach.get(at).and_then(|reach| reach.get(point.index()));
                    self.alike(at, supply) && reached.is_some_and(Option::is_some)
                };
                let first = (0..supply).find(|&at| reaches(at)).unwrap_or(supply);
                self.tops.get(first).copied().flatten()
            }
            (_, ground) => ground.map(|_| 0.0),
        }
    }
}

impl Ways {
    fn new(circuit: &Circuit) -> Self {
        let mut near = vec![Vec::new(); circuit.points.len()];
        for element in &circuit.elements {
            let (a, b) = (element.from.index(), element.to.index());
            let passes = !element.kind.is_load() && !element.kind.is_source() && element.when != When::Never;
            if !passes || a.max(b) >= near.len() {
                continue;
            }
            let one_way = element.kind == ElementKind::Diode;
            let switched = one_way || element.when != When::Always;
            near[a].push(Way { other: b, switched, goes: true, comes: !one_way });
            near[b].push(Way { other: a, switched, goes: !one_way, comes: true });
        }
        Self { near }
    }

    /// What of these starts each point hangs on, along the current or against it; never through the common ground,
    /// at which things hang side by side.
    fn from(&self, starts: &[(PointId, usize)], along: bool) -> Vec<Reached> {
        let mut found: Vec<Reached> = vec![None; self.near.len()];
        let mut queue: BinaryHeap<Reverse<(u32, usize, usize)>> =
            starts.iter().map(|&(point, which)| Reverse((0, which, point.index()))).collect();
        while let Some(Reverse((switches, which, at))) = queue.pop() {
            match found.get_mut(at) {
                Some(place @ None) => *place = Some((switches, which)),
                _ => continue,
            }
            if at == COMMON.index() && along {
                continue;
            }
            for way in &self.near[at] {
                let passes = if along { way.goes } else { way.comes };
                if passes && found[way.other].is_none() {
                    queue.push(Reverse((switches + u32::from(way.switched), which, way.other)));
                }
            }
        }
        found
    }
}
