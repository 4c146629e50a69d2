//! What modules read, and what they see of their outputs.

use super::cells::{taken_words, window_cells};
use crate::{
    answer::Answer,
    figure,
    grid::{Column, Grid},
};
use keyon_circuit::{ids::*, model::Circuit};
use keyon_solve::{NodeState, Solution, view::Signal};

/// What the modules' inputs read, against the module's own ground, and what they are taken for. Dead modules read
/// nothing.
pub fn inputs_grid(circuit: &Circuit, answer: &Answer<'_>) -> Grid {
    let windows = answer.windows.as_ref().map(|w| &w.inputs);
    let mut columns = vec![Column::key("input")];
    match windows {
        Some(_) => columns.extend(["low", "reads V", "high"].map(Column::figures)),
        None => columns.push(Column::figures("reads V")),
    }
    columns.extend(["as", "taken for"].map(Column::words));
    let mut grid = Grid { columns, rows: vec![] };
    for view in &answer.views {
        for input in &view.inputs {
            let volts = input.volts.map_or_else(|| "-".to_owned(), figure::volts);
            let reads = match (input.high, input.signal) {
                (Some(true), _) => "high",
                (Some(false), _) => "low",
                (None, signal) => signal.words(),
            };
            let mut row = vec![pin_name(circuit, view.module, input.at)];
            match windows {
                Some(windows) => {
                    let window = windows.get(&(view.module, input.at.0, input.at.1));
                    let [low, high] = window_cells(window, figure::volts);
                    row.extend([low, volts, high]);
                }
                None => row.push(volts),
            }
            row.push(reads.to_owned());
            row.push(input.taken_for.as_ref().map_or_else(String::new, |t| taken_words(circuit, t)));
            grid.rows.push(row);
        }
    }
    grid
}

/// What the modules see of their stages and references.
pub fn outputs_grid(circuit: &Circuit, answer: &Answer<'_>) -> Grid {
    let mut grid = Grid {
        columns: vec![
            Column::key("output"),
            Column::words("set"),
            Column::figures("pin V"),
            Column::words("the module sees"),
        ],
        rows: vec![],
    };
    for view in &answer.views {
        for output in &view.outputs {
            let (c, k) = output.at;
            let control = circuit.cavity(view.module, c, k).and_then(|cavity| cavity.control);
            let control = control.and_then(|control| circuit.controls.get(control.index()));
            let set = output.position.and_then(|p| control?.positions.get(p)).map_or("", |p| p.as_str());
            grid.rows.push(vec![
                pin_name(circuit, view.module, output.at),
                set.to_owned(),
                output.volts.map_or_else(|| "-".to_owned(), figure::volts),
                output.seen.words().to_owned(),
            ]);
        }
    }
    grid
}

/// `SCU.temp_in`.
pub(crate) fn pin_name(circuit: &Circuit, module: ModuleId, (c, k): (usize, usize)) -> String {
    let name = circuit.modules.get(module.index()).map_or("", |m| m.name.as_str());
    let pin = circuit.cavity(module, c, k).map_or("", |cavity| cavity.name.as_str());
    format!("{name}.{pin}")
}

/// `plausible`, `signal low` … as one word for programs.
pub(crate) fn signal_word(signal: Signal) -> &'static str {
    match signal {
        Signal::Plausible => "plausible",
        Signal::Low => "low",
        Signal::High => "high",
        Signal::Floating => "floating",
        Signal::Unsettled => "unsettled",
    }
}

/// What one input of a module reads.
#[derive(Clone, Debug, PartialEq)]
pub struct Input {
    /// `SCU.temp_in`.
    pub name: String,
    /// Module, connector, cavity.
    pub at: (ModuleId, usize, usize),
    /// The wire side's state.
    pub state: NodeState,
    /// Against the module's own ground, without a meter; `None` where it floats or clashes.
    pub volts: Option<f64>,
    /// Of a digital input with a threshold.
    pub high: Option<bool>,
    /// Of an analog input with a range.
    pub outside_range: bool,
}

/// The inputs of all modules, dead or alive, in source order.
pub fn inputs(circuit: &Circuit, solution: &Solution) -> Vec<Input> {
    let mut inputs = Vec::new();
    for (m, module) in circuit.modules.iter().enumerate() {
        for (c, connector) in module.connectors.iter().enumerate() {
            for (k, cavity) in connector.cavities.iter().enumerate() {
                if !matches!(cavity.role, keyon_circuit::model::Role::Senses { .. }) {
                    continue;
                }
                let volts = solution.input_volts(circuit, m.into(), c, k);
                let high = cavity.threshold.and_then(|threshold| volts.map(|v| v >= threshold));
                let outside_range =
                    matches!((cavity.range, volts), (Some((low, top)), Some(v)) if v < low || v > top);
                let state =
                    solution.node_states.get(cavity.outside.index()).copied().unwrap_or(NodeState::Open);
                let name = format!("{}.{}", module.name, cavity.name);
                inputs.push(Input { name, at: (m.into(), c, k), state, volts, high, outside_range });
            }
        }
    }
    inputs
}
