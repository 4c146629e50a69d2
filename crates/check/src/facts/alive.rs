//! What an input gets in the states in which its module is alive, and which controls decide over that life.

use super::{Facts, signals::Input};
use keyon_circuit::ids::*;
use keyon_solve::{Cancelled, Case, Cases, Solution, solve};
use std::sync::Arc;

/// Cases of a module's life that are looked at.
const CASES: usize = 256;

/// Positions of some controls, a bit each; a control that is not named may stand anywhere.
type Masks = Vec<(ControlId, u64)>;

/// The states of an input, apart by its module's life.
pub struct Lives {
    #[allow(missing_docs)]
    pub alive: Vec<Living>,
    /// Where the module is dead.
    pub dead: Vec<Arc<Solution>>,
    /// The controls of which one alone may kill the module.
    pub decide: Vec<ControlId>,
}

/// A case in which the module is alive.
pub struct Living {
    /// Where its controls may stand.
    when: Vec<Masks>,
    #[allow(missing_docs)]
    pub solution: Arc<Solution>,
}

impl Living {
    /// Whether both may be with these controls where they are.
    pub fn is_beside(&self, other: &Self, controls: &[ControlId]) -> bool {
        let meet = |a: &Masks, b: &Masks| controls.iter().all(|&c| mask(a, c) & mask(b, c) != 0);
        self.when.iter().any(|a| other.when.iter().any(|b| meet(a, b)))
    }
}

impl Facts<'_> {
    /// The cases of what an input gets, apart by its module's life; `None` where there are too many.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn lives_of(&self, input: &Input<'_>, cases: &Cases) -> Result<Option<Lives>, Cancelled> {
        let lives = |s: &Solution| s.lives(input.module);
        let of_life = self.life_cases(input.module)?;
        if of_life.cut.is_some() || of_life.cases.len() > CASES || cases.cut.is_some() {
            return Ok(None);
        }
        let (awake, asleep): (Vec<&Case>, Vec<&Case>) =
            of_life.cases.iter().partition(|c| lives(&c.solution));
        let mut found =
            Lives { alive: Vec::new(), dead: Vec::new(), decide: decide(&of_life, &awake, &asleep) };
        let awake: Vec<Masks> = awake.into_iter().map(|case| masks(&of_life, case)).collect();
        for case in &cases.cases {
            let own = masks(cases, case);
            let when: Vec<Masks> = awake.iter().filter_map(|awake| meet(&own, awake)).collect();
            if lives(&case.solution) {
                let when = if when.is_empty() { vec![own] } else { when };
                found.alive.push(Living { when, solution: case.solution.clone() });
                continue;
            }
            found.dead.push(case.solution.clone());
            // The same reading may stand for states in which it lives.
            let Some(first) = when.first() else { continue };
            let mut state = case.solution.state.clone();
            for &(control, mask) in first {
                let Some(at) = state.positions.get_mut(control.index()) else { continue };
                if mask.checked_shr(u32::from(*at)).unwrap_or(0) & 1 == 0 {
                    *at = u8::try_from(mask.trailing_zeros()).unwrap_or(0);
                }
            }
            let solution = solve(self.circuit, &state);
            if lives(&solution) {
                found.alive.push(Living { when, solution: Arc::new(solution) });
            }
        }
        Ok(Some(found))
    }

    /// Whether a contact opens and closes while a module is alive, with these controls where they are.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn moves_while_alive(
        &self,
        contact: ElementId,
        module: ModuleId,
        controls: &[ControlId],
    ) -> Result<bool, Cancelled> {
        let cases = self.cases_of(&self.life_points(module), &[contact])?;
        let lives = |s: &Solution| s.lives(module);
        let closed = |s: &Solution| s.conducts.get(contact.index()).copied().unwrap_or(false);
        let alive = cases.cases.iter().filter(|case| lives(&case.solution));
        let alive: Vec<(bool, Living)> = alive
            .map(|case| {
                let when = vec![masks(&cases, case)];
                (closed(&case.solution), Living { when, solution: case.solution.clone() })
            })
            .collect();
        Ok(alive.len() <= CASES
            && alive
                .iter()
                .filter(|(closed, _)| *closed)
                .any(|(_, a)| alive.iter().any(|(closed, b)| !closed && a.is_beside(b, controls))))
    }
}

fn masks(cases: &Cases, case: &Case) -> Masks {
    cases.controls.iter().copied().zip(case.when.iter().copied()).collect()
}

fn mask(masks: &Masks, control: ControlId) -> u64 {
    masks.iter().find(|(c, _)| *c == control).map_or(u64::MAX, |(_, mask)| *mask)
}

/// What two sets of positions have in common.
fn meet(a: &Masks, b: &Masks) -> Option<Masks> {
    let mut both: Masks = a.iter().map(|&(c, m)| (c, m & mask(b, c))).collect();
    both.extend(b.iter().copied().filter(|(c, _)| !a.iter().any(|(other, _)| other == c)));
    both.iter().all(|(_, mask)| *mask != 0).then_some(both)
}

/// The controls by which alone a case of life and one of death are apart.
fn decide(cases: &Cases, awake: &[&Case], asleep: &[&Case]) -> Vec<ControlId> {
    let apart = |a: &Case, b: &Case, i: usize| {
        let masks = a.when.iter().zip(&b.when).enumerate();
        masks.into_iter().all(|(j, (a, b))| (a & b == 0) == (i == j))
    };
    let controls = cases.controls.iter().enumerate();
    let deciding = controls.filter(|&(i, _)| awake.iter().any(|a| asleep.iter().any(|b| apart(a, b, i))));
    deciding.map(|(_, &control)| control).collect()
}
