//! Whether modules ever live.

use super::{Facts, paths::node};
use keyon_circuit::{
    ids::*,
    model::{Cavity, Module},
};
use keyon_solve::{Cancelled, Cases, NodeState};
use std::sync::Arc;

/// What a module's feeds and grounds come to over all states.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Life {
    /// It lives in some state, or describes no feed or no ground that it could lack.
    Lives,
    /// No described feed ever has continuity to a supply.
    NoFeed,
    /// … it has a feed, but no described ground ever has continuity to ground.
    NoReturn,
    /// It has both, but never in one state.
    NeverTogether,
    /// Damage, a branch that leaves the page, or too many states: nothing can be said.
    Unknown,
}

/// A module's cavity by its indices.
pub fn cavity(module: &Module, at: (usize, usize)) -> Option<&Cavity> {
    module.connectors.get(at.0)?.cavities.get(at.1)
}

impl Facts<'_> {
    /// Whether a module lives in any state, and what it lacks.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn life(&self, module: ModuleId) -> Result<Life, Cancelled> {
        if let Some(&known) = self.lives.borrow().get(&module) {
            return Ok(known);
        }
        let life = self.find_life(module)?;
        self.lives.borrow_mut().insert(module, life);
        Ok(life)
    }

    /// Whether a module is dead in every state, so that what it does not drive is not its loads' fault.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn never_alive(&self, module: ModuleId) -> Result<bool, Cancelled> {
        Ok(self.life(module)? != Life::Lives)
    }

    /// The insides of the feeds and grounds that a module describes.
    pub fn life_points(&self, module: ModuleId) -> Vec<PointId> {
        let Some(module) = self.circuit.modules.get(module.index()) else { return Vec::new() };
        let pins = module.feeds.iter().chain(&module.grounds);
        pins.filter_map(|&at| Some(cavity(module, at)?.inside)).collect()
    }

    /// Every case of the feeds and grounds that a module describes.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub(super) fn life_cases(&self, module: ModuleId) -> Result<Arc<Cases>, Cancelled> {
        if let Some(known) = self.life_cases.borrow().get(&module) {
            return Ok(known.clone());
        }
        let cases = Arc::new(self.cases_of(&self.life_points(module), &[])?);
        self.life_cases.borrow_mut().insert(module, cases.clone());
        Ok(cases)
    }

    fn find_life(&self, id: ModuleId) -> Result<Life, Cancelled> {
        let Some(module) = self.circuit.modules.get(id.index()) else { return Ok(Life::Lives) };
        let insides = |list: &[(usize, usize)]| -> Vec<PointId> {
            list.iter().filter_map(|&at| Some(cavity(module, at)?.inside)).collect()
        };
        let (feeds, grounds) = (insides(&module.feeds), insides(&module.grounds));
        let points: Vec<PointId> = feeds.iter().chain(&grounds).copied().collect();
        if points.is_empty() {
            return Ok(Life::Lives);
        }
        let (mut alive, mut fed, mut grounded) = (false, feeds.is_empty(), grounds.is_empty());
        let cases = self.life_cases(id)?;
        for case in &cases.cases {
            let solution = &case.solution;
            let any = |points: &[PointId], states: &[NodeState]| {
                points.iter().any(|&p| states.contains(&node(solution, p)))
            };
            alive |= solution.lives(id);
            fed |= any(&feeds, &[NodeState::Fed, NodeState::Clash, NodeState::Chatters]);
            grounded |= any(&grounds, &[NodeState::Grounded, NodeState::Clash, NodeState::Chatters]);
        }
        Ok(if alive {
            Life::Lives
        } else if cases.cut.is_some() || points.iter().any(|&p| self.held(p)) {
            Life::Unknown
        } else if !fed {
            Life::NoFeed
        } else if !grounded {
            Life::NoReturn
        } else {
            Life::NeverTogether
        })
    }
}
