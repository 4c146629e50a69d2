//! One state as a page shows it: each figure in the words that the terminal prints, so that a page formats none.

use crate::{
    about::{self, Asked},
    answer::Answer,
    figure,
    shown::shown_points,
    state::{devices_grid, notes, volts_cell},
};
use keyon_circuit::model::Circuit;
use keyon_solve::NodeState;
use serde_json::{Map, Value, json};

/// What is set, what the devices do and how the points stand, as [`state_text`](crate::state_text) prints it. Devices come
/// by the first cell of their rows: what several elements of a device do is indented.
pub fn figures_json(circuit: &Circuit, answer: &Answer<'_>, asked: &Asked) -> Value {
    let state = &answer.solution.state;
    let controls = circuit.controls.iter().enumerate().map(|(index, control)| {
        let position = state.positions.get(index).map_or(0, |&p| usize::from(p));
        let word = control.positions.get(position).map_or("", |p| p.as_str());
        (control.qualified.to_string(), json!(word))
    });
    let stimuli = circuit.stimuli.iter().zip(&state.stimuli).map(|(stimulus, &value)| {
        let said = json!({ "value": super::clean(value), "text": figure::of_stimulus(value, stimulus) });
        (stimulus.name.to_string(), said)
    });
    let lines = about::state_lines(circuit, state, asked).into_iter();
    let lines = lines.map(|(label, words)| (label.to_owned(), json!(words)));
    let shown = shown_points(circuit, Some(answer.solution));
    json!({
        "controls": Value::Object(controls.collect()),
        "stimuli": Value::Object(stimuli.collect()),
        "lines": Value::Object(lines.collect()),
        "changes": asked.changes(circuit, state),
        "devices": devices(circuit, answer),
        "points": points(circuit, answer),
        "notes": notes(answer.solution, shown.iter().map(|p| p.point)),
    })
}

fn devices(circuit: &Circuit, answer: &Answer<'_>) -> Value {
    let grid = devices_grid(circuit, answer);
    let rows = grid.rows.into_iter().map(|row| {
        let mut cells = row.into_iter();
        let name = cells.next().unwrap_or_default();
        let columns = grid.columns.iter().skip(1).map(|column| column.title.clone());
        (name, Value::Object(columns.zip(cells.map(Value::from)).collect()))
    });
    Value::Object(rows.collect())
}

fn points(circuit: &Circuit, answer: &Answer<'_>) -> Value {
    let solution = answer.solution;
    let rows = shown_points(circuit, Some(solution)).into_iter().map(|point| {
        let index = point.point.index();
        let state = solution.node_states.get(index).copied().unwrap_or(NodeState::Open);
        let mut row = Map::new();
        let volts = volts_cell(state, solution.volts.get(index).copied().flatten());
        row.insert("volts".into(), json!(volts));
        row.insert("state".into(), json!(state.words()));
        row.extend(point.alias.map(|alias| ("alias".into(), json!(alias.as_str()))));
        (point.name.to_string(), Value::Object(row))
    });
    Value::Object(rows.collect())
}
