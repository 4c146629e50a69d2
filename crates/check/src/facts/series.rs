//! Stages that drive a coil by way of what stands in series with it: a blocking diode, a small resistor.

use super::{
    Facts,
    labels::Labels,
    stages::{Place, Stage},
};
use keyon_circuit::{
    ids::*,
    model::{COMMON, Element, ElementKind, Law, Role, Way},
};
use std::collections::{BTreeMap, BTreeSet};

/// A resistor above this share of the coil's ohms leaves it too little to be in its line. Our own limit.
const SHARE: f64 = 0.5;
/// Nets that a walk looks at before it gives up.
const NETS: usize = 16;

/// One element from net to net.
#[derive(Clone, Copy, Debug)]
struct Step {
    to: u32,
    by: By,
}

/// What a step leads through.
#[derive(Clone, Copy, Debug)]
enum By {
    Resistor {
        ohms: f64,
    },
    /// With or against its arrow.
    Diode {
        with: bool,
    },
}

/// Diodes and resistors between nets that contacts join, and the nets on which a walk ends.
#[derive(Debug, Default)]
pub(super) struct Series {
    steps: BTreeMap<u32, Vec<Step>>,
    /// Nets that a supply or a ground holds: what else hangs there is no part of one coil's line.
    anchored: BTreeSet<u32>,
}

impl Series {
    fn new(elements: &[Element], labels: &Labels) -> Self {
        let mut series = Series::default();
        for e in elements {
            let ends = (labels.of(e.from), labels.of(e.to));
            if e.kind.is_source() || e.kind == ElementKind::Ground {
                series.anchored.extend([ends.0, ends.1].into_iter().flatten());
            }
            let [there, back] = match (e.kind, &e.law) {
                (ElementKind::Diode, _) => [true, false].map(|with| By::Diode { with }),
                (ElementKind::Resistor, Law::Resistance(ohms)) => [By::Resistor { ohms: ohms.nominal }; 2],
                _ => continue,
            };
            if let ((Some(a), Some(b)), true) = (ends, e.from != COMMON && e.to != COMMON) {
                series.steps.entry(a).or_default().push(Step { to: b, by: there });
                series.steps.entry(b).or_default().push(Step { to: a, by: back });
            }
        }
        series
    }

    /// The nets in line with one end of a coil of so many ohms. Current flows `away` from the coil there, or towards it.
    fn line(&self, from: u32, ohms: f64, away: bool) -> Vec<u32> {
        let mut line = vec![from];
        let mut next = 0;
        while let Some(&at) = line.get(next) {
            next += 1;
            if self.anchored.contains(&at) {
                continue;
            }
            for step in self.steps.get(&at).into_iter().flatten() {
                let passes = match step.by {
                    By::Resistor { ohms: resistor } => resistor <= ohms * SHARE,
                    By::Diode { with } => with == away,
                };
                if passes && !line.contains(&step.to) && line.len() < NETS {
                    line.push(step.to);
                }
            }
        }
        line
    }
}

impl<'a> Facts<'a> {
    /// The stages that drive a coil through diodes and small resistors in series with it; none that drive it directly.
    pub(super) fn stages_in_series(&self, coil: &Element) -> Vec<Stage<'a>> {
        let mut found: Vec<Place> = Vec::new();
        for (line, away) in self.lines(coil) {
            let places = line.iter().filter_map(|label| self.stages_at().get(label)).flatten();
            found.extend(places.filter(|&&place| {
                self.stage(place).is_some_and(|stage| match stage.cavity.role {
                    Role::Drives(Way::Low) => away,
                    Role::Drives(Way::High) => !away,
                    _ => true,
                })
            }));
        }
        found.sort_unstable();
        found.dedup();
        found.into_iter().filter_map(|place| self.stage(place)).collect()
    }

    /// Whether a diode or a resistor takes up what a coil drives on, by way of what stands in series with it too.
    pub fn is_quenched(&self, coil: ElementId) -> bool {
        if !self.across(coil).is_empty() {
            return true;
        }
        let Some(e) = self.circuit.elements.get(coil.index()) else { return false };
        let ends = [e.from, e.to].map(|p| self.switched().of(p));
        let series = self.series();
        self.lines(e).iter().any(|(line, _)| {
            let own = line.first().copied();
            let other = ends.into_iter().flatten().find(|&end| Some(end) != own);
            let shunted =
                |net: &u32| series.steps.get(net).into_iter().flatten().any(|step| Some(step.to) == other);
            line.iter().any(shunted)
        })
    }

    /// The nets in line with either end of a coil, for current away from it and towards it.
    fn lines(&self, coil: &Element) -> Vec<(Vec<u32>, bool)> {
        let Law::Coil { ohms, .. } = &coil.law else { return Vec::new() };
        let ends = [coil.from, coil.to].into_iter().filter(|&p| p != COMMON);
        let labels = ends.filter_map(|p| self.switched().of(p));
        labels
            .flat_map(|from| [true, false].map(|away| (self.series().line(from, ohms.nominal, away), away)))
            .collect()
    }

    fn series(&self) -> &Series {
        self.series.get_or_init(|| Series::new(&self.circuit.elements, self.switched()))
    }
}
