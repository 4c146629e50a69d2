//! Expressions as a straight line of steps over a few registers. The same line runs over words of states (see `block`)
//! and over decision diagrams (see `diagram`).

use super::dag::{Bit, Dag, Node};
use std::collections::BTreeMap;

/// What the values of a program are.
pub(crate) trait Algebra {
    /// One value.
    type Value: Clone + PartialEq;
    /// The value that is the same everywhere.
    fn constant(&self, yes: bool) -> Self::Value;
    /// `a` and `b`, `a` or `b`, `a` without `b`, into `out`.
    fn apply(&mut self, op: Op, a: &Self::Value, b: &Self::Value, out: &mut Self::Value);
    /// `all` or `more`, into `all`; whether that is news.
    fn add(&mut self, all: &mut Self::Value, more: &Self::Value) -> bool;
}

/// What a step does with two values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)]
pub(crate) enum Op {
    And,
    Or,
    Without,
}

#[derive(Clone, Copy, Debug)]
struct Step {
    op: Op,
    out: u32,
    a: u32,
    b: u32,
}

/// See the module's page. Registers 0 and 1 hold no and yes, then come the inputs, then what is in work.
#[derive(Clone, Debug)]
pub(crate) struct Program {
    /// Numbers of the inputs that it reads, by register less two.
    pub(crate) inputs: Vec<u32>,
    steps: Vec<Step>,
    outputs: Vec<u32>,
    registers: usize,
}

impl Program {
    /// The program that computes `outputs`.
    pub(crate) fn new(dag: &Dag, outputs: &[Bit]) -> Self {
        let order = dag.below(outputs);
        let mut last: BTreeMap<Bit, usize> = BTreeMap::new();
        for (at, &bit) in order.iter().enumerate() {
            if let Node::And(a, b) | Node::Or(a, b) | Node::Without(a, b) = dag.node(bit) {
                last.insert(a, at);
                last.insert(b, at);
            }
        }
        for &output in outputs {
            last.insert(output, usize::MAX);
        }
        let inputs: Vec<(Bit, u32)> = order
            .iter()
            .filter_map(|&bit| match dag.node(bit) {
                Node::Input(number) => Some((bit, number)),
                _ => None,
            })
            .collect();
        let mut place: BTreeMap<Bit, u32> = BTreeMap::from([(super::dag::NO, 0), (super::dag::YES, 1)]);
        for (at, &(bit, _)) in inputs.iter().enumerate() {
            place.insert(bit, at as u32 + 2);
        }
        let fixed = inputs.len() as u32 + 2;
        let mut registers = fixed;
        let mut free: Vec<u32> = Vec::new();
        let mut steps = Vec::new();
        for (at, &bit) in order.iter().enumerate() {
            let (op, a, b) = match dag.node(bit) {
                Node::And(a, b) => (Op::And, a, b),
                Node::Or(a, b) => (Op::Or, a, b),
                Node::Without(a, b) => (Op::Without, a, b),
                Node::Constant(_) | Node::Input(_) => continue,
            };
            let (ra, rb) = (place.get(&a).copied().unwrap_or(0), place.get(&b).copied().unwrap_or(0));
            // Taken before the operands are given back: a step never writes what it reads.
            let out = free.pop().unwrap_or_else(|| {
                registers += 1;
                registers - 1
            });
            place.insert(bit, out);
            steps.push(Step { op, out, a: ra, b: rb });
            for (part, register) in [(a, ra), (b, rb)] {
                if last.get(&part) == Some(&at) && register >= fixed {
                    free.push(register);
                }
            }
        }
        let outputs = outputs.iter().map(|bit| place.get(bit).copied().unwrap_or(0)).collect();
        let inputs = inputs.into_iter().map(|(_, number)| number).collect();
        Self { inputs, steps, outputs, registers: registers as usize }
    }

    /// How many steps a run takes.
    pub(crate) fn len(&self) -> usize {
        self.steps.len()
    }

    /// Runs it. `given` has a value for each input's number; `file` are registers to work in, kept between runs.
    pub(crate) fn run<A: Algebra>(&self, algebra: &mut A, given: &[A::Value], file: &mut Vec<A::Value>) {
        if file.len() < self.registers.max(2) {
            file.resize(self.registers.max(2), algebra.constant(false));
        }
        file[0] = algebra.constant(false);
        file[1] = algebra.constant(true);
        for (at, &number) in self.inputs.iter().enumerate() {
            file[at + 2].clone_from(&given[number as usize]);
        }
        for step in &self.steps {
            let [out, a, b] = [step.out as usize, step.a as usize, step.b as usize];
            // Never refused: the three are different, for expressions of one value with itself fold away.
            if let Ok([out, a, b]) = file.get_disjoint_mut([out, a, b]) {
                algebra.apply(step.op, a, b, out);
            }
        }
    }

    /// What output number `at` came to in the last run over these registers.
    pub(crate) fn output<'f, V>(&self, file: &'f [V], at: usize) -> &'f V {
        &file[self.outputs[at] as usize]
    }
}
