//! What came of each row of each `expect` block: the rule reports those that fail, a report lists them all.

use super::Facts;
use crate::pieces::schedule;
use keyon_circuit::{
    ids::*,
    model::{Expect, Loc, Probe},
};
use keyon_solve::{Cancelled, Outcome, State, judge_all};

/// Elements from which on blocks are shared among threads.
const LARGE: usize = 1_000;

/// A row, judged.
#[derive(Clone, Debug)]
pub struct Judged {
    /// Index into the circuit's `expects`.
    pub expect: usize,
    /// Index into the block's rows.
    pub row: usize,
    #[allow(missing_docs)]
    pub scenario: ScenarioId,
    /// `None` where what is measured hangs on something that could not be read.
    pub outcome: Option<Outcome>,
    /// It fails only because of a short circuit, which is a finding of its own.
    pub excused: bool,
}

/// The state of a block, and what comes of its rows in it.
type Block = (State, Vec<Outcome>);

impl Facts<'_> {
    /// Every row of every block whose scenario is known, in source order.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn expectations(&self) -> Result<&[Judged], Cancelled> {
        if let Some(known) = self.expectations.get() {
            return Ok(known);
        }
        let electric = self.elaboration.electric();
        let known = self.memo.and_then(|memo| memo.judged(electric, self.settings));
        let judged = match known {
            Some(known) => known,
            None => {
                let judged = self.judge_expectations()?;
                if let Some(memo) = self.memo {
                    memo.keep_judged(electric, self.settings, &judged);
                }
                judged
            }
        };
        Ok(self.expectations.get_or_init(|| judged))
    }

    /// What comes of the rows of each block in the circuit as it stands, the blocks shared among the threads; each with its state.
    fn outcomes(&self) -> Result<Vec<Option<Block>>, Cancelled> {
        let circuit = self.circuit;
        let cancel = self.cancel;
        let judge = |expect: &Expect| {
            let mut base = State::scenario(circuit, expect.scenario?);
            base.changes.extend(expect.changes.iter().cloned());
            let outcomes = judge_all(circuit, &base, &expect.rows);
            Some((base, outcomes))
        };
        // Of a small circuit a state is solved sooner than a thread begins.
        let threads = if circuit.elements.len() < LARGE { 1 } else { self.threads };
        let none = vec![None; circuit.expects.len()];
        schedule::children_first(&none, threads, |index, _| {
            if cancel.cancelled() {
                return Err(Cancelled);
            }
            Ok(circuit.expects.get(index).and_then(judge))
        })
    }

    fn judge_expectations(&self) -> Result<Vec<Judged>, Cancelled> {
        let circuit = self.circuit;
        let mut judged = Vec::new();
        let mut all = self.outcomes()?.into_iter();
        for (index, expect) in circuit.expects.iter().enumerate() {
            if self.cancel.cancelled() {
                return Err(Cancelled);
            }
            let found = all.next().flatten();
            let Some(scenario) = expect.scenario else { continue };
            let one = |row, outcome, excused| Judged { expect: index, row, scenario, outcome, excused };
            // In a state that could not be read to its end anything may be computed.
            let found = found.filter(|_| !self.is_unread(scenario));
            let Some((base, outcomes)) = found else {
                judged.extend((0..expect.rows.len()).map(|row| one(row, None, false)));
                continue;
            };
            let mended = match self.shorts()? {
                [] => None,
                _ => Some(judge_all(circuit, &self.mend(base)?, &expect.rows)),
            };
            for (row, (said, outcome)) in expect.rows.iter().zip(outcomes).enumerate() {
                let mended = mended.as_ref().and_then(|outcomes| outcomes.get(row));
                let excused = !outcome.holds && mended.is_some_and(|m| m.holds);
                let known = outcome.holds || !self.rests_on_damage(said.probe);
                judged.push(one(row, known.then_some(outcome), excused));
            }
        }
        Ok(judged)
    }

    /// Whether a setting of a scenario could not be read or means nothing.
    fn is_unread(&self, scenario: ScenarioId) -> bool {
        let Some(loc) = self.circuit.scenarios.get(scenario.index()).map(|s| s.loc) else { return true };
        let unknown = |rule| matches!(rule, "unknown-name" | "wrong-dimension" | "impossible-value");
        let here = |at: Loc| (at.file, at.item) == (loc.file, loc.item);
        let mut problems = self.elaboration.problems.iter();
        let damaged = || {
            let items = self.elaboration.files.get(loc.file.index()).map(|f| &f.parse.file.items);
            items.and_then(|items| items.get(loc.item as usize)).is_some_and(|placed| placed.item.damaged)
        };
        problems.any(|p| unknown(p.rule) && !p.mild && here(p.loc)) || damaged()
    }

    /// Whether what is measured hangs on something that could not be read.
    fn rests_on_damage(&self, probe: Probe) -> bool {
        let circuit = self.circuit;
        let element = |e: ElementId| {
            circuit.elements.get(e.index()).is_some_and(|e| self.doubts(e.from) || self.doubts(e.to))
        };
        match probe {
            Probe::Point(p) => self.doubts(p),
            Probe::Input(m, c, k) => circuit.cavity(m, c, k).is_some_and(|c| self.doubts(c.inside)),
            Probe::Device(d) => {
                circuit.devices.get(d.index()).is_some_and(|d| d.pins.iter().any(|p| self.doubts(p.outside)))
            }
            Probe::Element(e) | Probe::Clamp(e) => {
                // What flows through a wire or a fuse is the sum of all that hangs on it, near or far.
                let sum = circuit.elements.get(e.index()).is_some_and(|e| !e.kind.is_load());
                element(e) || (sum && self.anything_doubtful())
            }
            Probe::Across(a, b) | Probe::Ohms(a, b) | Probe::Lamp(a, b) => self.doubts(a) || self.doubts(b),
        }
    }

    fn doubts(&self, point: PointId) -> bool {
        self.held(point) || self.doubtful(point)
    }
}
