//! Boolean expressions over what is open: equal ones are one, and constants fold away.

use keyon_circuit::hash::{Map, Set};

/// An expression of a [`Dag`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) struct Bit(pub(crate) u32);

/// Never.
pub(crate) const NO: Bit = Bit(0);
/// Always.
pub(crate) const YES: Bit = Bit(1);

/// What an expression is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) enum Node {
    /// [`NO`] and [`YES`].
    Constant(bool),
    /// Something given from outside, by its number.
    Input(u32),
    And(Bit, Bit),
    Or(Bit, Bit),
    /// The first and not the second.
    Without(Bit, Bit),
}

/// Expressions, each after those that it is made of.
#[derive(Debug)]
pub(crate) struct Dag {
    nodes: Vec<Node>,
    index: Map<Node, Bit>,
}

impl Dag {
    pub(crate) fn new() -> Self {
        let nodes = vec![Node::Constant(false), Node::Constant(true)];
        Self { nodes, index: Map::default() }
    }

    pub(crate) fn node(&self, bit: Bit) -> Node {
        self.nodes.get(bit.0 as usize).copied().unwrap_or(Node::Constant(false))
    }

    pub(crate) fn len(&self) -> usize {
        self.nodes.len()
    }

    fn make(&mut self, node: Node) -> Bit {
        let next = Bit(self.nodes.len() as u32);
        let bit = *self.index.entry(node).or_insert(next);
        if bit == next {
            self.nodes.push(node);
        }
        bit
    }

    pub(crate) fn input(&mut self, number: u32) -> Bit {
        self.make(Node::Input(number))
    }

    pub(crate) fn and(&mut self, a: Bit, b: Bit) -> Bit {
        let (a, b) = (a.min(b), a.max(b));
        match (a, b) {
            (NO, _) => return NO,
            (YES, b) => return b,
            _ if a == b => return a,
            _ => {}
        }
        for (x, y) in [(a, b), (b, a)] {
            match self.node(y) {
                // x and (x and z); x and (x or z)
                Node::And(p, q) if p == x || q == x => return y,
                Node::Or(p, q) if p == x || q == x => return x,
                Node::Without(p, q) => {
                    if q == x {
                        return NO;
                    }
                    if p == x {
                        return y;
                    }
                    if p == YES {
                        return self.without(x, q);
                    }
                }
                _ => {}
            }
        }
        self.make(Node::And(a, b))
    }

    pub(crate) fn or(&mut self, a: Bit, b: Bit) -> Bit {
        let (a, b) = (a.min(b), a.max(b));
        match (a, b) {
            (NO, b) => return b,
            (YES, _) => return YES,
            _ if a == b => return a,
            _ => {}
        }
        for (x, y) in [(a, b), (b, a)] {
            match self.node(y) {
                Node::And(p, q) if p == x || q == x => return x,
                Node::Or(p, q) if p == x || q == x => return y,
                Node::Without(p, q) => {
                    if p == x {
                        return x;
                    }
                    // x or (z and not x)
                    if q == x {
                        return self.or(x, p);
                    }
                }
                _ => {}
            }
        }
        self.make(Node::Or(a, b))
    }

    /// `a` and not `b`.
    pub(crate) fn without(&mut self, a: Bit, b: Bit) -> Bit {
        match (a, b) {
            (NO, _) | (_, YES) => return NO,
            (_, NO) => return a,
            _ if a == b => return NO,
            _ => {}
        }
        match self.node(b) {
            Node::Without(YES, q) => return self.and(a, q),
            Node::Or(p, q) if p == a || q == a => return NO,
            Node::Without(p, q) if p == a => return self.and(a, q),
            Node::Without(_, q) if q == a => return a,
            _ => {}
        }
        match self.node(a) {
            Node::And(p, q) if p == b || q == b => return NO,
            Node::Without(_, q) if q == b => return a,
            Node::Without(p, _) if p == b => return NO,
            _ => {}
        }
        self.make(Node::Without(a, b))
    }

    pub(crate) fn not(&mut self, a: Bit) -> Bit {
        self.without(YES, a)
    }

    pub(crate) fn any(&mut self, bits: impl IntoIterator<Item = Bit>) -> Bit {
        bits.into_iter().fold(NO, |all, bit| self.or(all, bit))
    }

    /// All expressions that these are made of, each after its parts.
    pub(crate) fn below(&self, roots: &[Bit]) -> Vec<Bit> {
        let mut wanted = Set::default();
        let mut stack: Vec<Bit> = roots.to_vec();
        while let Some(bit) = stack.pop() {
            if wanted.insert(bit)
                && let Node::And(a, b) | Node::Or(a, b) | Node::Without(a, b) = self.node(bit)
            {
                stack.extend([a, b]);
            }
        }
        let mut order: Vec<Bit> = wanted.into_iter().collect();
        order.sort_unstable();
        order
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_expressions_are_one_and_constants_fold() {
        let mut dag = Dag::new();
        let (a, b) = (dag.input(0), dag.input(1));
        assert_eq!(dag.and(a, b), dag.and(b, a));
        assert_eq!(dag.and(a, NO), NO);
        assert_eq!(dag.or(a, YES), YES);
        let ab = dag.and(a, b);
        assert_eq!(dag.or(a, ab), a);
        let not_a = dag.not(a);
        assert_eq!(dag.and(a, not_a), NO);
        assert_eq!(dag.not(not_a), a);
        let mixed = dag.without(b, a);
        assert_eq!(dag.or(a, mixed), dag.or(a, b));
    }
}
