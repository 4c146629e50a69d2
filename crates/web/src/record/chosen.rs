//! Which states a record holds: rest and every scenario; every combination of the controls where they are few; else, as far
//! as there is room, what differs from one of those by one control, one fuse pulled or one device unplugged.

use keyon_circuit::{Elaboration, ids::*, model::Circuit};
use keyon_present::about::Asked;
use keyon_solve::State;
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// A state that is recorded.
#[derive(Debug)]
pub(super) struct Place {
    pub(super) state: State,
    /// The set-up on top of the scenario's own, as it was said.
    pub(super) said: Vec<String>,
    /// With a set-up: the scenario below it, which may have set-ups of its own.
    pub(super) scenario: Option<ScenarioId>,
    /// An earlier state that is much like it; the first is its own.
    pub(super) parent: usize,
}

/// Where a person starts from: everything at rest, or a scenario.
#[derive(Debug)]
pub(super) struct Base {
    scenario: Option<ScenarioId>,
    pub(super) state: State,
    /// Which of the sets of stimuli, supplies and set-ups it has.
    world: usize,
}

/// The states, in the order in which they are recorded.
#[derive(Debug, Default)]
pub(super) struct Chosen {
    pub(super) bases: Vec<Base>,
    /// The base that a page begins with.
    pub(super) initial: usize,
    pub(super) states: Vec<Place>,
    /// So many of the first states have all readings of two leads.
    pub(super) full: usize,
    /// Every combination of the controls is there.
    pub(super) all: bool,
    keys: BTreeMap<String, usize>,
    worlds: Vec<State>,
    /// Of each control: its positions in their order, switched fully, then those with a duty that a scenario gives.
    codes: Vec<Vec<(u8, f64)>>,
}

impl Chosen {
    pub(super) fn of(elaboration: &Elaboration, most: usize) -> Result<Self, String> {
        let circuit = &elaboration.circuit;
        let mut this = Self {
            codes: circuit
                .controls
                .iter()
                .map(|c| (0..c.positions.len().max(1)).map(|p| (p as u8, 1.0)).collect())
                .collect(),
            ..Self::default()
        };
        this.add_base(None, State::rest(circuit));
        for s in 0..circuit.scenarios.len() {
            this.add_base(Some(s.into()), State::scenario(circuit, s.into()));
        }
        let first = circuit.view.map_or(0, |view| view.index()) + 1;
        this.initial = if circuit.scenarios.is_empty() { 0 } else { first };
        let combinations = this.codes.iter().try_fold(this.worlds.len(), |all, c| all.checked_mul(c.len()));
        this.full = this.states.len();
        if combinations.is_some_and(|all| all <= most) {
            this.combine();
            this.all = true;
            this.full = this.states.len();
        }
        let rest = (0..this.bases.len()).filter(|&b| b != this.initial);
        let order: Vec<usize> = std::iter::once(this.initial).chain(rest).collect();
        let setups = setups(circuit);
        // What belongs together comes whole or not at all.
        let initial = this.initial;
        this.add_turns(initial, most);
        this.add_setups(elaboration, initial, &setups, most)?;
        for &base in order.iter().skip(1) {
            this.add_turns(base, most);
        }
        for &base in order.iter().skip(1) {
            this.add_setups(elaboration, base, &setups, most)?;
        }
        Ok(this)
    }

    fn add_base(&mut self, scenario: Option<ScenarioId>, state: State) {
        let controls = state.positions.len();
        let world = State { positions: vec![0; controls], duty: vec![1.0; controls], ..state.clone() };
        let found = self.worlds.iter().position(|w| format!("{w:?}") == format!("{world:?}"));
        let world = found.unwrap_or_else(|| {
            self.worlds.push(world);
            self.worlds.len() - 1
        });
        for (codes, now) in self.codes.iter_mut().zip(state.positions.iter().zip(&state.duty)) {
            if !codes.iter().any(|code| is(code, &now)) {
                codes.push((*now.0, *now.1));
            }
        }
        self.add(world, state.clone(), None, 0);
        self.bases.push(Base { scenario, state, world });
    }

    /// How a page names a state.
    fn key(&self, world: usize, state: &State, said: Option<&str>) -> String {
        format!("{world}|{}|{}", self.at(state).join("."), said.unwrap_or_default())
    }

    /// Where each control stands.
    fn at(&self, state: &State) -> Vec<String> {
        let now = state.positions.iter().zip(&state.duty);
        let each = self.codes.iter().zip(now);
        each.map(|(codes, now)| codes.iter().position(|code| is(code, &now)).unwrap_or(0).to_string())
            .collect()
    }

    fn add(&mut self, world: usize, state: State, said: Option<&str>, parent: usize) {
        let key = self.key(world, &state, said);
        if !self.keys.contains_key(&key) {
            self.keys.insert(key, self.states.len());
            let said = said.map(str::to_owned).into_iter().collect();
            self.states.push(Place { state, said, scenario: None, parent });
        }
    }

    fn index(&self, world: usize, state: &State) -> usize {
        self.keys.get(&self.key(world, state, None)).copied().unwrap_or(0)
    }

    /// Every combination in every world; the last control runs fastest.
    fn combine(&mut self) {
        for world in 0..self.worlds.len() {
            let mut codes = vec![0_usize; self.codes.len()];
            loop {
                let state = self.combined(world, &codes);
                // Much like it: the same with its last control that is not at rest at rest.
                let mut before = codes.clone();
                if let Some(last) = before.iter_mut().rev().find(|c| **c != 0) {
                    *last = 0;
                }
                let parent = self.index(world, &self.combined(world, &before));
                self.add(world, state, None, parent);
                let sizes = self.codes.iter().map(Vec::len);
                let next = codes.iter_mut().zip(sizes).rev().find_map(|(code, size)| {
                    *code = if *code + 1 < size { *code + 1 } else { 0 };
                    (*code != 0).then_some(())
                });
                if next.is_none() {
                    break;
                }
            }
        }
    }

    fn combined(&self, world: usize, codes: &[usize]) -> State {
        let mut state = self.worlds[world].clone();
        for (control, (&code, all)) in codes.iter().zip(&self.codes).enumerate() {
            (state.positions[control], state.duty[control]) = all[code];
        }
        state
    }

    /// What differs from a base by one control, if there is room for all of it.
    fn add_turns(&mut self, base: usize, most: usize) {
        let (world, from) = (self.bases[base].world, self.bases[base].state.clone());
        let mut turned = Vec::new();
        for (control, codes) in self.codes.iter().enumerate() {
            // Only what a person can choose: switched fully.
            for &(position, duty) in codes.iter().filter(|code| is(code, &(&code.0, &1.0))) {
                let mut state = from.clone();
                (state.positions[control], state.duty[control]) = (position, duty);
                if !self.keys.contains_key(&self.key(world, &state, None)) {
                    turned.push(state);
                }
            }
        }
        if self.states.len() + turned.len() <= most {
            let parent = self.index(world, &from);
            turned.into_iter().for_each(|state| self.add(world, state, None, parent));
        }
    }

    /// What differs from a base by one set-up, if there is room for all of it.
    fn add_setups(
        &mut self,
        elaboration: &Elaboration,
        base: usize,
        setups: &[String],
        most: usize,
    ) -> Result<(), String> {
        let (world, from) = (self.bases[base].world, self.bases[base].state.clone());
        let parent = self.index(world, &from);
        let new: Vec<&String> =
            setups.iter().filter(|s| !self.keys.contains_key(&self.key(world, &from, Some(s)))).collect();
        if self.states.len() + new.len() <= most {
            for said in new {
                let mut state = from.clone();
                state.changes.extend(elaboration.parse_setup(said)?);
                self.add(world, state, Some(said), parent);
                if let Some(place) = self.states.last_mut() {
                    place.scenario = self.bases[base].scenario;
                }
            }
        }
        Ok(())
    }

    pub(super) fn keys_json(&self) -> Value {
        self.keys.iter().map(|(key, &index)| (key.clone(), json!(index))).collect::<Map<_, _>>().into()
    }

    pub(super) fn bases_json(&self, circuit: &Circuit) -> Value {
        let each = self.bases.iter().map(|base| {
            let name = base.scenario.and_then(|s| circuit.scenarios.get(s.index())).map(|s| s.name.as_str());
            let asked = Asked { scenario: base.scenario, ..Asked::default() };
            let at: Vec<usize> = self.at(&base.state).iter().filter_map(|code| code.parse().ok()).collect();
            json!({ "name": name.unwrap_or_default(), "world": base.world, "at": at, "line": asked.scenario_line(circuit) })
        });
        each.collect()
    }
}

#[allow(clippy::float_cmp)] // a duty is one of those that were written
fn is(code: &(u8, f64), now: &(&u8, &f64)) -> bool {
    code.0 == *now.0 && code.1 == *now.1
}

/// What a page offers to pull and to unplug.
fn setups(circuit: &Circuit) -> Vec<String> {
    let fuses = circuit.fuses.iter().map(|f| format!("pull {}", f.name));
    let devices = circuit.devices.iter().map(|d| format!("unplug {}", d.name));
    let connectors = crate::connectors(circuit).into_iter().map(|name| format!("unplug {name}"));
    fuses.chain(devices).chain(connectors).collect()
}
