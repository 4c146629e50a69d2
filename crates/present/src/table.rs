//! Truth tables as text, Markdown, CSV and HTML.

use crate::{
    about::{self, Asked},
    figure,
    grid::{Column, Grid, escape_html},
    state::{labelled, volts_cell},
};
use keyon_circuit::{ids::*, model::Circuit};
use keyon_solve::{NodeState, Overload, State, Table, TableGroup, TableRow};

/// One group as a grid: its controls, its devices, its points (state and volts in one cell).
fn grid(circuit: &Circuit, group: &TableGroup) -> Grid {
    let mut grid = Grid::default();
    for control in &group.controls {
        let name = circuit.controls.get(control.index()).map_or("", |c| c.name.as_str());
        grid.columns.push(Column::key(name));
    }
    if group.controls.is_empty() {
        grid.columns.push(Column::key("state"));
    }
    for device in &group.devices {
        let name = circuit.devices.get(device.index()).map_or("", |d| d.name.as_str());
        grid.columns.push(Column::words(name));
    }
    for point in &group.points {
        let name = circuit.points.get(point.index()).map_or("", |p| p.name.as_str());
        grid.columns.push(Column::words(name));
        grid.columns.push(Column::figures("V"));
    }
    let blows = group.rows.iter().any(|row| !row.blown.is_empty());
    if blows {
        grid.columns.push(Column::words("fuse"));
    }
    for row in &group.rows {
        let mut cells: Vec<String> = group
            .controls
            .iter()
            .zip(&row.when)
            .map(|(&control, &position)| position_word(circuit, control, position))
            .collect();
        if group.controls.is_empty() {
            cells.push("any".to_owned());
        }
        cells.extend(row.devices.iter().map(ToString::to_string));
        for &(state, volts) in &row.points {
            cells.push(state.words().to_owned());
            cells.push(volts_cell(state, volts));
        }
        if blows {
            cells.push(blown_words(circuit, row));
        }
        grid.rows.push(cells);
    }
    grid
}

/// The fuses that blow in a row: `F1 blows`.
fn blown_words(circuit: &Circuit, row: &TableRow) -> String {
    let name = |fuse: &ElementId| circuit.elements.get(fuse.index()).map_or("", |e| e.name.as_str());
    let names: Vec<&str> = row.blown.iter().map(name).collect();
    match names.as_slice() {
        [] => String::new(),
        [one] => format!("{one} blows"),
        all => format!("{} blow", all.join(", ")),
    }
}

/// What no row says: a fuse that is blown by what stands in different tables.
fn overload_note(circuit: &Circuit, overload: &Overload) -> String {
    let element = circuit.elements.get(overload.fuse.index());
    let (name, rating) = element.map_or(("", None), |e| (e.name.as_str(), e.rating));
    let rating = rating.map_or_else(String::new, |r| format!(" {} A", figure::short(r.nominal, 4)));
    let away = overload.positions.iter().enumerate().filter(|(_, p)| **p != 0);
    let words: Vec<String> = away
        .map(|(at, &p)| crate::path::control_words(circuit, ControlId::from(at), usize::from(p), 1.0))
        .collect();
    let with = if words.is_empty() { "with everything at rest".to_owned() } else { words.join(", ") };
    let most = overload
        .amps
        .map_or_else(|| "a current without a limit".to_owned(), |amps| format!("{} A", figure::amps(amps)));
    format!("! fuse {name}{rating} blows at {most} ({with}): the rows take it as whole")
}

pub(crate) fn group_grid(circuit: &Circuit, group: &TableGroup) -> Grid {
    grid(circuit, group)
}

fn position_word(circuit: &Circuit, control: ControlId, position: Option<usize>) -> String {
    let Some(position) = position else { return "-".to_owned() };
    circuit
        .controls
        .get(control.index())
        .and_then(|c| c.positions.get(position))
        .map_or_else(|| "?".to_owned(), ToString::to_string)
}

/// What stands over the tables: the stimuli, supplies and set-ups of the base, and the controls that it holds.
fn head_lines(circuit: &Circuit, table: &Table, base: &State, asked: &Asked) -> Vec<(&'static str, String)> {
    let mut lines = Vec::new();
    let words: Vec<String> = asked
        .held
        .iter()
        .map(|&control| {
            let position = base.positions.get(control.index()).map_or(0, |&p| usize::from(p));
            let duty = base.duty.get(control.index()).copied().unwrap_or(1.0);
            crate::path::control_words(circuit, control, position, duty)
        })
        .collect();
    if !words.is_empty() {
        lines.push(("held", words.join(", ")));
    }
    let with_volts = table.groups.iter().any(|g| !g.points.is_empty());
    for (label, words) in about::state_lines(circuit, base, asked) {
        let wanted = match label {
            "senses" | "supply" => with_volts,
            "set" | "at rest" => false,
            _ => true,
        };
        if wanted {
            lines.push((label, words));
        }
    }
    lines
}

/// Foot notes of the tables.
fn notes(circuit: &Circuit, table: &Table) -> Vec<String> {
    let states = || table.groups.iter().flat_map(|g| &g.rows).flat_map(|r| &r.points).map(|p| p.0);
    let mut notes: Vec<String> = table.overloads.iter().map(|o| overload_note(circuit, o)).collect();
    let joined: Vec<&TableGroup> = table.groups.iter().filter(|g| has_dash(g)).collect();
    if !joined.is_empty() {
        let fewest = joined.iter().all(|g| g.cut.is_none() && g.least == g.rows.len());
        let how = if fewest { "; no table with fewer rows says the same" } else { "" };
        notes.push(format!("- whatever this control does{how}"));
    }
    if states().any(|s| s == NodeState::FedViaLoad) {
        notes.push(about::STAR_NOTE.to_owned());
    }
    if states().any(|s| s == NodeState::Open) {
        notes.push(about::FLOAT_NOTE.to_owned());
    }
    notes
}

/// What is to be said under a group: that it is a summary, that its rows might be fewer, how far it goes.
fn group_notes(circuit: &Circuit, group: &TableGroup) -> Vec<String> {
    let mut notes = Vec::new();
    if let Some(left) = group.cut {
        notes.push(format!(
            "! summary: {left} further combinations are not shown; hold a control with --set to see them"
        ));
        for (device, counts) in group.devices.iter().zip(&group.counts) {
            let name = circuit.devices.get(device.index()).map_or("", |d| d.name.as_str());
            let words: Vec<String> =
                counts.iter().map(|(words, count)| format!("{words} in {count}")).collect();
            if !words.is_empty() {
                notes.push(format!("! {name}: {} combinations", words.join(", ")));
            }
        }
    } else if group.least < group.rows.len() && has_dash(group) {
        notes.push(match group.least {
            0 => format!("rows are joined to {}; fewer may do", group.rows.len()),
            least => format!("rows are joined to {}; at least {least} are needed", group.rows.len()),
        });
    }
    notes
}

fn has_dash(group: &TableGroup) -> bool {
    group.rows.iter().any(|row| row.when.contains(&None))
}

/// Aligned text; a table wider than `width` is broken into several, the controls repeated.
pub fn table_text(circuit: &Circuit, table: &Table, base: &State, asked: &Asked, width: usize) -> String {
    let mut out = about::title(circuit);
    out.push('\n');
    out.push_str(&labelled(&head_lines(circuit, table, base, asked)));
    for group in &table.groups {
        out.push('\n');
        out.push_str(&grid(circuit, group).text(width));
        for note in group_notes(circuit, group) {
            out.push_str(&note);
            out.push('\n');
        }
    }
    if table.groups.is_empty() {
        out.push_str("\nnothing to tabulate: the circuit has no loads\n");
    }
    out.push('\n');
    for note in notes(circuit, table) {
        out.push_str(&note);
        out.push('\n');
    }
    out.push_str(about::FOOT);
    out.push('\n');
    out
}

/// Markdown with a heading.
pub fn table_markdown(circuit: &Circuit, table: &Table, base: &State, asked: &Asked) -> String {
    let plain =
        |text: &str| text.replace('\\', "\\\\").replace('*', "\\*").replace('_', "\\_").replace('|', "\\|");
    let title = circuit.title.clone().unwrap_or_else(|| circuit.name.to_string());
    let mut out = format!("## {}\n", plain(&title));
    for (label, words) in head_lines(circuit, table, base, asked) {
        out.push_str(&format!("\n{label}: {}\n", plain(&words)));
    }
    out.push('\n');
    out.push_str(&groups_markdown(circuit, table));
    out.push_str(&format!("\n{}\n", about::FOOT));
    out
}

/// The tables and their notes as Markdown, with nothing around them.
pub fn groups_markdown(circuit: &Circuit, table: &Table) -> String {
    let mut out = String::new();
    for group in &table.groups {
        if !out.is_empty() {
            out.push('\n');
        }
        out.push_str(&grid(circuit, group).markdown());
        for note in group_notes(circuit, group) {
            out.push_str(&format!("\n{note}\n"));
        }
    }
    for note in notes(circuit, table) {
        // A line that begins with a dash or a star would become a list.
        out.push_str(&format!("\n{}\n", note.replacen("- ", "\\- ", 1).replacen("* ", "\\* ", 1)));
    }
    out
}

/// One set of comma-separated rows for all groups: `group`, then every control, device and point of the tables. A
/// control that a row does not depend on has `-`, a device of another group is left blank. Volts are rounded to a
/// microvolt.
pub fn table_csv(circuit: &Circuit, table: &Table) -> String {
    let mut controls: Vec<ControlId> = table.groups.iter().flat_map(|g| g.controls.iter().copied()).collect();
    controls.sort();
    controls.dedup();
    let devices: Vec<DeviceId> = table.groups.iter().flat_map(|g| g.devices.iter().copied()).collect();
    let points: Vec<PointId> = table.groups.iter().flat_map(|g| g.points.iter().copied()).collect();
    let mut grid = Grid { columns: vec![Column::key("group")], rows: vec![] };
    for control in &controls {
        grid.columns.push(Column::key(circuit.controls.get(control.index()).map_or("", |c| c.name.as_str())));
    }
    for device in &devices {
        grid.columns.push(Column::words(circuit.devices.get(device.index()).map_or("", |d| d.name.as_str())));
    }
    for point in &points {
        let name = circuit.points.get(point.index()).map_or("", |p| p.name.as_str());
        grid.columns.push(Column::words(format!("{name} state")));
        grid.columns.push(Column::words(format!("{name} volts")));
    }
    let blows = table.groups.iter().flat_map(|g| &g.rows).any(|row| !row.blown.is_empty());
    if blows {
        grid.columns.push(Column::words("fuse"));
    }
    for (number, group) in table.groups.iter().enumerate() {
        for row in &group.rows {
            let mut cells = vec![(number + 1).to_string()];
            for control in &controls {
                let place = group.controls.iter().position(|c| c == control);
                let position = place.and_then(|i| row.when.get(i).copied().flatten());
                cells.push(position_word(circuit, *control, position));
            }
            for device in &devices {
                let place = group.devices.iter().position(|d| d == device);
                cells.push(
                    place.and_then(|i| row.devices.get(i)).map_or_else(String::new, ToString::to_string),
                );
            }
            for point in &points {
                let place = group.points.iter().position(|p| p == point);
                match place.and_then(|i| row.points.get(i)) {
                    Some((state, volts)) => {
                        cells.push(state.words().to_owned());
                        cells.push(volts.map_or_else(String::new, plain_number));
                    }
                    None => cells.extend([String::new(), String::new()]),
                }
            }
            if blows {
                cells.push(blown_words(circuit, row));
            }
            grid.rows.push(cells);
        }
    }
    grid.csv()
}

fn plain_number(value: f64) -> String {
    let text = figure::fixed(value, 6);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// The groups alone, for a page of one's own.
pub fn groups_html(circuit: &Circuit, table: &Table) -> String {
    let mut out = String::new();
    for group in &table.groups {
        out.push_str(&grid(circuit, group).html());
        for note in group_notes(circuit, group) {
            out.push_str(&format!("<p>{}</p>\n", escape_html(&note)));
        }
    }
    out
}

/// A page of its own: no scripts, nothing fetched, prints on white.
pub fn table_html(circuit: &Circuit, table: &Table, base: &State, asked: &Asked) -> String {
    let title = circuit.title.clone().unwrap_or_else(|| circuit.name.to_string());
    let mut out = String::new();
    for (label, words) in head_lines(circuit, table, base, asked) {
        out.push_str(&format!("<p>{}: {}</p>\n", escape_html(label), escape_html(&words)));
    }
    out.push_str(&groups_html(circuit, table));
    out.push_str("<footer>\n");
    for note in notes(circuit, table) {
        out.push_str(&format!("<p>{}</p>\n", escape_html(&note)));
    }
    out.push_str(&format!("<p>{}</p>\n</footer>\n", escape_html(about::FOOT)));
    crate::html_page::page(&title, "", &out)
}
