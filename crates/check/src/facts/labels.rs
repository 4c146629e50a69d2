//! Which points one kind of walk joins, for all points at once: where many walks are asked for, each costs nothing more.

use keyon_circuit::{
    ids::*,
    model::{COMMON, Circuit, Element},
};

/// Points that a walk joins have one label. The common ground joins nothing; each label knows whether it touches it.
#[derive(Debug)]
pub(super) struct Labels {
    of: Vec<u32>,
    grounded: Vec<bool>,
}

impl Labels {
    /// Over the elements that `pass`, in both directions.
    pub(super) fn new(circuit: &Circuit, pass: impl Fn(&Element) -> bool) -> Self {
        let mut of: Vec<u32> = (0..circuit.points.len() as u32).collect();
        let mut grounded = vec![false; of.len()];
        let ends = || circuit.elements.iter().filter(|e| pass(e)).map(|e| (e.from, e.to));
        for (a, b) in ends().filter(|&(a, b)| a != COMMON && b != COMMON) {
            let (a, b) = (root(&mut of, a.0), root(&mut of, b.0));
            of[a.max(b) as usize] = a.min(b);
        }
        for point in 0..of.len() as u32 {
            of[point as usize] = root(&mut of, point);
        }
        for (a, b) in ends().filter(|&(a, b)| a == COMMON || b == COMMON) {
            let other = if a == COMMON { b } else { a };
            let label = of.get(other.index()).copied().unwrap_or_default();
            grounded[label as usize] = true;
        }
        Self { of, grounded }
    }

    /// Whether a walk from one point reaches another.
    pub(super) fn joins(&self, from: PointId, to: PointId) -> bool {
        let label = |p: PointId| self.of.get(p.index()).copied();
        let touches = |p: PointId| label(p).is_some_and(|l| self.grounded.get(l as usize) == Some(&true));
        match (from == COMMON, to == COMMON) {
            (true, true) => true,
            (true, false) => touches(to),
            (false, true) => touches(from),
            (false, false) => label(from) == label(to),
        }
    }

    /// The label of a point.
    pub(super) fn of(&self, point: PointId) -> Option<u32> {
        self.of.get(point.index()).copied()
    }
}

fn root(of: &mut [u32], mut at: u32) -> u32 {
    while of[at as usize] != at {
        let above = of[of[at as usize] as usize];
        of[at as usize] = above;
        at = above;
    }
    at
}
