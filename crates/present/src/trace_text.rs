//! A trace as a technician reads it.

use crate::{
    about::{self, Asked},
    figure,
    grid::{Column, Grid, wrap},
    path::{DOT, feed_words, ground_words},
    state::{alarms, amps_cell, labelled, volts_cell},
    trace::{Step, Trace, point_words},
};
use keyon_circuit::model::Circuit;
use keyon_solve::{Amps, NodeState, Solution};

/// The whole page.
pub fn trace_text(circuit: &Circuit, solution: &Solution, trace: &Trace, asked: &Asked) -> String {
    let name = circuit.points.get(trace.point.index()).map_or("", |p| p.name.as_str());
    let mut out = format!("{name}  {}\n", point_words(circuit, trace.point));
    out.push_str(&format!("in {}\n", about::title(circuit)));
    if let Some(line) = asked.scenario_line(circuit) {
        out.push_str(&line);
        out.push('\n');
    }
    out.push_str(&labelled(&about::state_lines(circuit, &solution.state, asked)));
    out.push('\n');
    out.push_str(&wrap(&reading_sentence(name, trace), 80, 0));
    out.push('\n');
    for alarm in alarms(circuit, solution) {
        out.push_str(&wrap(&format!("! {alarm}"), 80, 2));
        out.push('\n');
    }
    out.push('\n');
    out.push_str(&way_lines(circuit, solution, trace));
    let grid = drops_grid(circuit, trace);
    if !grid.rows.is_empty() {
        out.push('\n');
        out.push_str(&grid.text(80));
        out.push_str(&sum_line(trace));
    }
    out.push('\n');
    out.push_str(about::FOOT);
    out.push('\n');
    out
}

/// What the meter shows and what it means.
fn reading_sentence(name: &str, trace: &Trace) -> String {
    match (trace.state, trace.volts) {
        (NodeState::Open, _) => {
            format!("{name} floats: it reaches neither a supply nor ground, a meter shows about 0 V.")
        }
        (NodeState::Clash, _) => {
            format!("{name} is in a clash: different potentials meet there without a load between.")
        }
        (NodeState::Chatters, _) => format!("{name} changes all the time: a relay there cannot settle."),
        (state, Some(volts)) => {
            let meaning = match state {
                NodeState::Fed => "fed: continuity to a supply with no load between",
                NodeState::Grounded => "grounded: continuity to ground with no load between",
                NodeState::Referenced => "referenced: continuity to a module's reference",
                NodeState::FedViaLoad if adrift(trace) => {
                    "fed via load: against ground it floats, on a supply that is tied to nothing else; what flows past it \
                     flows in a loop of its own"
                }
                NodeState::FedViaLoad => {
                    "fed via load: it reaches only a supply, through a load; no current flows, and it cannot carry a load"
                }
                NodeState::GroundedViaLoad => "grounded via load: it reaches only ground, through a load",
                NodeState::Between => "between: loads on both sides, current flows through them",
                _ => state.words(),
            };
            format!(
                "{name} reads {} V (black lead on the common ground). It is {meaning}.",
                figure::volts(volts)
            )
        }
        (state, None) => format!("{name} is {}; its volts are not settled.", state.words()),
    }
}

/// Whether a current flows past a point that reaches no ground.
fn adrift(trace: &Trace) -> bool {
    let flows = |step: &Step| matches!(step.amps, Amps::Known(amps) if amps.abs() > 1e-6);
    trace.ground.is_none() && trace.feed.iter().flatten().any(flows)
}

/// Both ways in words, and what is missing.
fn way_lines(circuit: &Circuit, solution: &Solution, trace: &Trace) -> String {
    let mut lines = Vec::new();
    match solution.path_to_source(circuit, trace.point) {
        Some(path) => lines.push(("from the supply", feed_words(circuit, &path))),
        None => lines.push(("from the supply", "no way in this state".to_owned())),
    }
    match solution.path_to_ground(circuit, trace.point) {
        Some(path) => lines.push(("to ground", ground_words(circuit, &path))),
        None => lines.push(("to ground", "no way in this state".to_owned())),
    }
    // Both may be empty for a supply's own terminal.
    lines.retain(|(_, words)| !words.is_empty() && words != DOT);
    labelled(&lines)
}

/// Each element on the way with its drop, the point itself in between.
pub fn drops_grid(circuit: &Circuit, trace: &Trace) -> Grid {
    let mut grid = Grid {
        columns: vec![
            Column::key("on the way"),
            Column::figures("amps"),
            Column::figures("drop V"),
            Column::figures("then V"),
            Column::words("what it is"),
        ],
        rows: vec![],
    };
    let millivolts = |volts: Option<f64>| volts.map_or_else(|| "floats".to_owned(), |v| figure::fixed(v, 3));
    if let Some(source) = &trace.source {
        if let Some(base) = source.base.filter(|b| b.abs() >= 0.0005) {
            grid.rows.push(vec![
                "module's ground".to_owned(),
                String::new(),
                String::new(),
                millivolts(Some(base)),
                "stands above the common ground".to_owned(),
            ]);
        }
        grid.rows.push(vec![
            source.name.clone(),
            amps_cell(source.amps),
            source.drop.map_or_else(|| "-".to_owned(), |d| figure::fixed(d, 3)),
            millivolts(source.behind),
            crate::trace::element_words(circuit, source.element),
        ]);
    }
    let row = |step: &Step| {
        let words = step.words.clone();
        let drop = step.drop.map_or_else(|| "-".to_owned(), |d| figure::fixed(d, 3));
        vec![step.name.clone(), amps_cell(step.amps), drop, millivolts(step.behind), words]
    };
    for step in trace.feed.iter().flatten().filter(|s| !s.joint) {
        grid.rows.push(row(step));
    }
    let name = circuit.points.get(trace.point.index()).map_or("", |p| p.name.as_str());
    grid.rows.push(vec![
        format!("> {name}"),
        String::new(),
        String::new(),
        volts_cell(trace.state, trace.volts),
        "<- the point asked about".to_owned(),
    ]);
    for step in trace.ground.iter().flatten().filter(|s| !s.joint) {
        grid.rows.push(row(step));
    }
    if trace.ground.is_some() {
        let end = trace.ground.iter().flatten().last().and_then(|s| s.behind).or(Some(0.0));
        grid.rows.push(vec![
            "ground".to_owned(),
            String::new(),
            String::new(),
            millivolts(end),
            String::new(),
        ]);
    }
    grid
}

/// The check that the drops add up.
fn sum_line(trace: &Trace) -> String {
    let (Some(sum), Some(source)) = (trace.sum(), &trace.source) else { return String::new() };
    let expected = source.volts + source.base.unwrap_or(0.0);
    let check = if (sum - expected).abs() < 0.0005 { "adds up" } else { "does not add up" };
    let current = matches!(source.amps, Amps::Known(a) if a.abs() >= 0.5e-6);
    let none = if current { "" } else { "; without current a drop test says nothing" };
    format!(
        "all drops together {} V = {} {} V: {check}{none}\n",
        figure::fixed(sum, 3),
        source.name,
        figure::fixed(expected, 3)
    )
}
