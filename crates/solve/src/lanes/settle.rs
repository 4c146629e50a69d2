//! Brings all states of a set to rest at once: modules, diodes, relays, as `settle` does for one state.

use super::{
    compile::Compiled,
    graph::Input,
    program::{Algebra, Op},
};
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
        let (mut changed, mut moved) = (no.clone(), no.clone());
        for round in 0..=most {
            if cancel.cancelled() {
                return Err(Cancelled);
            }
            self.flow(algebra, compiled);
            program.run(algebra, &self.given, &mut self.file);
            changed.clone_from(&no);
            for (at, &coil) in coils.iter().enumerate() {
                let next = program.output(&self.file, at);
                algebra.add(&mut self.doubt, program.output(&self.file, coils.len() + at));
                let now = &mut self.given[coil as usize];
                algebra.apply(Op::Without, next, now, &mut moved);
                algebra.add(&mut changed, &moved);
                algebra.apply(Op::Without, now, next, &mut moved);
                algebra.add(&mut changed, &moved);
                now.clone_from(next);
            }
            algebra.add(&mut self.doubt, program.output(&self.file, 2 * coils.len()));
            // What is in doubt anyway need not come to rest.
            algebra.apply(Op::Without, &changed, &self.doubt, &mut moved);
            if moved == no {
                return Ok(());
            }
            if round == most {
                algebra.add(&mut self.doubt, &moved);
            }
        }
        Ok(())
    }

    /// Modules and diodes, for coils as they are.
    fn flow(&mut self, algebra: &mut A, compiled: &Compiled) {
        let no = algebra.constant(false);
        let (diodes, program) = &compiled.diodes;
        for &diode in diodes {
            self.given[diode as usize].clone_from(&no);
        }
        let mut before = Vec::new();
        for round in 0..ROUNDS {
            self.alive(algebra, compiled);
            if diodes.is_empty() {
                return;
            }
            before.clear();
            // What is proved stays proved while nothing else changes, and helps to prove the rest.
            for &diode in diodes {
                before.push(std::mem::replace(&mut self.given[diode as usize], no.clone()));
            }
            loop {
                program.run(algebra, &self.given, &mut self.file);
                let mut news = false;
                for (at, &diode) in diodes.iter().enumerate() {
                    news |= algebra.add(&mut self.given[diode as usize], program.output(&self.file, at));
                }
                if !news {
                    break;
                }
            }
            let same = diodes.iter().zip(&before).all(|(&d, b)| self.given[d as usize] == *b);
            if same || round + 1 == ROUNDS {
                let mut doubt = no.clone();
                for (at, &diode) in diodes.iter().enumerate() {
                    // A diode that was proved by others than itself is in no doubt.
                    let open = program.output(&self.file, diodes.len() + at);
                    algebra.apply(Op::Without, open, &self.given[diode as usize], &mut doubt);
                    algebra.add(&mut self.doubt, &doubt);
                }
                if !same {
                    self.doubt = algebra.constant(true);
                }
                return;
            }
        }
    }

    /// From all dead upwards, until nothing more comes alive.
    fn alive(&mut self, algebra: &mut A, compiled: &Compiled) {
        let no = algebra.constant(false);
        let (alive, program) = &compiled.alive;
        for &a in alive {
            self.given[a as usize].clone_from(&no);
        }
        let mut news = !alive.is_empty();
        while news {
            program.run(algebra, &self.given, &mut self.file);
            news = false;
            for (at, &a) in alive.iter().enumerate() {
                news |= algebra.add(&mut self.given[a as usize], program.output(&self.file, at));
            }
        }
    }

    /// Runs the program of what was asked; its outputs can then be read.
    pub(crate) fn answer(&mut self, algebra: &mut A, compiled: &Compiled) {
        compiled.answer.run(algebra, &self.given, &mut self.file);
        algebra.add(&mut self.doubt, compiled.answer.output(&self.file, compiled.columns.doubt as usize));
    }

    /// A column of the answer.
    pub(crate) fn column(&self, compiled: &Compiled, at: u32) -> &A::Value {
        compiled.answer.output(&self.file, at as usize)
    }
}
