//! Brings all states of a set to rest at once: modules, diodes, relays, as `settle` does for one state.

use super::{compile::Compiled, graph::Input, program::{Algebra, Op, Program}};
use crate::{Cancel, Cancelled};

/// Rounds in which diodes and modules have to agree.
const ROUNDS: usize = 64;

/// Values of all inputs of a set of states, and what of them is in doubt.
pub(crate) struct Settled<A: Algebra> {
    /// By number of input.
    pub(crate) given: Vec<A::Value>,
    /// Something that was asked for hangs on what is not decided here.
    pub(crate) doubt: A::Value,
    file: Vec<A::Value>,
}

impl<A: Algebra> Settled<A> {
    pub(crate) fn new(algebra: &A, compiled: &Compiled) -> Self {
        let no = algebra.constant(false);
        Self { given: vec![no.clone(); compiled.inputs.len()], doubt: no, file: Vec::new() }
    }

    /// Settles: `given` has the values of the controls' inputs.
    ///
    /// # Errors
    /// When `cancel` asks for it.
    pub(crate) fn settle(
        &mut self,
        algebra: &mut A,
        compiled: &Compiled,
        cancel: &dyn Cancel,
    ) -> Result<(), Cancelled> {
        let no = algebra.constant(false);
        self.doubt = no.clone();
        for (at, input) in compiled.inputs.iter().enumerate() {
            if !matches!(input, Input::At { .. }) {
                self.given[at] = no.clone();
            }
        }
        let (coils, program) = &compiled.coils;
        let most = 16 + 4 * coils.len();
        for round in 0..=most {
            if cancel.cancelled() {
                return Err(Cancelled);
            }
            self.flow(algebra, compiled);
            program.run(algebra, &self.given, &mut self.file);
            let mut changed = no.clone();
            for (at, &coil) in coils.iter().enumerate() {
                let next = program.output(&self.file, at).clone();
                let doubt = program.output(&self.file, coils.len() + at).clone();
                either(algebra, &mut self.doubt, &doubt);
                let (mut up, mut down) = (no.clone(), no.clone());
                algebra.apply(Op::Without, &next, &self.given[coil as usize], &mut up);
                algebra.apply(Op::Without, &self.given[coil as usize], &next, &mut down);
                either(algebra, &mut changed, &up);
                either(algebra, &mut changed, &down);
                self.given[coil as usize] = next;
            }
            let blows = program.output(&self.file, 2 * coils.len()).clone();
            either(algebra, &mut self.doubt, &blows);
            // What is in doubt anyway need not come to rest.
            let mut moving = no.clone();
            algebra.apply(Op::Without, &changed, &self.doubt, &mut moving);
            if moving == no {
                return Ok(());
            }
            if round == most {
                either(algebra, &mut self.doubt, &moving);
            }
        }
        Ok(())
    }

    /// Modules and diodes, for coils as they are.
    fn flow(&mut self, algebra: &mut A, compiled: &Compiled) {
        let no = algebra.constant(false);
        let (diodes, program) = &compiled.diodes;
        for &diode in diodes {
            self.given[diode as usize] = no.clone();
        }
        for round in 0..ROUNDS {
            self.alive(algebra, compiled);
            if diodes.is_empty() {
                return;
            }
            let before: Vec<A::Value> = diodes.iter().map(|&d| self.given[d as usize].clone()).collect();
            // What is proved stays proved while nothing else changes, and helps to prove the rest.
            for &diode in diodes {
                self.given[diode as usize] = no.clone();
            }
            while {
                program.run(algebra, &self.given, &mut self.file);
                self.more(algebra, diodes, program)
            } {}
            let same = diodes.iter().zip(&before).all(|(&d, b)| self.given[d as usize] == *b);
            if same || round + 1 == ROUNDS {
                for at in 0..diodes.len() {
                    // A diode that was proved by others than itself is in no doubt.
                    let mut doubt = no.clone();
                    let open = program.output(&self.file, diodes.len() + at);
                    algebra.apply(Op::Without, open, &self.given[diodes[at] as usize], &mut doubt);
                    either(algebra, &mut self.doubt, &doubt);
                }
                if !same {
                    self.doubt = algebra.constant(true);
                }
                return;
            }
        }
    }

    /// Adds diodes that were proved to conduct; whether there were any.
    fn more(&mut self, algebra: &mut A, diodes: &[u32], program: &Program) -> bool {
        let mut news = false;
        for (at, &diode) in diodes.iter().enumerate() {
            let mut all = self.given[diode as usize].clone();
            either(algebra, &mut all, program.output(&self.file, at));
            news |= all != self.given[diode as usize];
            self.given[diode as usize] = all;
        }
        news
    }

    /// From all dead upwards, until nothing more comes alive.
    fn alive(&mut self, algebra: &mut A, compiled: &Compiled) {
        let no = algebra.constant(false);
        let (alive, program) = &compiled.alive;
        for &a in alive {
            self.given[a as usize] = no.clone();
        }
        if alive.is_empty() {
            return;
        }
        let mut news = true;
        while news {
            program.run(algebra, &self.given, &mut self.file);
            news = false;
            for (at, &a) in alive.iter().enumerate() {
                let mut all = self.given[a as usize].clone();
                either(algebra, &mut all, program.output(&self.file, at));
                news |= all != self.given[a as usize];
                self.given[a as usize] = all;
            }
        }
    }

    /// Runs the program of what was asked; its outputs can then be read.
    pub(crate) fn answer(&mut self, algebra: &mut A, compiled: &Compiled) {
        compiled.answer.run(algebra, &self.given, &mut self.file);
        let doubt = compiled.answer.output(&self.file, compiled.columns.doubt as usize).clone();
        either(algebra, &mut self.doubt, &doubt);
    }

    /// A column of the answer.
    pub(crate) fn column(&self, compiled: &Compiled, at: u32) -> &A::Value {
        compiled.answer.output(&self.file, at as usize)
    }
}

fn either<A: Algebra>(algebra: &mut A, all: &mut A::Value, more: &A::Value) {
    let mut out = algebra.constant(false);
    algebra.apply(Op::Or, all, more, &mut out);
    *all = out;
}
