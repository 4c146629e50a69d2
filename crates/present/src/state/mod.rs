//! One solved state as text: what blew, what is dead, devices, modules, points, currents.

mod alarms;
mod cells;
mod devices;
mod modules;
mod points;

pub use alarms::alarms;
pub use cells::{amps_cell, device_cell, drop_volts, taken_words, volts_cell};
pub(crate) use cells::{reading_cell, window_mark};
pub(crate) use devices::carrying_contacts;
pub use devices::{device_amps, devices_grid, has_loads};
pub(crate) use modules::signal_word;
pub use modules::{Input, inputs, inputs_grid, outputs_grid};

use crate::{
    about::{self, Asked},
    answer::Answer,
    figure,
    grid::wrap,
    shown::shown_points,
};
use keyon_circuit::{ids::*, model::Circuit};
use keyon_solve::{Bands, Method, NodeState, Solution, probe::Instrument};

/// The whole page.
pub fn state_text(circuit: &Circuit, answer: &Answer<'_>, asked: &Asked) -> String {
    let solution = answer.solution;
    let mut out = about::title(circuit);
    out.push('\n');
    if let Some(line) = asked.scenario_line(circuit) {
        out.push_str(&line);
        out.push('\n');
    }
    let mut lines = about::state_lines(circuit, &solution.state, asked);
    lines.extend(wanted_lines(circuit, answer));
    out.push_str(&labelled(&lines));
    let alarms = alarms(circuit, solution);
    if !alarms.is_empty() {
        out.push('\n');
        for alarm in alarms {
            out.push_str(&wrap(&format!("! {alarm}"), 80, 2));
            out.push('\n');
        }
    }
    for grid in [devices_grid(circuit, answer), inputs_grid(circuit, answer), outputs_grid(circuit, answer)] {
        if !grid.rows.is_empty() {
            out.push('\n');
            out.push_str(&grid.text(80));
        }
    }
    let shown = shown_points(circuit, Some(solution));
    out.push('\n');
    out.push_str(&points::points_grid(circuit, answer, &shown).text(80));
    out.push('\n');
    out.push_str(&points::elements_text(circuit, answer));
    out.push('\n');
    let mut foot = notes(solution, shown.iter().map(|p| p.point));
    foot.extend(answer_notes(answer));
    for note in foot {
        out.push_str(&note);
        out.push('\n');
    }
    out.push_str(about::FOOT);
    out.push('\n');
    out
}

/// What was asked for beside the state: windows and a probe.
fn wanted_lines(circuit: &Circuit, answer: &Answer<'_>) -> Vec<(&'static str, String)> {
    let mut lines = Vec::new();
    if let Some(windows) = &answer.windows {
        let supplies = circuit.supplies.iter().zip(&answer.solution.state.supplies);
        #[allow(clippy::float_cmp)] // set is set: a supply stands at its stated volts, or it was moved
        let ranges: Vec<String> = supplies
            .filter(|(supply, volts)| supply.volts.nominal == **volts)
            .filter_map(|(supply, _)| {
                let (low, high) = supply.range?;
                Some(format!("{} {} .. {} V", supply.name, figure::volts(low), figure::volts(high)))
            })
            .collect();
        let tolerances = "parts within their tolerances";
        let words = match windows.bands {
            Bands { ranges: true, tolerances: true } if ranges.is_empty() => tolerances.to_owned(),
            Bands { ranges: true, tolerances: true } => format!("{tolerances}, {}", ranges.join(", ")),
            Bands { ranges: true, tolerances: false } => ranges.join(", "),
            _ => tolerances.to_owned(),
        };
        let nothing = windows.all().all(|w| w.low >= w.high);
        let words = if nothing { "nothing here has a tolerance or a range".to_owned() } else { words };
        lines.push(("windows", words));
    }
    if let Some(probing) = &answer.probing {
        let lead = match probing.lead {
            keyon_circuit::model::COMMON => "ground",
            lead => circuit.points.get(lead.index()).map_or("", |p| p.name.as_str()),
        };
        let ohms = figure::ohms(probing.instrument.ohms());
        lines.push((
            "probe",
            match probing.instrument {
                Instrument::Lamp(_) => format!("test lamp of {ohms}, its clip on {lead}"),
                Instrument::Meter(_) => format!("voltmeter of {ohms}, its black lead on {lead}"),
            },
        ));
    }
    lines
}

/// Lines of label and words, the words below each other and wrapped.
pub fn labelled(lines: &[(&'static str, String)]) -> String {
    let wide = lines.iter().map(|(label, _)| label.len()).max().unwrap_or(0);
    let mut out = String::new();
    for (label, words) in lines {
        out.push_str(&wrap_after(&format!("{label:wide$}  "), words));
        out.push('\n');
    }
    out
}

/// Words behind a label, wrapped so that they stay right of it.
fn wrap_after(label: &str, words: &str) -> String {
    let indent = crate::grid::width(label);
    let body = wrap(words, 80usize.saturating_sub(indent).max(20), 0);
    let joined = body.replace('\n', &format!("\n{}", " ".repeat(indent)));
    format!("{label}{joined}")
}

/// The foot notes that the shown points need.
pub fn notes(solution: &Solution, points: impl Iterator<Item = PointId>) -> Vec<String> {
    let (mut star, mut float) = (false, false);
    for point in points {
        match solution.node_states.get(point.index()) {
            Some(NodeState::FedViaLoad) => star = true,
            Some(NodeState::Open) => float = true,
            _ => {}
        }
    }
    let mut notes = Vec::new();
    if star {
        notes.push(about::STAR_NOTE.to_owned());
    }
    if float {
        notes.push(about::FLOAT_NOTE.to_owned());
    }
    notes
}

/// The foot notes that windows, starting currents and a lamp need.
fn answer_notes(answer: &Answer<'_>) -> Vec<String> {
    let mut notes = Vec::new();
    if answer.windows.as_ref().is_some_and(|w| w.all().any(|w| w.method == Method::Sampled)) {
        notes.push("~ sampled with a fixed seed: more is not excluded; other windows are exact".to_owned());
    }
    if answer.starting.iter().any(|s| !s.elements.is_empty()) {
        notes.push("starts at: lamps and heaters cold, motors stalled, the rest running".to_owned());
    }
    if matches!(answer.probing.as_ref().map(|p| p.instrument), Some(Instrument::Lamp(_))) {
        notes.push("a feed with full volts that leaves the lamp dim or dark is a weak one".to_owned());
        notes.push("a lamp loads what it touches: on the pins of a module take the meter".to_owned());
    }
    notes
}
