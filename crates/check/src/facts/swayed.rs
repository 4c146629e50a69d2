//! Relays that a sensor moves: a thermistor in line with a coil, a level sender beside one. What such a relay switches works
//! at one temperature and rests at another, so the ends of the sensor's span are states that matter like those of a control.

use super::Facts;
use keyon_circuit::{
    hash::Set,
    ids::*,
    model::{ElementKind, PointKind},
};
use keyon_solve::{Case, Cases, State, Survey};

impl<'a> Facts<'a> {
    /// Surveys with all sensors that may move a relay at the low end of their spans, and at the high one; none where no
    /// sensor does.
    pub(super) fn swayed_from(&self, base: &State) -> Vec<Survey<'a>> {
        let stimuli = self.relay_stimuli();
        if stimuli.is_empty() {
            return Vec::new();
        }
        let at = |high: bool| {
            let mut base = base.clone();
            for &stimulus in &stimuli {
                let span = self.circuit.stimuli.get(stimulus.index()).map(|s| s.span);
                if let (Some((low, top)), Some(at)) = (span, base.stimuli.get_mut(stimulus.index())) {
                    *at = if high { top } else { low };
                }
            }
            Survey::new(self.circuit, &base)
        };
        vec![at(false), at(true)]
    }

    /// The stimuli of resistances that share a current with a relay's coil: from one of their ends loads and wiring lead to a
    /// coil, not through a supply, ground or a module.
    fn relay_stimuli(&self) -> Vec<StimulusId> {
        let coils: Set<PointId> = (0..self.circuit.elements.len())
            .map(ElementId::from)
            .filter(|&e| self.is_relay(e))
            .filter_map(|e| self.circuit.elements.get(e.index()))
            .flat_map(|e| [e.from, e.to])
            .collect();
        if coils.is_empty() {
            return Vec::new();
        }
        let mut found: Vec<StimulusId> = Vec::new();
        for e in &self.circuit.elements {
            let Some(stimulus) = e.law.stimulus().filter(|s| !found.contains(s)) else { continue };
            let reached = self.graph().flood(&[e.from, e.to], |element, step| {
                let kind = self.circuit.points.get(step.to.index()).map(|p| p.kind);
                let held = matches!(
                    kind,
                    Some(
                        PointKind::Supply(_)
                            | PointKind::Ground(_)
                            | PointKind::Common
                            | PointKind::Cavity(..)
                    ) | None
                );
                !held && !element.kind.is_source() && element.kind != ElementKind::Ground
            });
            if reached.order.iter().any(|p| coils.contains(p)) {
                found.push(stimulus);
            }
        }
        found
    }
}

/// Cases of one thing from another base, added to those that are known; the first stay first.
pub(super) fn add(cases: &mut Cases, more: Cases, positions: impl Fn(ControlId) -> u64) {
    let mut controls: Vec<ControlId> = cases.controls.iter().chain(&more.controls).copied().collect();
    controls.sort_unstable();
    controls.dedup();
    let widen = |case: Case, own: &[ControlId]| {
        let mask = |c: &ControlId| match own.iter().position(|o| o == c) {
            Some(at) => case.when.get(at).copied().unwrap_or(u64::MAX),
            None => positions(*c),
        };
        Case { when: controls.iter().map(mask).collect(), solution: case.solution }
    };
    let known = std::mem::take(&mut cases.cases);
    cases.cases = known.into_iter().map(|case| widen(case, &cases.controls)).collect();
    cases.cases.extend(more.cases.into_iter().map(|case| widen(case, &more.controls)));
    cases.controls = controls;
    cases.cut = cases.cut.or(more.cut);
}
