//! Sheets for learners, and their answer keys: from an exercise, or from a scenario.
//!
//! A learner's sheet holds nothing of the key: it is made from the questions alone, before anything is solved.

mod answers;
mod html;
mod ideal;
mod markdown;
mod paper;
mod proof;
mod reading;

pub use html::sheet_html;
pub use markdown::sheet_markdown;
pub use paper::Paper;

use crate::{
    about,
    cautions::{Refused, is_restricted},
    drawing::{Drawn, View, drawing_svg, things_about},
    path::control_words,
};
use keyon_circuit::{Entity, ids::*, model::*};
use keyon_draw::Thing;
use keyon_solve::{Cancel, Cancelled, Solution, State, fault::test_points_of, solve};

/// What a sheet is made from.
#[derive(Clone, Debug)]
pub enum SheetOf {
    /// Index into `exercises`.
    Exercise(usize),
    /// A scenario, and what it is about: empty for the whole circuit.
    Scenario(Option<ScenarioId>, Vec<Entity>),
}

/// A question, with what the learner fills in and what the teacher reads.
#[derive(Clone, Debug, Default)]
pub(crate) struct Question {
    pub(crate) text: String,
    /// Rows to fill in: what, and the blank.
    pub(crate) blanks: Vec<(String, &'static str)>,
    /// The answers, one to a blank, or the only one.
    pub(crate) answers: Vec<Answer>,
    /// An answer's table, and the same with blanks.
    pub(crate) table: Option<crate::grid::Grid>,
    /// For the key: the readings that prove the answer.
    pub(crate) proof: Option<crate::grid::Grid>,
}

/// An answer with what to accept and why.
#[derive(Clone, Debug, Default)]
pub(crate) struct Answer {
    pub(crate) what: String,
    pub(crate) ideal: String,
    pub(crate) wired: String,
    pub(crate) accept: String,
    pub(crate) why: String,
}

/// A sheet, learner's side and key.
#[derive(Clone, Debug)]
pub struct Sheet {
    pub(crate) title: String,
    pub(crate) circuit: String,
    /// What is held, what is seen, how it is measured.
    pub(crate) given: Vec<(String, String)>,
    pub(crate) diagram: String,
    pub(crate) questions: Vec<Question>,
    /// The key's first lines: what is wrong.
    pub(crate) fault: Vec<String>,
    pub(crate) key_diagram: String,
    /// A short mark of all that the sheet is made from.
    pub(crate) hash: String,
}

/// Makes a sheet.
///
/// # Errors
/// Where what is asked about is no business of this tool, and when `cancel` asks for it.
pub fn sheet(circuit: &Circuit, of: &SheetOf, cancel: &dyn Cancel) -> Result<Option<Sheet>, Refused> {
    let about: Vec<Entity> = match of {
        SheetOf::Exercise(index) => circuit.exercises.get(*index).map_or_else(Vec::new, |exercise| {
            let asked = exercise.asks.iter().flat_map(|ask| ask.about.iter().copied());
            exercise.probe_entities.iter().copied().chain(asked).collect()
        }),
        SheetOf::Scenario(_, about) => about.clone(),
    };
    let points: Vec<PointId> = about.iter().flat_map(|&entity| test_points_of(circuit, entity)).collect();
    if is_restricted(circuit, &points) {
        return Err(Refused::Restricted);
    }
    Ok(match of {
        SheetOf::Exercise(index) => match circuit.exercises.get(*index) {
            Some(exercise) => Some(from_exercise(circuit, exercise, cancel)?),
            None => None,
        },
        SheetOf::Scenario(scenario, about) => Some(from_scenario(circuit, *scenario, about, cancel)?),
    })
}

fn from_exercise(circuit: &Circuit, exercise: &Exercise, cancel: &dyn Cancel) -> Result<Sheet, Cancelled> {
    let mut base = exercise.scenario.map_or_else(|| State::rest(circuit), |s| State::scenario(circuit, s));
    base.changes.extend(exercise.changes.iter().cloned());
    let mut faulty = base.clone();
    faulty.changes.extend(exercise.faults.iter().flat_map(|(changes, ..)| changes).cloned());
    let solution = solve(circuit, &faulty);
    let asked: Vec<Entity> = exercise.asks.iter().flat_map(|a| a.about.iter().copied()).collect();
    // A connector that may be probed is drawn as far as what is asked leads there, not with all that hangs on it.
    let single = |e: &&Entity| !matches!(e, Entity::Module(_) | Entity::Connector(..));
    let mut about: Vec<Entity> = exercise.probe_entities.iter().filter(single).copied().collect();
    about.extend(asked);
    if about.is_empty() {
        about.clone_from(&exercise.probe_entities);
    }
    let mut given = held(circuit, &base, exercise.scenario);
    for symptom in &exercise.symptoms {
        given.push(("seen".to_owned(), reading::row_words(circuit, symptom)));
    }
    if !exercise.probes.is_empty() {
        let names: Vec<&str> = exercise.probes.iter().map(|p| p.as_str()).collect();
        given.push(("you may probe".to_owned(), names.join(", ")));
    }
    let mut questions = Vec::new();
    let mut boxes = Vec::new();
    for ask in &exercise.asks {
        questions.push(answers::question(circuit, &faulty, &solution, ask, &mut boxes, cancel)?);
    }
    if questions.is_empty() {
        let points: Vec<PointId> =
            exercise.probe_entities.iter().flat_map(|&e| test_points_of(circuit, e)).collect();
        questions.push(answers::volts(circuit, &solution, &points, &mut boxes));
    }
    if !exercise.faults.is_empty() {
        let proof = proof::proof(circuit, exercise, (&base, &faulty), cancel)?;
        let accept = match proof.as_good.is_empty() {
            true => String::new(),
            false => format!("what reads the same wherever one may probe: {}", proof.as_good.join(", ")),
        };
        questions.push(Question {
            text: "What is wrong? Name the part or the wire, and the reading that proves it.".to_owned(),
            blanks: vec![(String::new(), "________________________________________")],
            answers: vec![Answer { what: fault_words(exercise).join(", "), accept, ..Answer::default() }],
            table: None,
            proof: proof.grid,
        });
    }
    let title = exercise.title.clone().unwrap_or_else(|| exercise.name.to_string());
    let fault = fault_words(exercise).into_iter().map(|f| format!("fault: {f}")).collect();
    Ok(finish(circuit, title, given, &about, boxes, questions, fault, &solution))
}

fn fault_words(exercise: &Exercise) -> Vec<String> {
    exercise.faults.iter().map(|(_, words, _)| words.to_string()).collect()
}

fn from_scenario(
    circuit: &Circuit,
    scenario: Option<ScenarioId>,
    about: &[Entity],
    cancel: &dyn Cancel,
) -> Result<Sheet, Cancelled> {
    let state = scenario.map_or_else(|| State::rest(circuit), |s| State::scenario(circuit, s));
    let solution = solve(circuit, &state);
    let mut wanted: Vec<PointId> = about.iter().flat_map(|&e| test_points_of(circuit, e)).collect();
    if wanted.is_empty() {
        let loads =
            circuit.devices.iter().enumerate().filter(|(i, _)| crate::state::has_loads(circuit, (*i).into()));
        wanted = loads
            .flat_map(|(_, d)| d.pins.iter().filter(|p| !p.landings.is_empty()).map(|p| p.outside))
            .collect();
    }
    wanted.retain(|&point| !circuit.is_restricted_at(point));
    // More boxes than a page has room for help nobody.
    wanted.truncate(24);
    let mut boxes = Vec::new();
    let mut questions = vec![answers::mark(circuit, &solution, about)];
    questions.push(answers::volts(circuit, &solution, &wanted, &mut boxes));
    let devices: Vec<DeviceId> = about.iter().filter_map(|&e| circuit.device_of(e)).collect();
    if let Some(question) = answers::table(circuit, &state, &devices, cancel)? {
        questions.push(question);
    }
    let title = scenario.and_then(|s| circuit.scenarios.get(s.index())).map_or_else(
        || "Everything at rest".to_owned(),
        |s| s.title.clone().unwrap_or_else(|| s.name.to_string()),
    );
    let given = held(circuit, &state, scenario);
    Ok(finish(circuit, title, given, about, boxes, questions, Vec::new(), &solution))
}

#[allow(clippy::too_many_arguments)]
fn finish(
    circuit: &Circuit,
    title: String,
    mut given: Vec<(String, String)>,
    about: &[Entity],
    boxes: Vec<PointId>,
    questions: Vec<Question>,
    fault: Vec<String>,
    solution: &Solution,
) -> Sheet {
    given.push(("meter".to_owned(), "volts DC, black lead on battery negative throughout".to_owned()));
    let only: Vec<Thing> = if about.is_empty() { Vec::new() } else { things_about(circuit, about) };
    let blank = Drawn { only, letters: true, boxes, bare: true, ..Drawn::default() };
    let diagram = drawing_svg(circuit, View::Plain, &blank);
    let key_diagram = drawing_svg(circuit, View::State(solution), &blank);
    let mut all = format!("{title}\n{given:?}\n{diagram}\n{key_diagram}\n");
    for question in &questions {
        all.push_str(&format!("{question:?}\n"));
    }
    let hash = format!("{:016x}", xxhash_rust::xxh3::xxh3_64(all.as_bytes())).chars().take(6).collect();
    Sheet { title, circuit: about::title(circuit), given, diagram, questions, fault, key_diagram, hash }
}

/// What is held: the scenario's title, its controls, what a person does, the supplies.
fn held(circuit: &Circuit, state: &State, scenario: Option<ScenarioId>) -> Vec<(String, String)> {
    let mut lines = Vec::new();
    let set = circuit.controls.iter().enumerate().filter_map(|(i, _)| {
        let position = state.positions.get(i).map_or(0, |&p| usize::from(p));
        let duty = state.duty.get(i).copied().unwrap_or(1.0);
        (position != 0).then(|| control_words(circuit, i.into(), position, duty))
    });
    let set: Vec<String> = set.collect();
    let set = if set.is_empty() { "everything at rest".to_owned() } else { set.join(", ") };
    let scenario = scenario.and_then(|s| circuit.scenarios.get(s.index()));
    let words = match scenario.and_then(|s| s.title.as_ref()) {
        Some(title) => format!("{title} ({set})"),
        None => set,
    };
    lines.push(("state".to_owned(), words));
    // Without them no signal could be worked out; a supply's usual volts stand in the drawing.
    let set = |(supply, &volts): (&Supply, &f64)| (supply.volts.nominal - volts).abs() > 1e-9;
    let supplies_set = circuit.supplies.iter().zip(&state.supplies).any(set);
    let all = about::state_lines(circuit, state, &about::Asked::default());
    let needed = |label: &str| label == "senses" || label == "supply" && supplies_set;
    lines.extend(all.into_iter().filter(|(label, _)| needed(label)).map(|(l, text)| (l.to_owned(), text)));
    for action in scenario.map_or(&[][..], |s| s.actions.as_slice()) {
        lines.push(("do".to_owned(), action.clone()));
    }
    lines
}
