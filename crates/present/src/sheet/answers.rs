//! Questions by their kind, with the answers that the circuit gives.

use super::{
    Answer, Question,
    ideal::Ideal,
    reading::{UNSETTLED, name, said, volts_at as at},
};
use crate::{
    drawing::{is_marked, letters},
    figure,
    grid::{Column, Grid},
    path::{element_word, feed_words, ground_words},
};
use keyon_circuit::{Entity, ids::*, model::*};
use keyon_solve::{Cancel, Cancelled, NodeState, Path, Solution, State, Ways, fault::test_points_of};

/// A blank to write a number in, and words.
const NUMBER: &str = "________ V";
const AMPERES: &str = "________ A";
const WORDS: &str = "________________________";

/// What an `ask` asks, and its answer. `boxes` collects the points that get a box in the diagram.
pub(super) fn question(
    circuit: &Circuit,
    state: &State,
    solution: &Solution,
    ask: &Ask,
    boxes: &mut Vec<PointId>,
    cancel: &dyn Cancel,
) -> Result<Question, Cancelled> {
    let about: Vec<PointId> = ask.about.iter().flat_map(|&e| test_points_of(circuit, e)).collect();
    Ok(match ask.kind.as_deref() {
        Some("mark") => mark(circuit, solution, &ask.about),
        Some("volts") => volts(circuit, solution, &about, boxes),
        Some("across") => across(circuit, solution, &about),
        Some("cavity") => cavity(circuit, &about),
        Some("colour") => colour(circuit, &about),
        Some("path") => path(circuit, solution, &about),
        Some("state") => does(circuit, solution, &ask.about),
        Some("amps") => amps(circuit, solution, &ask.about),
        Some("table") => {
            let devices: Vec<DeviceId> = ask.about.iter().filter_map(|&e| circuit.device_of(e)).collect();
            match table(circuit, state, &devices, cancel)? {
                Some(question) => question,
                None => free("Make the truth table."),
            }
        }
        _ => free(ask.text.as_deref().unwrap_or("")),
    })
}

/// What devices do.
fn does(circuit: &Circuit, solution: &Solution, about: &[Entity]) -> Question {
    let mut devices: Vec<DeviceId> = Vec::new();
    for device in about.iter().filter_map(|&e| circuit.device_of(e)) {
        if !devices.contains(&device) {
            devices.push(device);
        }
    }
    let mut asked = Question { text: "What does it do?".to_owned(), ..Question::default() };
    for id in devices {
        let (Some(device), Some(state)) = (circuit.devices.get(id.index()), solution.devices.get(id.index()))
        else {
            continue;
        };
        let words = state.grade.as_ref().map_or(state.state.words(), |grade| grade.as_str());
        asked.blanks.push((device.name.to_string(), WORDS));
        asked.answers.push(Answer {
            what: device.name.to_string(),
            ideal: words.to_owned(),
            ..Answer::default()
        });
    }
    asked
}

/// What flows through wires, fuses and loads.
fn amps(circuit: &Circuit, solution: &Solution, about: &[Entity]) -> Question {
    let mut asked = Question { text: "What does an ammeter in line read?".to_owned(), ..Question::default() };
    for &entity in about {
        let elements: Vec<ElementId> = match entity {
            Entity::Wire(wire) => {
                let stretches = circuit.wires.get(wire.index()).map_or(&[][..], |w| w.stretches.as_slice());
                stretches.iter().map(|s| s.element).take(1).collect()
            }
            Entity::Fuse(element) | Entity::Element(element) => vec![element],
            _ => circuit
                .device_of(entity)
                .and_then(|d| circuit.devices.get(d.index()))
                .map_or_else(Vec::new, |device| device.elements.clone()),
        };
        let known = |e: &ElementId| solution.amps.get(e.index()).and_then(|a| a.known()).map(f64::abs);
        let most = elements.iter().filter_map(known).max_by(f64::total_cmp);
        let what = circuit.name_of(entity).to_string();
        asked.blanks.push((what.clone(), AMPERES));
        let wired = most.map_or_else(|| UNSETTLED.to_owned(), |a| format!("{} A", figure::amps(a)));
        // Two in a hundred either way, as for everything that is computed on paper.
        let accept = most.filter(|a| *a > 1e-6).map_or_else(String::new, |a| {
            format!("{} .. {} A", figure::amps(a * 0.98), figure::amps(a * 1.02))
        });
        asked.answers.push(Answer { what, wired, accept, ..Answer::default() });
    }
    asked
}

fn free(text: &str) -> Question {
    let answers = vec![Answer { what: "(the teacher's own)".to_owned(), ..Answer::default() }];
    Question { text: text.to_owned(), blanks: vec![(String::new(), WORDS)], answers, ..Question::default() }
}

fn node(solution: &Solution, point: PointId) -> NodeState {
    solution.node_states.get(point.index()).copied().unwrap_or(NodeState::Open)
}

/// Mark every lettered wire by what it carries. Wires of one net have one answer.
pub(super) fn mark(circuit: &Circuit, solution: &Solution, about: &[Entity]) -> Question {
    let only = if about.is_empty() { Vec::new() } else { crate::drawing::things_about(circuit, about) };
    let mut answers = Vec::new();
    for ((wire, stretch), letter) in letters(circuit, &only) {
        let element = circuit.wires.get(wire.index()).and_then(|w| w.stretches.get(stretch));
        let Some(element) = element.and_then(|s| circuit.elements.get(s.element.index())) else { continue };
        answers.push(Answer {
            what: letter,
            ideal: node(solution, element.from).words().to_owned(),
            ..Answer::default()
        });
    }
    // The strokes of the legend below the drawing, said in words for who has no drawing.
    let strokes = [
        (NodeState::Fed, "heavy line: fed"),
        (NodeState::FedViaLoad, "heavy dashes: fed via load"),
        (NodeState::Grounded, "thin line: grounded"),
        (NodeState::GroundedViaLoad, "thin dashes: grounded via load"),
        (NodeState::Referenced, "dashes and dots: referenced"),
        (NodeState::Between, "dots: between"),
    ];
    let strokes = strokes.into_iter().filter(|(state, _)| is_marked(circuit, *state)).map(|(_, words)| words);
    let strokes = strokes.collect::<Vec<_>>().join("; ");
    let text = format!("Mark every lettered wire by what it carries ({strokes}; open: leave it as it is).");
    Question { text, answers, ..Question::default() }
}

/// Fill in the voltage table; each point gets a numbered box in the diagram.
pub(super) fn volts(
    circuit: &Circuit,
    solution: &Solution,
    about: &[PointId],
    boxes: &mut Vec<PointId>,
) -> Question {
    let ways = Ways::new(circuit, solution);
    let on_paper = Ideal::new(circuit, solution);
    let mut blanks = Vec::new();
    let mut answers = Vec::new();
    for &point in about {
        let number = boxes.iter().position(|b| *b == point).unwrap_or_else(|| {
            boxes.push(point);
            boxes.len() - 1
        });
        let what = format!("[{}] {}", number + 1, name(circuit, point));
        blanks.push((what.clone(), NUMBER));
        let read = at(solution, point);
        let ideal = on_paper.volts(point, node(solution, point), ways.to_source(point).as_ref());
        let wired = said(read);
        let why = why(circuit, &ways, solution, point);
        answers.push(Answer {
            what,
            // Where something divides, tracing alone gives no figure.
            ideal: ideal.map_or_else(String::new, |v| format!("{} V", figure::fixed(v, 1))),
            accept: read.map_or_else(String::new, |v| accept(v, ideal)),
            wired,
            why,
        });
    }
    Question { text: "What does the meter read?".to_owned(), blanks, answers, ..Question::default() }
}

/// What to accept: the reading within the meter's accuracy, the ideal value, and all between, to a tenth.
fn accept(read: f64, ideal: Option<f64>) -> String {
    let margin = 0.005 * read.abs() + 0.05;
    let ideal = ideal.unwrap_or(read);
    let (low, high) = ((read - margin).min(ideal), (read + margin).max(ideal));
    let (low, high) = ((low * 10.0).floor() / 10.0, (high * 10.0).ceil() / 10.0);
    format!("{} .. {} V", figure::fixed(low.max(0.0_f64.min(read)), 1), figure::fixed(high, 1))
}

/// The ways to the feed and to ground. Where both begin alike, one of them leads back out of the other's end (through ground
/// to a sensor's reference, through the supply's splice to another load): only the one that the state is of is a way.
fn ways_of(ways: &Ways<'_>, solution: &Solution, point: PointId) -> (Option<Path>, Option<Path>) {
    let (source, ground) = (ways.to_source(point), ways.to_ground(point));
    let first = |path: &Option<Path>| path.as_ref().and_then(|p| p.steps.first()).map(|s| s.0);
    if first(&source).is_none() || first(&source) != first(&ground) {
        return (source, ground);
    }
    match node(solution, point) {
        NodeState::Grounded | NodeState::GroundedViaLoad => (None, ground),
        _ => (source, None),
    }
}

/// The reason: the way to the feed and the way to ground.
fn why(circuit: &Circuit, ways: &Ways<'_>, solution: &Solution, point: PointId) -> String {
    let state = node(solution, point);
    let mut words = vec![state.words().to_owned()];
    let (source, ground) = ways_of(ways, solution, point);
    // Where the reading is not the level that the state speaks of, what takes the difference.
    let of_state = match state {
        NodeState::Grounded | NodeState::GroundedViaLoad => &ground,
        _ => &source,
    };
    words.extend(of_state.as_ref().and_then(|path| lost(circuit, solution, state, path)));
    words.extend(source.map(|p| format!("feed: {}", feed_words(circuit, &p))));
    words.extend(ground.map(|p| format!("return: {}", ground_words(circuit, &p))));
    words.join("; ")
}

/// Volts on one element that are worth a word in a reason.
const WORTH_A_WORD: f64 = 0.3;

/// What stands between a point and the potential to which continuity joins it: `loses 5.72 V in 10`.
fn lost(circuit: &Circuit, solution: &Solution, state: NodeState, path: &Path) -> Option<String> {
    if !matches!(state, NodeState::Fed | NodeState::Grounded | NodeState::Referenced) {
        return None;
    }
    let mut losses: Vec<String> = Vec::new();
    for (&(element, _), ends) in path.steps.iter().zip(path.points.windows(2)) {
        let &[from, to] = ends else { continue };
        let volts = crate::state::drop_volts(solution, from, to).map_or(0.0, f64::abs);
        if let Some(duty) = pulse(circuit, solution, element) {
            losses.push(format!("a mean, pulsed {}", figure::percent(duty)));
        } else if volts >= WORTH_A_WORD {
            let word = element_word(circuit, element);
            let word =
                if word.is_empty() { circuit.name_of(Entity::Element(element)).to_string() } else { word };
            losses.push(format!("loses {} V in {word}", figure::volts(volts)));
        }
    }
    (!losses.is_empty()).then(|| losses.join(", "))
}

/// The share of the time for which a pulsed stage conducts.
fn pulse(circuit: &Circuit, solution: &Solution, element: ElementId) -> Option<f64> {
    let When::In { control, .. } = circuit.elements.get(element.index())?.when else { return None };
    circuit.controls.get(control.index())?.pwm?;
    solution.state.duty.get(control.index()).copied().filter(|duty| *duty < 1.0)
}

fn across(circuit: &Circuit, solution: &Solution, about: &[PointId]) -> Question {
    let pairs: Vec<(PointId, PointId)> =
        about.chunks(2).filter_map(|c| Some((*c.first()?, *c.get(1)?))).collect();
    let mut blanks = Vec::new();
    let mut answers = Vec::new();
    for (red, black) in pairs {
        let what = format!("red on {}, black on {}", name(circuit, red), name(circuit, black));
        blanks.push((what.clone(), NUMBER));
        let read = at(solution, red).zip(at(solution, black)).map(|(a, b)| a - b);
        answers.push(Answer {
            what,
            wired: said(read),
            accept: read.map_or_else(String::new, |v| {
                let margin = 0.005 * v.abs() + 0.05;
                format!("{} .. {} V", figure::fixed(v - margin, 2), figure::fixed(v + margin, 2))
            }),
            why: "the sign is asked too: leads changed over are half right".to_owned(),
            ..Answer::default()
        });
    }
    Question {
        text: "What does the meter read between these two, with its sign?".to_owned(),
        blanks,
        answers,
        ..Question::default()
    }
}

fn cavity(circuit: &Circuit, about: &[PointId]) -> Question {
    let mut blanks = Vec::new();
    let mut answers = Vec::new();
    for &point in about {
        // A cavity is asked for by what it does, a pin by its device.
        let (what, answer) = match circuit.points.get(point.index()).map(|p| p.kind) {
            Some(PointKind::Cavity(m, c, k)) => {
                let known = circuit.cavity(m, c, k).map_or("", |c| c.name.as_str());
                (known.to_owned(), name(circuit, point).to_owned())
            }
            _ => (name(circuit, point).to_owned(), crate::pinout::leads_to(circuit, point)),
        };
        blanks.push((what.clone(), WORDS));
        answers.push(Answer {
            what,
            ideal: answer,
            why: "seen from the wire side".to_owned(),
            ..Answer::default()
        });
    }
    Question {
        text: "In which connector and cavity do you find it?".to_owned(),
        blanks,
        answers,
        ..Question::default()
    }
}

fn colour(circuit: &Circuit, about: &[PointId]) -> Question {
    let mut blanks = Vec::new();
    let mut answers = Vec::new();
    for &point in about {
        let what = name(circuit, point).to_owned();
        blanks.push((what.clone(), WORDS));
        let ideal = crate::cautions::landings(circuit, point).join("; ");
        answers.push(Answer { what, ideal, ..Answer::default() });
    }
    Question {
        text: "Which colour and number has the wire there?".to_owned(),
        blanks,
        answers,
        ..Question::default()
    }
}

fn path(circuit: &Circuit, solution: &Solution, about: &[PointId]) -> Question {
    let ways = Ways::new(circuit, solution);
    let mut blanks = Vec::new();
    let mut answers = Vec::new();
    for &point in about {
        let what = name(circuit, point).to_owned();
        blanks.push((format!("{what}, to its feed"), WORDS));
        blanks.push((format!("{what}, to its return"), WORDS));
        let (source, ground) = ways_of(&ways, solution, point);
        let to_source = source.map_or_else(|| "none".to_owned(), |p| feed_words(circuit, &p));
        let to_ground = ground.map_or_else(|| "none".to_owned(), |p| ground_words(circuit, &p));
        answers.push(Answer { what: format!("{what}, to its feed"), ideal: to_source, ..Answer::default() });
        answers.push(Answer {
            what: format!("{what}, to its return"),
            ideal: to_ground,
            ..Answer::default()
        });
    }
    Question {
        text: "Trace the way, naming all that lies on it.".to_owned(),
        blanks,
        answers,
        ..Question::default()
    }
}

/// The truth table of some devices, to fill in.
pub(super) fn table(
    circuit: &Circuit,
    state: &State,
    devices: &[DeviceId],
    cancel: &dyn Cancel,
) -> Result<Option<Question>, Cancelled> {
    let loads: Vec<DeviceId> =
        devices.iter().copied().filter(|&d| crate::state::has_loads(circuit, d)).collect();
    if loads.is_empty() {
        return Ok(None);
    }
    let found = keyon_solve::table(circuit, state, &loads, &[], &[], cancel)?;
    let mut grid: Option<Grid> = None;
    for group in &found.groups {
        let one = crate::table::group_grid(circuit, group);
        // The first table that fits on a page.
        if one.rows.len() <= 16 && grid.is_none() {
            grid = Some(one);
        }
    }
    Ok(grid.map(|grid| Question {
        text: "Fill in what each device does.".to_owned(),
        blanks: Vec::new(),
        answers: Vec::new(),
        table: Some(grid),
        proof: None,
    }))
}

/// The same table with its answers left out.
pub(super) fn blanked(grid: &Grid) -> Grid {
    let mut blank = grid.clone();
    for row in &mut blank.rows {
        for (cell, column) in row.iter_mut().zip(&grid.columns) {
            if !column.key {
                *cell = "______".to_owned();
            }
        }
    }
    blank
}

/// Answers as a table.
pub(super) fn key_grid(answers: &[Answer]) -> Grid {
    let uses = |f: fn(&Answer) -> &String| answers.iter().any(|a| !f(a).is_empty());
    type Field = fn(&Answer) -> &String;
    let fields: [(&str, Field); 5] = [
        ("asked", |a| &a.what),
        ("ideal", |a| &a.ideal),
        ("with wiring", |a| &a.wired),
        ("accept", |a| &a.accept),
        ("why", |a| &a.why),
    ];
    let fields: Vec<(&str, Field)> = fields.into_iter().filter(|(_, f)| uses(*f)).collect();
    // Beside no computed value, and alone, it is just the answer.
    let measured = uses(|a| &a.wired);
    let columns = fields.iter().enumerate().map(|(i, (title, _))| {
        let title = if fields.len() == 1 || *title == "ideal" && !measured { "answer" } else { title };
        if i == 0 { Column::key(title) } else { Column::words(title) }
    });
    let rows = answers.iter().map(|a| fields.iter().map(|(_, f)| f(a).clone()).collect());
    Grid { columns: columns.collect(), rows: rows.collect() }
}
