//! A sweep as text, Markdown and CSV.

use super::{Limits, Unit, axis_name, gap_words, limits, remarks::remarks, signal_words, watch_name};
use crate::{
    about::{self, Asked},
    figure,
    grid::{Column, Grid},
    state::{labelled, volts_cell},
};
use keyon_circuit::model::Circuit;
use keyon_solve::{
    NodeState, State,
    sweep::{Read, Sweep, Watch},
};

/// Volts at a step as people read them.
fn cell(watch: Watch, read: Read) -> String {
    match (watch, read.volts) {
        (Watch::Point(_), volts) => volts_cell(read.state, volts),
        (Watch::Input(..), Some(volts)) => figure::volts(volts),
        (Watch::Input(..), None) => gap_words(read).to_owned(),
    }
}

/// Rows of steps. `figure` makes the text of volts.
fn grid(circuit: &Circuit, sweep: &Sweep, cell: impl Fn(Watch, Read) -> String) -> Grid {
    let values = sweep.steps.iter().map(|s| s.value.abs());
    let unit = Unit::of(circuit, sweep.axis, values.fold(0.0, f64::max));
    let mut first = Column::key(format!("{} {}", axis_name(circuit, sweep.axis), unit.spelling));
    first.figures = true;
    let mut columns = vec![first];
    // A column for what the module makes of it, where it does not always find it plausible.
    let judged: Vec<Option<Limits>> = (sweep.watches.iter().enumerate())
        .map(|(at, &watch)| {
            let limits = limits(circuit, watch);
            let words = sweep.steps.iter().filter_map(|s| s.reads.get(at)).map(|r| signal_words(limits, *r));
            limits.filter(|_| words.clone().any(|w| w != "plausible"))
        })
        .collect();
    for (watch, judged) in sweep.watches.iter().zip(&judged) {
        columns.push(Column::figures(format!("{} V", watch_name(circuit, *watch))));
        if judged.is_some() {
            columns.push(Column::words("as"));
        }
    }
    let remarks = remarks(circuit, &sweep.steps);
    let remarked = remarks.iter().any(|r| !r.is_empty());
    if remarked {
        columns.push(Column::words("from here on"));
    }
    let rows = sweep.steps.iter().zip(remarks).map(|(step, remarks)| {
        let mut row = vec![unit.text(step.value)];
        for ((&watch, &read), judged) in sweep.watches.iter().zip(&step.reads).zip(&judged) {
            row.push(cell(watch, read));
            if judged.is_some() {
                row.push(signal_words(*judged, read).to_owned());
            }
        }
        if remarked {
            row.push(remarks.join(", "));
        }
        row
    });
    Grid { rows: rows.collect(), columns }
}

/// The page's head: circuit, scenario, state, what was swept.
fn head(circuit: &Circuit, base: &State, asked: &Asked, sweep: &Sweep) -> Vec<(&'static str, String)> {
    let mut lines = about::state_lines(circuit, base, asked);
    if let (Some(first), Some(last)) = (sweep.steps.first(), sweep.steps.last()) {
        let unit = Unit::of(circuit, sweep.axis, first.value.abs().max(last.value.abs()));
        let name = axis_name(circuit, sweep.axis);
        let (from, to) = (unit.text(first.value), unit.text(last.value));
        let count = sweep.steps.len().saturating_sub(1);
        let steps = if count == 1 { "1 step".to_owned() } else { format!("{count} steps") };
        lines.push(("sweep", format!("{name} {from} .. {to} {} in {steps}", unit.spelling)));
    }
    for &watch in &sweep.watches {
        match limits(circuit, watch) {
            Some(Limits::Range { stated: (low, high), .. }) => {
                let (low, high) = (figure::volts(low), figure::volts(high));
                lines.push(("range", format!("{} {low} .. {high} V", watch_name(circuit, watch))));
            }
            Some(Limits::Threshold(limit)) => {
                let words = format!("{} high from {} V", watch_name(circuit, watch), figure::volts(limit));
                lines.push(("threshold", words));
            }
            None => {}
        }
    }
    lines
}

/// The foot notes that the cells need.
fn notes(sweep: &Sweep) -> Vec<String> {
    let reads = || sweep.steps.iter().flat_map(|s| s.reads.iter().zip(&sweep.watches));
    let mut notes = Vec::new();
    if reads().any(|(r, w)| r.state == NodeState::FedViaLoad && matches!(w, Watch::Point(_))) {
        notes.push(about::STAR_NOTE.to_owned());
    }
    if reads().any(|(r, _)| r.volts.is_none() && r.state == NodeState::Open) {
        notes.push(about::FLOAT_NOTE.to_owned());
    }
    notes
}

/// The whole page as text.
pub fn sweep_text(circuit: &Circuit, sweep: &Sweep, base: &State, asked: &Asked) -> String {
    let mut out = format!("{}\n", about::title(circuit));
    if let Some(line) = asked.scenario_line(circuit) {
        out.push_str(&format!("{line}\n"));
    }
    out.push_str(&labelled(&head(circuit, base, asked, sweep)));
    out.push('\n');
    out.push_str(&grid(circuit, sweep, cell).text(80));
    out.push('\n');
    for note in notes(sweep) {
        out.push_str(&format!("{note}\n"));
    }
    out.push_str(about::FOOT);
    out.push('\n');
    out
}

/// The same as Markdown.
pub fn sweep_markdown(circuit: &Circuit, sweep: &Sweep, base: &State, asked: &Asked) -> String {
    let mut out = format!("# {}\n\n", about::title(circuit));
    if let Some(line) = asked.scenario_line(circuit) {
        out.push_str(&format!("- {line}\n"));
    }
    for (label, words) in head(circuit, base, asked, sweep) {
        out.push_str(&format!("- {label}: {words}\n"));
    }
    out.push('\n');
    out.push_str(&grid(circuit, sweep, cell).markdown());
    out.push('\n');
    for note in notes(sweep) {
        out.push_str(&format!("{}  \n", note.replace('*', "\\*")));
    }
    out.push_str(about::FOOT);
    out.push('\n');
    out
}

/// Rows for a spreadsheet: plain numbers with six significant digits, words where there is none.
pub fn sweep_csv(circuit: &Circuit, sweep: &Sweep) -> String {
    let plain = |_: Watch, read: Read| match read.volts {
        Some(volts) => figure::short(volts, 6),
        None => gap_words(read).to_owned(),
    };
    grid(circuit, sweep, plain).csv()
}
