//! Diodes that hold an input, or stand between it and what was to change it.

use super::{Facts, signals::Input};
use keyon_circuit::{
    ids::*,
    model::{Change, ElementKind, Owner},
};
use keyon_solve::{Cancelled, DEFAULT_LIMIT, NodeState, Solution, State, Survey, solve};

/// A diode that keeps an input where it is.
#[derive(Clone, Copy, Debug)]
pub struct Holding {
    #[allow(missing_docs)]
    pub diode: ElementId,
    /// Without it the input would change: it leads away what reaches the input. Else it blocks.
    pub leads_away: bool,
    /// Turned round it would let the input change.
    pub turn: bool,
}

impl Facts<'_> {
    /// Diodes in the wiring that end on the wire of an input.
    fn diodes_on(&self, input: &Input<'_>) -> Vec<ElementId> {
        let own = self.wired(input.cavity.outside);
        let elements = self.circuit.elements.iter().enumerate();
        let diodes = elements.filter(|(_, e)| {
            e.kind == ElementKind::Diode
                && !matches!(e.owner, Owner::Module(..))
                && (own.has(e.from) != own.has(e.to))
        });
        diodes.map(|(i, _)| i.into()).collect()
    }

    /// A state without a diode, and one with it the other way round.
    fn without(&self, state: &State, diode: ElementId) -> Option<[State; 2]> {
        let e = self.circuit.elements.get(diode.index())?;
        let mut open = state.clone();
        open.changes.push(Change::Open(diode));
        let mut turned = open.clone();
        turned.changes.push(Change::Add { from: e.to, to: e.from, law: e.law.clone() });
        Some([open, turned])
    }

    /// The diode that keeps an input from changing, if without it or with it turned round one of these states gives `another`
    /// reading.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn holding_diode(
        &self,
        input: &Input<'_>,
        states: &[State],
        another: impl Fn(&Solution) -> bool,
    ) -> Result<Option<Holding>, Cancelled> {
        for diode in self.diodes_on(input) {
            let mut found = [false; 2];
            for state in states {
                if self.cancel.cancelled() {
                    return Err(Cancelled);
                }
                for (found, state) in found.iter_mut().zip(self.without(state, diode).iter().flatten()) {
                    *found = *found || another(&solve(self.circuit, state));
                }
            }
            let [leads_away, turn] = found;
            if leads_away || turn {
                return Ok(Some(Holding { diode, leads_away, turn }));
            }
        }
        Ok(None)
    }

    /// The diode without which a supply or a reference would reach an input in some state.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn drained_by(&self, input: &Input<'_>) -> Result<Option<ElementId>, Cancelled> {
        use NodeState::{Between, Fed, FedViaLoad, Referenced};
        let base = self.mend(self.base())?;
        for diode in self.diodes_on(input) {
            let Some([open, _]) = self.without(&base, diode) else { continue };
            let inside = input.cavity.inside;
            let cases =
                Survey::new(self.circuit, &open).cases_of(&[inside], &[], DEFAULT_LIMIT, self.cancel)?;
            let fed = |s: &Solution| {
                matches!(super::paths::node(s, inside), Fed | Referenced | FedViaLoad | Between)
            };
            if cases.cases.iter().any(|case| fed(&case.solution)) {
                return Ok(Some(diode));
            }
        }
        Ok(None)
    }
}
