//! Readings of two leads. A meter with its black one on ground is recorded in every state; on a supply, or on the other side of
//! what the red one is at, in the first states (rest and scenarios): every pair would be far too many. There also a test
//! lamp, from ground and from supplies.

use crate::answers;
use keyon_circuit::{ids::*, model::*};
use keyon_present::shown::{PartOf, ShownPoint, shown_points};
use keyon_solve::{
    NodeState, Solution,
    probe::{Shown, across},
};
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// Where leads can be.
#[derive(Debug)]
pub(super) struct Leads {
    points: Vec<PointId>,
    ground: PointId,
    /// For the red lead at each point: where the black one can be, as places among the points.
    blacks: Vec<BTreeSet<usize>>,
    supplies: BTreeSet<usize>,
}

impl Leads {
    pub(super) fn new(circuit: &Circuit, points: &[PointId], ground: PointId) -> Self {
        let place: BTreeMap<PointId, usize> = points.iter().enumerate().map(|(i, &p)| (p, i)).collect();
        let mut blacks = vec![BTreeSet::new(); points.len()];
        let mut join = |a: usize, b: usize| {
            if a != b {
                blacks[a].insert(b);
                blacks[b].insert(a);
            }
        };
        let shown = shown_points(circuit, None);
        for (i, a) in shown.iter().enumerate() {
            for (j, b) in shown.iter().enumerate() {
                let device = matches!(a.part_of, PartOf::Device(_)) && a.part_of == b.part_of;
                if device || a.part_of == PartOf::Supplies {
                    join(i, j);
                }
            }
        }
        for element in &circuit.elements {
            if let (Some(&a), Some(&b)) = (place.get(&element.from), place.get(&element.to)) {
                join(a, b);
            }
        }
        let is_supply = |(i, point): (usize, &ShownPoint)| (point.part_of == PartOf::Supplies).then_some(i);
        let supplies = shown.iter().enumerate().filter_map(is_supply).collect();
        Self { points: points.to_vec(), ground, blacks, supplies }
    }

    /// Writes all readings of a state; `full`: also those that only the first states have.
    pub(super) fn write(&self, circuit: &Circuit, solution: &Solution, full: bool, texts: &mut super::Texts) {
        let mut bench = Bench { circuit, solution, known: BTreeMap::new() };
        for (i, &red) in self.points.iter().enumerate() {
            texts.push((format!("m{i}"), bench.reads(red, self.ground, false)));
            if !full {
                continue;
            }
            texts.push((format!("l{i}"), bench.reads(red, self.ground, true)));
            for &j in &self.blacks[i] {
                texts.push((format!("m{i}.{j}"), bench.reads(red, self.points[j], false)));
                if self.supplies.contains(&j) {
                    texts.push((format!("l{i}.{j}"), bench.reads(red, self.points[j], true)));
                }
            }
        }
    }

    pub(super) fn blacks_json(&self) -> Value {
        json!(self.blacks)
    }

    pub(super) fn supplies_json(&self) -> Value {
        json!(self.supplies)
    }
}

/// Instruments in a state. Points of one net show the same: each pair of nets is solved once.
struct Bench<'a> {
    circuit: &'a Circuit,
    solution: &'a Solution,
    known: BTreeMap<(u32, u32, bool), Shown>,
}

impl Bench<'_> {
    /// What is shown, in words, as JSON.
    fn reads(&mut self, red: PointId, black: PointId, lamp: bool) -> String {
        let instrument = answers::instrument(&self.solution.state, lamp);
        let shown = self.shown(red, black, lamp);
        let mut answer = answers::reading(self.circuit, self.solution, [red, black], shown, instrument);
        answer.remove("volts");
        Value::Object(answer).to_string()
    }

    fn shown(&mut self, red: PointId, black: PointId, lamp: bool) -> Shown {
        let net = |p: PointId| self.solution.nets.get(p.index()).copied().unwrap_or(u32::MAX);
        let (a, b) = (net(red), net(black));
        if let Some(&known) = self.known.get(&(a, b, lamp)) {
            return known;
        }
        // The other way round it reads the same below zero.
        if let Some(&Shown::Volts(volts)) = self.known.get(&(b, a, lamp)) {
            return Shown::Volts(-volts);
        }
        let shown = self.beside(red, black, lamp).unwrap_or_else(|| {
            let ohms = answers::instrument(&self.solution.state, lamp).ohms();
            across(self.circuit, &self.solution.state, red, black, ohms)
        });
        self.known.insert((a, b, lamp), shown);
        shown
    }

    /// What the solution says already: a meter over the common ground.
    fn beside(&self, red: PointId, black: PointId, lamp: bool) -> Option<Shown> {
        let common = matches!(self.circuit.points.get(black.index())?.kind, PointKind::Common);
        let settled = !matches!(
            self.solution.node_states.get(red.index())?,
            NodeState::Clash | NodeState::Chatters | NodeState::Open
        );
        let volts = self.solution.volts.get(red.index()).copied().flatten()?;
        (common && settled && !lamp).then_some(Shown::Volts(volts))
    }
}
