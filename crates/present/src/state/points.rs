//! Points and elements: what stands where, and what flows.

use super::cells::{amps_cell, drop_volts, reading_cell, shown_cell, window_cells};
use crate::{
    answer::Answer,
    figure,
    grid::{Column, Grid},
    shown::{PartOf, ShownPoint, element_is_shown},
};
use keyon_circuit::model::Circuit;
use keyon_solve::{
    Amps, NodeState, Window,
    probe::{Instrument, Shown, glow},
};

/// Every shown point: volts and node state. A blank row parts what belongs together.
pub(super) fn points_grid(circuit: &Circuit, answer: &Answer<'_>, shown: &[ShownPoint]) -> Grid {
    let solution = answer.solution;
    let windows = answer.windows.as_ref().map(|w| &w.points);
    let mut columns = vec![Column::key("point")];
    match windows {
        Some(_) => columns.extend(["low", "volts", "high"].map(Column::figures)),
        None => columns.push(Column::figures("volts")),
    }
    columns.push(Column::words("node state"));
    match answer.probing.as_ref().map(|p| p.instrument) {
        Some(Instrument::Lamp(_)) => columns.extend([Column::figures("lamp V"), Column::words("test lamp")]),
        Some(Instrument::Meter(_)) => columns.push(Column::figures("meter V")),
        None => {}
    }
    let with_titles = circuit.modules.iter().any(|m| m.connectors.iter().any(|c| !c.cavities.is_empty()));
    if with_titles {
        columns.push(Column::words("known as"));
    }
    let mut grid = Grid { columns, rows: vec![] };
    let mut last: Option<PartOf> = None;
    for point in shown {
        let blocks = matches!(point.part_of, PartOf::Device(_) | PartOf::Module(_) | PartOf::Inline(_));
        let was_block = matches!(last, Some(PartOf::Device(_) | PartOf::Module(_) | PartOf::Inline(_)));
        let change =
            last.is_some_and(|l| std::mem::discriminant(&l) != std::mem::discriminant(&point.part_of));
        if change && (blocks || was_block) {
            grid.rows.push(vec![String::new(); grid.columns.len()]);
        }
        last = Some(point.part_of);
        let index = point.point.index();
        let state = solution.node_states.get(index).copied().unwrap_or(NodeState::Open);
        let volts = reading_cell(solution, point.point);
        let mut row = vec![point.name.to_string()];
        match windows {
            Some(windows) => {
                let window = windows.get(&point.point).filter(|_| state != NodeState::Open);
                let [low, high] = window_cells(window, figure::volts);
                row.extend([low, volts, high]);
            }
            None => row.push(volts),
        }
        row.push(state.words().to_owned());
        if let Some(probing) = &answer.probing {
            let found = probing.shown.get(&point.point).copied();
            row.push(found.map_or_else(String::new, shown_cell));
            if matches!(probing.instrument, Instrument::Lamp(_)) {
                let words = match found {
                    Some(Shown::Volts(volts)) => glow(circuit, volts).words(),
                    Some(Shown::Floating) => "dark",
                    Some(Shown::Unsettled) => "flickers",
                    _ => "",
                };
                row.push(words.to_owned());
            }
        }
        if with_titles {
            row.push(point.alias.as_ref().map_or_else(String::new, ToString::to_string));
        }
        grid.rows.push(row);
    }
    grid
}

/// Elements that carry current in a table, the others in a line.
pub(super) fn elements_text(circuit: &Circuit, answer: &Answer<'_>) -> String {
    let solution = answer.solution;
    let windows = answer.windows.as_ref().map(|w| &w.amps);
    let mut columns = vec![Column::key("element")];
    match windows {
        Some(_) => columns.extend(["low", "amps", "high"].map(Column::figures)),
        None => columns.push(Column::figures("amps")),
    }
    columns.extend([Column::figures("drop V"), Column::words("")]);
    let mut grid = Grid { columns, rows: vec![] };
    let mut idle: Vec<String> = Vec::new();
    for (index, element) in circuit.elements.iter().enumerate() {
        if !element_is_shown(circuit, index.into()) {
            continue;
        }
        let amps = solution.amps.get(index).copied().unwrap_or(Amps::Known(0.0));
        let window: Option<&Window> = windows.and_then(|w| w.get(&index.into()));
        let flows_somewhere = window.is_some_and(|w| w.low.abs().max(w.high.abs()) >= 0.5e-6);
        if amps.known().is_some_and(|a| a.abs() < 0.5e-6) && !flows_somewhere {
            idle.push(element.name.to_string());
            continue;
        }
        let drop =
            drop_volts(solution, element.from, element.to).map_or_else(|| "-".to_owned(), figure::volts);
        let words = crate::trace::element_words(circuit, index.into());
        let drop = if element.kind.is_source() { String::new() } else { drop };
        let mut row = vec![element.name.to_string()];
        match windows {
            Some(_) => {
                let [low, high] = window_cells(window, figure::amps);
                row.extend([low, amps_cell(amps), high]);
            }
            None => row.push(amps_cell(amps)),
        }
        row.extend([drop, words]);
        grid.rows.push(row);
    }
    let mut out = String::new();
    if !grid.rows.is_empty() {
        out.push_str(&grid.text(80));
    }
    if !idle.is_empty() {
        if !out.is_empty() {
            out.push('\n');
        }
        out.push_str(&super::wrap_after("no current  ", &idle.join(", ")));
        out.push('\n');
    }
    out
}
