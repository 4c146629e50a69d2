//! Nets: points that closed ideal joints make one.

use crate::plan::{Act, Plan};

/// Disjoint sets, each represented by its lowest member.
#[derive(Clone, Debug)]
pub(crate) struct Sets {
    parent: Vec<u32>,
}

impl Sets {
    pub(crate) fn new(count: usize) -> Self {
        Self { parent: (0..count as u32).collect() }
    }

    /// The lowest member of the set.
    pub(crate) fn find(&mut self, member: usize) -> usize {
        let mut at = member as u32;
        while self.parent[at as usize] != at {
            let above = self.parent[self.parent[at as usize] as usize];
            self.parent[at as usize] = above;
            at = above;
        }
        at as usize
    }

    /// Makes two sets one; whether they were two.
    pub(crate) fn join(&mut self, a: usize, b: usize) -> bool {
        let (a, b) = (self.find(a), self.find(b));
        // The lowest stays the representative: halving keeps the paths short all the same.
        self.parent[a.max(b)] = a.min(b) as u32;
        a != b
    }
}

/// The net of each point, numbered by its lowest point.
pub(crate) fn nets(plan: &Plan<'_>, conducts: &[bool]) -> Vec<u32> {
    let mut sets = Sets::new(plan.points);
    for (part, _) in
        plan.parts.iter().zip(conducts).filter(|(part, conducts)| **conducts && part.act == Act::Joint)
    {
        sets.join(part.from, part.to);
    }
    (0..plan.points).map(|point| sets.find(point) as u32).collect()
}
