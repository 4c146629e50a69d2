//! What an exercise sets up, which faults show what it says, and where its learner may probe.

use super::Facts;
use keyon_circuit::{
    Entity,
    ids::*,
    model::{Assertion, Circuit, Exercise, Loc, Probe, Row},
};
use keyon_solve::{
    Cancel, Cancelled, Solution, State,
    fault::{self, Fault, Near},
    judge, solve,
};
use keyon_syntax::tree::ItemKind;
use smol_str::SmolStr;

/// An exercise's circuit, sound and with its fault.
pub struct Staged {
    /// The scenario with the exercise's set-ups.
    pub base: State,
    #[allow(missing_docs)]
    pub sound: Solution,
    /// With all its faults.
    pub faulty: Solution,
}

/// A fault that shows what the exercise says, as its circuit then reads.
pub struct Suspect {
    /// `None`: nothing is wrong.
    pub fault: Option<SmolStr>,
    #[allow(missing_docs)]
    pub solution: Solution,
}

impl Facts<'_> {
    /// The exercises that can be judged: their scenario, their faults and their points are known, and nothing that could
    /// not be read may change them.
    pub fn exercises(&self) -> impl Iterator<Item = &Exercise> {
        let known = !self.anything_doubtful();
        let exercises = self.circuit.exercises.iter().filter(move |_| known);
        exercises.filter(|x| !x.faults.is_empty() && x.faults.iter().all(|(changes, ..)| !changes.is_empty()))
    }

    /// Every single fault of the circuit.
    pub fn faults(&self) -> &[Fault] {
        self.faults.get_or_init(|| fault::single_faults(self.circuit))
    }

    /// An exercise's circuit; `None` where its scenario is not known. One that names no scenario holds everything at rest.
    pub fn staged(&self, exercise: &Exercise) -> Option<Staged> {
        let mut base = match exercise.scenario {
            Some(scenario) => State::scenario(self.circuit, scenario),
            None if self.names_no_scenario(exercise) => State::rest(self.circuit),
            None => return None,
        };
        base.changes.extend(exercise.changes.iter().cloned());
        let mut faulty = base.clone();
        faulty.changes.extend(exercise.faults.iter().flat_map(|(changes, ..)| changes).cloned());
        let (sound, faulty) = (solve(self.circuit, &base), solve(self.circuit, &faulty));
        Some(Staged { base, sound, faulty })
    }

    fn names_no_scenario(&self, exercise: &Exercise) -> bool {
        let file = self.elaboration.files.get(exercise.loc.file.index());
        let placed = file.and_then(|f| f.parse.file.items.get(exercise.loc.item as usize));
        placed.is_some_and(|placed| {
            !placed.item.damaged && matches!(&placed.item.kind, ItemKind::Exercise(x) if x.scenario.is_none())
        })
    }

    /// See [`suspects`].
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn suspects(
        &self,
        base: &State,
        sound: &Solution,
        rows: &[Row],
        points: &[PointId],
    ) -> Result<Vec<Suspect>, Cancelled> {
        suspects(self.circuit, self.faults(), (base, sound), rows, points, self.cancel)
    }

    /// Where a name of an exercise stands: the name itself, else the exercise.
    pub fn named_in(&self, exercise: &Exercise, entity: Entity) -> Loc {
        let here = |loc: Loc| (loc.file, loc.item) == (exercise.loc.file, exercise.loc.item);
        let names = self.elaboration.names.iter().filter(|n| here(n.loc) && !n.definition);
        names.filter(|n| n.entity == entity).map(|n| n.loc).next_back().unwrap_or(exercise.loc)
    }
}

/// All of these faults, and none, for which every row is as it is said, each solved. `base` is the sound circuit with its
/// solution; `points` are where else faults may be felt. Give states with an ideal meter: a real one takes a solution a net,
/// and makes no difference that tells faults apart.
///
/// # Errors
/// When `cancel` asks for it.
pub fn suspects(
    circuit: &Circuit,
    faults: &[Fault],
    (base, sound): (&State, &Solution),
    rows: &[Row],
    points: &[PointId],
    cancel: &dyn Cancel,
) -> Result<Vec<Suspect>, Cancelled> {
    let mut starts = points.to_vec();
    starts.extend(rows.iter().flat_map(|row| points_of(circuit, row.probe)));
    let near = Near::new(circuit, sound, &starts);
    let shows = |state: &State, plain: &Solution| {
        rows.iter().all(|row| {
            if is_plain(row) {
                judge(circuit, plain, row).holds
            } else {
                judge(circuit, &solve(circuit, &state.clone().with(&row.settings)), row).holds
            }
        })
    };
    let mut found = Vec::new();
    if shows(base, sound) {
        found.push(Suspect { fault: None, solution: sound.clone() });
    }
    for fault in faults.iter().filter(|fault| near.concerns(fault)) {
        if cancel.cancelled() {
            return Err(Cancelled);
        }
        let state = fault.in_state(base);
        let solution = solve(circuit, &state);
        if shows(&state, &solution) {
            found.push(Suspect { fault: Some(fault.words.clone()), solution });
        }
    }
    Ok(found)
}

/// A row about what a device or a fuse does, which is seen and not measured.
pub(super) fn is_seen(row: &Row) -> bool {
    matches!(row.assertion, Assertion::State(_)) && matches!(row.probe, Probe::Device(_) | Probe::Element(_))
}

/// Nothing of its own is set for it.
pub(super) fn is_plain(row: &Row) -> bool {
    let s = &row.settings;
    s.controls.is_empty() && s.stimuli.is_empty() && s.supplies.is_empty() && s.changes.is_empty()
}

/// The points that a row looks at.
pub fn points_of(circuit: &Circuit, probe: Probe) -> Vec<PointId> {
    let ends = |e: ElementId| circuit.elements.get(e.index()).map_or(Vec::new(), |e| vec![e.from, e.to]);
    match probe {
        Probe::Point(p) => vec![p],
        Probe::Input(m, c, k) => circuit.cavity(m, c, k).map_or(Vec::new(), |c| vec![c.outside, c.inside]),
        Probe::Device(d) => circuit
            .devices
            .get(d.index())
            .map_or(Vec::new(), |d| d.pins.iter().flat_map(|p| [p.outside, p.inside]).collect()),
        Probe::Element(e) | Probe::Clamp(e) => ends(e),
        Probe::Across(a, b) | Probe::Ohms(a, b) | Probe::Lamp(a, b) => vec![a, b],
    }
}
