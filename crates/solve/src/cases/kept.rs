//! What surveys of one circuit have in common, kept from one to the next: for who asks about the same circuit again and again.

use super::{explore::FactsKey, facts::Facts, frame::Body};
use crate::{Solution, State, Survey, solve};
use keyon_circuit::{Likeness, hash::Map, model::Circuit};
use std::{
    hash::Hash,
    sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError},
};

/// Answers by question, of which those that were asked for last can be kept.
#[derive(Debug)]
pub(crate) struct Recent<K, V> {
    known: Map<K, (u64, V)>,
    /// How often something was asked for.
    asked: u64,
}

impl<K, V> Default for Recent<K, V> {
    fn default() -> Self {
        Self { known: Map::default(), asked: 0 }
    }
}

impl<K: Hash + Eq, V: Clone> Recent<K, V> {
    pub(crate) fn get<Q: Hash + Eq + ?Sized>(&mut self, key: &Q) -> Option<V>
    where
        K: std::borrow::Borrow<Q>,
    {
        self.asked += 1;
        let (last, value) = self.known.get_mut(key)?;
        *last = self.asked;
        Some(value.clone())
    }

    /// What is known of it, else this.
    pub(crate) fn keep(&mut self, key: K, value: V) -> V {
        self.asked += 1;
        let (last, value) = self.known.entry(key).or_insert((0, value));
        *last = self.asked;
        value.clone()
    }

    /// Forgets all but so many.
    pub(crate) fn shrink(&mut self, most: usize) {
        if self.known.len() <= most {
            return;
        }
        let mut times: Vec<u64> = self.known.values().map(|(last, _)| *last).collect();
        times.sort_unstable();
        let from = times.get(times.len() - most).copied().unwrap_or(u64::MAX);
        self.known.retain(|_, (last, _)| *last >= from);
    }
}

/// What is known of a circuit in one base state.
#[derive(Debug, Default)]
pub(crate) struct Kept {
    /// By the positions of all controls.
    pub(crate) solved: Mutex<Recent<Vec<u8>, Arc<Solution>>>,
    /// With points over lasting joints merged, and with every joint an edge.
    pub(crate) sides: [Side; 2],
}

/// What is known of it in one of the two ways to look at it.
#[derive(Debug, Default)]
pub(crate) struct Side {
    pub(crate) frame: OnceLock<Arc<Body>>,
    pub(crate) facts: Mutex<Recent<FactsKey, Arc<Facts>>>,
    /// The most that each edge carries, by a bound.
    pub(crate) bounds: OnceLock<Vec<f64>>,
}

/// Keeps states that were solved, and what surveys found, as long as nothing that flows changes. One for a document.
#[derive(Debug, Default)]
pub struct Memory {
    last: Mutex<Option<Last>>,
}

#[derive(Debug)]
struct Last {
    of: Likeness,
    base: State,
    kept: Arc<Kept>,
    /// The last state that is none of the base's.
    other: Option<Arc<Solution>>,
}

/// Elements whose solved states are kept together; each is as large as the circuit.
const ELEMENTS: usize = 50_000;

impl Memory {
    /// A survey that goes on where the last one of the same circuit and base stopped. `of` stands for all that volts and amps
    /// depend on.
    pub fn survey<'c>(&self, circuit: &'c Circuit, of: &Likeness, base: &State) -> Survey<'c> {
        let mut last = lock(&self.last);
        let kept = match &*last {
            Some(last) if last.of == *of && alike(&last.base, base) => Arc::clone(&last.kept),
            _ => {
                let kept = Arc::<Kept>::default();
                // What was done to a circuit is not compared: such states are not kept.
                if base.changes.is_empty() {
                    let (of, base, kept) = (of.clone(), base.clone(), Arc::clone(&kept));
                    *last = Some(Last { of, base, kept, other: None });
                }
                kept
            }
        };
        Survey::on(circuit, base, kept)
    }

    /// Forgets all but what was asked for last: of a large circuit a few states.
    pub fn tidy(&self, circuit: &Circuit) {
        let most = (ELEMENTS / circuit.elements.len().max(1)).clamp(4, 256);
        if let Some(last) = &*lock(&self.last) {
            lock(&last.kept.solved).shrink(most);
            last.kept.sides.iter().for_each(|side| lock(&side.facts).shrink(most));
        }
    }

    /// One state, solved; as before, if it was.
    pub fn solve(&self, circuit: &Circuit, of: &Likeness, state: &State) -> Arc<Solution> {
        if !state.changes.is_empty() {
            return Arc::new(solve(circuit, state));
        }
        let rests = |base: &State| alike(&State { positions: base.positions.clone(), ..state.clone() }, base);
        let kept = {
            let last = lock(&self.last);
            let fits = last.as_ref().filter(|last| last.of == *of);
            if let Some(known) = fits.and_then(|last| last.other.as_ref())
                && known.state.positions == state.positions
                && alike(&known.state, state)
            {
                return Arc::clone(known);
            }
            fits.filter(|last| rests(&last.base)).map(|last| Arc::clone(&last.kept))
        };
        let known = kept.as_ref().and_then(|kept| lock(&kept.solved).get(&state.positions));
        if let Some(known) = known {
            return known;
        }
        let solution = Arc::new(solve(circuit, state));
        match kept {
            Some(kept) => lock(&kept.solved).keep(state.positions.clone(), solution),
            None => {
                let mut last = lock(&self.last);
                match last.as_mut().filter(|last| last.of == *of) {
                    Some(last) => last.other = Some(Arc::clone(&solution)),
                    None => {
                        // The base of later surveys, if they stand on the same sensors and supplies.
                        let base = State {
                            stimuli: state.stimuli.clone(),
                            supplies: state.supplies.clone(),
                            ..State::rest(circuit)
                        };
                        let kept = Arc::<Kept>::default();
                        let own = rests(&base);
                        if own {
                            lock(&kept.solved).keep(state.positions.clone(), Arc::clone(&solution));
                        }
                        let other = (!own).then(|| Arc::clone(&solution));
                        *last = Some(Last { of: of.clone(), base, kept, other });
                    }
                }
                solution
            }
        }
    }
}

/// Whether two states without changes are the same.
fn alike(a: &State, b: &State) -> bool {
    a.changes.is_empty()
        && b.changes.is_empty()
        && a.positions == b.positions
        && a.duty == b.duty
        && a.stimuli == b.stimuli
        && a.supplies == b.supplies
        && a.options == b.options
}

pub(crate) fn lock<T>(of: &Mutex<T>) -> MutexGuard<'_, T> {
    of.lock().unwrap_or_else(PoisonError::into_inner)
}
