//! Which controls close a path.

use super::Facts;
use keyon_circuit::{
    ids::*,
    model::{Change, ElementKind, When},
};
use keyon_solve::{Cancelled, Cases, DEFAULT_LIMIT, Solution, State, Survey, solve};

/// What has to hold for a path to be closed.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Need {
    pub(super) controls: Vec<(ControlId, u64)>,
    /// Contacts that a relay moves.
    pub(super) relays: Vec<(ElementId, bool, ElementId)>,
}

/// Pieces of a short's wiring that are opened to see whether the rest is closed.
const PIECES: usize = 6;

impl Need {
    pub(super) fn with(&self, element: ElementId, when: When) -> Option<Self> {
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
    pub(super) fn within(&self, other: &Self) -> bool {
        self.controls
            .iter()
            .all(|(c, mask)| other.controls.iter().any(|(o, narrower)| o == c && narrower & !mask == 0))
            && self.relays.iter().all(|(c, open, _)| other.relays.iter().any(|(o, p, _)| o == c && p == open))
    }
}

impl Facts<'_> {
    /// The controls that close a path, as few as may be.
    pub(super) fn closing(
        &self,
        need: &Need,
        through: &[ElementId],
        changes: &[Change],
        closed: impl Fn(&Solution) -> bool,
    ) -> Result<Option<Vec<(ControlId, usize)>>, Cancelled> {
        for state in self.states_of(need, through, changes)? {
            if closed(&solve(self.circuit, &state)) {
                return Ok(Some(self.fewest(&state, closed).0));
            }
        }
        Ok(None)
    }

    /// A short may take away what holds its own contacts closed, so that no state with it settles. Then it is looked for
    /// with one piece of its wiring open, near the one to blame: if all else is closed, putting that piece back shorts.
    pub(super) fn closing_but_for_one(
        &self,
        need: &Need,
        through: &[ElementId],
        path: &[ElementId],
        blame: ElementId,
        cut: &[Change],
    ) -> Result<Option<Vec<(ControlId, usize)>>, Cancelled> {
        use ElementKind::{Diode, Inline, Terminal, Tie, Wire};
        let kind = |e: &ElementId| self.circuit.elements.get(e.index()).map(|e| e.kind);
        let at = path.iter().position(|&e| e == blame).unwrap_or_default();
        let mut pieces: Vec<(usize, ElementId)> = path
            .iter()
            .enumerate()
            .filter(|(_, e)| matches!(kind(e), Some(Wire | Tie | Terminal | Inline)))
            .map(|(i, &e)| (i.abs_diff(at), e))
            .collect();
        pieces.sort_unstable();
        for (_, piece) in pieces.into_iter().take(PIECES) {
            let mut changes = cut.to_vec();
            changes.push(Change::Open(piece));
            // A diode with an open end blocks; it lies the right way round, or the path would not run through it.
            let closed = |solution: &Solution| {
                let others = through.iter().filter(|&&e| e != piece && kind(&e) != Some(Diode));
                others.into_iter().all(|e| solution.conducts.get(e.index()).copied().unwrap_or(false))
            };
            if let Some(away) = self.closing(need, through, &changes, closed)? {
                return Ok(Some(away));
            }
        }
        Ok(None)
    }

    /// States in which the controls and relays stand as a path needs them, and the modules it runs through live.
    fn states_of(
        &self,
        need: &Need,
        through: &[ElementId],
        changes: &[Change],
    ) -> Result<Vec<State>, Cancelled> {
        let mut base = self.base();
        base.changes.extend(changes.iter().cloned());
        let changed = (!changes.is_empty()).then(|| Survey::new(self.circuit, &base));
        let cases_of = |points: &[PointId], elements: &[ElementId]| match &changed {
            Some(survey) => survey.cases_of(points, elements, DEFAULT_LIMIT, self.cancel),
            None => self.cases_of(points, elements),
        };
        let mut masks = vec![u64::MAX; self.circuit.controls.len()];
        for &(control, mask) in &need.controls {
            if let Some(m) = masks.get_mut(control.index()) {
                *m &= mask;
            }
        }
        let mut all = vec![masks];
        for &(_, _, contact) in &need.relays {
            let closed = |s: &Solution| s.conducts.get(contact.index()).copied().unwrap_or(false);
            all = narrowed(&all, &cases_of(&[], &[contact])?, closed);
        }
        let mut modules: Vec<ModuleId> =
            through.iter().filter_map(|e| self.circuit.elements.get(e.index())?.alive).collect();
        modules.sort_unstable();
        modules.dedup();
        for module in modules {
            let points = self.life_points(module);
            if !points.is_empty() {
                let alive = |s: &Solution| s.lives(module);
                all = narrowed(&all, &cases_of(&points, &[])?, alive);
            }
        }
        Ok(all
            .into_iter()
            .map(|masks| {
                let mut state = base.clone();
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
